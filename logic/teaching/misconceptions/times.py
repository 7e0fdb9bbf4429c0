"""Changes at stages and memory: kinds of delay, presets, counts, what a power cut leaves."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

from rungproof.grammar import tree
from rungproof.logic.teaching.misconceptions.case import Case, Mend
from rungproof.logic.teaching.misconceptions.contacts import of_rung
from rungproof.logic.teaching.misconceptions.spots import with_element

_MS = {"ms": 1, "s": 1000, "min": 60_000, "h": 3_600_000}


def _stages(case: Case) -> Iterator[tuple[tree.Rung, int, tree.Stage]]:
    for rung in case.answer.rungs:
        for place, element in enumerate(rung.elements):
            if isinstance(element, tree.Stage):
                yield rung, place, element


def _kind(case: Case, old: str, *new: tree.StageKind) -> Iterator[Mend]:
    for rung, place, stage in _stages(case):
        if stage.kind == old:
            for kind in new:
                other = with_element(rung, place, replace(stage, kind=kind, by=None))
                yield of_rung(case, rung, other, stage.name, stage.span)


def on_delay_for_off_delay(case: Case) -> Iterator[Mend]:
    """It waits before it comes on, where it should run on after its cause has gone."""
    yield from _kind(case, "on-delay", "off-delay")


def off_delay_for_on_delay(case: Case) -> Iterator[Mend]:
    """It comes on at once, where it should wait."""
    yield from _kind(case, "off-delay", "on-delay")


def delay_for_pulse(case: Case) -> Iterator[Mend]:
    """It lasts as long as its cause, where a time of its own is asked for."""
    yield from _kind(case, "on-delay", "pulse")
    yield from _kind(case, "off-delay", "pulse")


def pulse_for_delay(case: Case) -> Iterator[Mend]:
    """It ends after its time though its cause is still there."""
    yield from _kind(case, "pulse", "off-delay", "on-delay")


def gaps_lose_the_time(case: Case) -> Iterator[Mend]:
    """The time starts anew at every gap, where it should be added up."""
    for rung, place, stage in _stages(case):
        if stage.kind == "on-delay":
            for by in case.inputs:
                summed = replace(stage, kind="accumulating on-delay", by=tree.Name(stage.span, by))
                yield of_rung(case, rung, with_element(rung, place, summed), stage.name, stage.span)


def unit_slip(case: Case) -> Iterator[Mend]:
    """Seconds for milliseconds, minutes for seconds: with the other unit it is the time that is asked for."""
    wanted = [_ms(number) for number in case.numbers() if number.unit in _MS]
    for rung, place, stage in _stages(case):
        if isinstance(stage.preset, tree.Number) and stage.preset.unit in _MS:
            for unit in _MS:
                ms = _ms(replace(stage.preset, unit=unit))
                if unit != stage.preset.unit and any(abs(each - ms) <= 100 for each in wanted):
                    other = replace(stage, preset=replace(stage.preset, unit=unit))
                    yield of_rung(case, rung, with_element(rung, place, other), stage.name, stage.span)


def preset_wrong(case: Case) -> Iterator[Mend]:
    """A time that is not the one the task asks for."""
    wanted = [_ms(number) for number in case.numbers() if number.unit in _MS]
    for rung, place, stage in _stages(case):
        if not isinstance(stage.preset, tree.Number) or stage.preset.unit not in _MS:
            continue
        now = _ms(stage.preset)
        tries = [*(w - s for w in wanted for s in (0, 10, 20, 40)), *wanted, now // 2, now * 2]
        for value in dict.fromkeys(each for each in tries if each >= 1 and each != now):
            other = replace(stage, preset=tree.Number(stage.span, str(value), "ms"))
            yield of_rung(case, rung, with_element(rung, place, other), stage.name, stage.span)


def _ms(number: tree.Number) -> int:
    return int(Fraction(number.text) * _MS[number.unit or "ms"])


def count_wrong(case: Case) -> Iterator[Mend]:
    """A count that is one too many or too few, or another one than the task says."""
    for rung, place, stage in _stages(case):
        if stage.kind in ("count-up", "count-down") and isinstance(stage.preset, tree.Number):
            now = int(stage.preset.text)
            wanted = [int(n.text) for n in case.numbers() if n.unit is None and n.text.isdigit()]
            for value in dict.fromkeys([now + 1, now - 1, *wanted]):
                if value >= 1 and value != now:
                    other = replace(stage, preset=replace(stage.preset, text=str(value)))
                    yield of_rung(case, rung, with_element(rung, place, other), stage.name, stage.span)


def wrong_clear(case: Case) -> Iterator[Mend]:
    """A count or a sum of time that something else clears than the task says."""
    for rung, place, stage in _stages(case):
        if stage.by is not None:
            for by in (*case.inputs, *case.written):
                if by != stage.by.text:
                    other = replace(stage, by=replace(stage.by, text=by))
                    yield of_rung(case, rung, with_element(rung, place, other), stage.name, stage.span)


def forgets_in_power_cut(case: Case) -> Iterator[Mend]:
    """What should outlive a power cut does not."""
    for rung, place, stage in _stages(case):
        if not stage.retained and stage.kind != "rising":
            kept = with_element(rung, place, replace(stage, retained=True))
            yield of_rung(case, rung, kept, stage.name, stage.span)
    yield from _retained(case, True)


def survives_power_cut(case: Case) -> Iterator[Mend]:
    """What a power cut should end goes on when power comes back."""
    yield from _retained(case, False)
    for rung, place, stage in _stages(case):
        if stage.retained:
            lost = with_element(rung, place, replace(stage, retained=False))
            yield of_rung(case, rung, lost, stage.name, stage.span)


def _retained(case: Case, kept: bool) -> Iterator[Mend]:
    for place, line in enumerate(case.answer.tags):
        if line.role == "memory" and line.retained != kept:
            tags = (*case.answer.tags[:place], replace(line, retained=kept), *case.answer.tags[place + 1 :])
            yield Mend(replace(case.answer, tags=tags), line.span, tag=line.name)


def delay_missing(case: Case) -> Iterator[Mend]:
    """It acts at once, where the task gives it a time."""
    wanted = list(dict.fromkeys(_ms(number) for number in case.numbers() if number.unit in _MS))
    for rung in case.answer.rungs:
        if any(isinstance(each, tree.Stage) for each in rung.elements):
            continue
        for value in dict.fromkeys(w - s for w in wanted for s in (0, 10, 20) if w > s):
            stage = tree.Stage(rung.span, "on-delay", "waited", tree.Number(rung.span, str(value), "ms"))
            yield of_rung(case, rung, replace(rung, elements=(*rung.elements, stage)))


def run_on_missing(case: Case) -> Iterator[Mend]:
    """It goes off with its cause, where the task lets it run on for a time."""
    wanted = [_ms(number) for number in case.numbers() if number.unit in _MS]
    wanted = wanted or [100]  # no time is given: any shows whether it would help
    for rung in case.answer.rungs:
        if any(isinstance(each, tree.Stage) for each in rung.elements):
            continue
        for value in dict.fromkeys(w + s for w in wanted for s in (0, 10, 20)):
            stage = tree.Stage(rung.span, "off-delay", "ran_on", tree.Number(rung.span, str(value), "ms"))
            yield of_rung(case, rung, replace(rung, elements=(*rung.elements, stage)))
