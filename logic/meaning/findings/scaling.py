"""A scaling in the logic against mounting, sensor and channel, at 0, 25, 50, 75 and 100 %.

The five points are those of a loop check (IEC 62382, from memory).
"""

from __future__ import annotations

from collections.abc import Callable

from rungproof.grammar.diagnosis import Reporter
from rungproof.logic.meaning.findings.believes import Belief, Sensor, beliefs, believed, reading, sensors_of
from rungproof.logic.meaning.program import Program
from rungproof.logic.meaning.units import Unit, known_unit, ratio_between

_POINTS = (0.0, 0.25, 0.5, 0.75, 1.0)
_LENGTH, _VOLUME = known_unit("cm"), known_unit("L")

#: Constants in a rung are rounded by hand: so much of the span is no disagreement. Declared, no source.
_SLACK = 0.005


def find_in_scaling(program: Program, reporter: Reporter) -> None:
    """Compare what the program works out with what is there."""
    for sensor in sensors_of(program):
        if sensor.channel.low > sensor.low or sensor.channel.high < sensor.high:
            continue  # the channel cuts the signal off, which is said elsewhere
        wrong: set[str] = set()
        for belief in beliefs(program, sensor.wire.tag):
            if belief.through & wrong or _disagrees(program, sensor, belief, reporter):
                wrong.add(belief.tag.name)


def _disagrees(program: Program, sensor: Sensor, belief: Belief, reporter: Reporter) -> bool:
    """Report the point at which a length or volume is farthest from every truth it could mean."""
    truths = _truths(sensor, belief.tag.unit)
    if belief.tag.unit is not None and _is_length(belief.tag.unit) and not belief.direct:
        # A length worked out from another may be anything, unless it says that it is the level.
        truths = [each for each in truths if each[0].startswith("the level")] if _says_level(belief) else []
    if not truths:
        return False
    rows = [_row(program, sensor, belief, share) for share in _POINTS]
    misses = [_worst(sensor, belief, rows, words, truth) for words, truth in truths]
    known = [miss for miss in misses if miss is not None]
    if len(known) < len(misses) or not known:
        return False
    _, words, share, shown, true = min(known[:2])  # a distance or a level, rather than what is left free
    unit = belief.tag.unit.symbol if belief.tag.unit else ""
    reporter.report(
        "scaling-disagrees",
        belief.span,
        tag=belief.tag.name,
        shown=f"{shown:.4g} {unit}",
        true=f"{true:.4g} {unit}",
        words=words,
        share=f"{share * 100:.0f} %",
        part=sensor.part.name,
        related=((sensor.wire.span, "the channel"),),
    )
    return True


def _says_level(belief: Belief) -> bool:
    return "level" in belief.tag.name.lower()


def _is_length(unit: Unit) -> bool:
    return unit.dimension == _LENGTH.dimension


def _truths(sensor: Sensor, unit: Unit | None) -> list[tuple[str, Callable[[float], float | None]]]:
    """What a tag in this unit can mean, as functions of the level (cm), in the tag's unit."""
    if unit is None:
        return []
    if unit.dimension == _VOLUME.dimension:
        litres = float(ratio_between(_VOLUME, unit))
        name = f"the volume of {sensor.vessel.name}"

        def volume(level: float) -> float | None:
            held = sensor.volume_at(level)
            return None if held is None else held * litres

        return [(name, volume)]
    if not _is_length(unit):
        return []
    cm = float(ratio_between(_LENGTH, unit))
    truths: list[tuple[str, Callable[[float], float | None]]] = [
        (f"the distance from {sensor.part.name}", lambda level: (sensor.mounting - level) * cm),
        (f"the level of {sensor.vessel.name}", lambda level: level * cm),
    ]
    height = sensor.vessel.given.get("height")
    if isinstance(height, float | int):
        truths.append((f"the height left free in {sensor.vessel.name}", lambda level: (float(height) - level) * cm))
    return truths


def _row(program: Program, sensor: Sensor, belief: Belief, share: float) -> tuple[float, float, float]:
    """Share, what the program works out, and how much one count more or less changes it."""
    held = reading(sensor.channel, sensor.signal_at(sensor.level_at(share)))
    value = believed(program, sensor.wire.tag, held).get(belief.tag.name, float("nan"))
    if sensor.channel.counts_low is None:
        return share, value, 0.0
    beside = [believed(program, sensor.wire.tag, held + d).get(belief.tag.name, value) for d in (-1, 1)]
    return share, value, max(abs(value - each) for each in beside)


def _worst(
    sensor: Sensor,
    belief: Belief,
    rows: list[tuple[float, float, float]],
    words: str,
    truth: Callable[[float], float | None],
) -> tuple[float, str, float, float, float] | None:
    """The farthest miss from one truth, None if every point agrees with it."""
    points = [(share, value, step, truth(sensor.level_at(share))) for share, value, step in rows]
    there = [(share, value, step, true) for share, value, step, true in points if true is not None]
    if not there:
        return None
    span = max(true for *_, true in there) - min(true for *_, true in there)
    misses = [
        (abs(value - true), words, share, value, true)
        for share, value, step, true in there
        if not abs(value - true) <= step + _SLACK * span
    ]
    return max(misses, default=None)
