"""Who drives a tag: two coils, several `:=`, latches that are never set or never reset."""

from __future__ import annotations

from itertools import pairwise

from rungproof.grammar.diagnosis import Reporter
from rungproof.logic.meaning.findings.formula import All, Formula, can_hold
from rungproof.logic.meaning.findings.paths import Paths, names_within, parts_within
from rungproof.logic.meaning.program import Condition, Output, Tag
from rungproof.logic.meaning.typed import EdgeOf, Inverse, TagValue

_COILS = ("coil", "negated")
_LATCHES = ("set", "reset")

#: Up to so many `:=` on one tag every pair is looked at; beyond, neighbours only.
_ALL_PAIRS = 12


def find_in_coils(paths: Paths, reporter: Reporter) -> None:
    """Report on every tag that rungs drive."""
    for name, driven in paths.outputs.items():
        tag = paths.controller.tags[name]
        if tag.type != "bool":
            _find_overlap(name, paths, reporter)
        else:
            _find_two_coils(name, [output for _, _, output in driven], reporter)
            _find_half_latch(tag, paths, reporter)
            _find_beaten_cause(tag, paths, reporter)


def _find_two_coils(name: str, outputs: list[Output], reporter: Reporter) -> None:
    coils = [output for output in outputs if output.kind in _COILS]
    latches = [output for output in outputs if output.kind in _LATCHES]
    for other in coils[1:]:
        reporter.report("two-coils", other.span, name=name, related=((coils[0].span, "the first coil"),))
    if coils and latches:
        first, second = sorted((coils[0], latches[0]), key=lambda output: output.span)
        reporter.report("coil-and-latch", second.span, name=name, related=((first.span, f"`{first.kind}` here"),))


# ------------------------------------------------------------------ several :=


def _find_overlap(name: str, paths: Paths, reporter: Reporter) -> None:
    driven = paths.outputs[name]
    formulas = [paths.driven(number, index) for number, index, _ in driven]
    numbers = range(len(driven))
    if len(driven) <= _ALL_PAIRS:
        pairs = [(first, second) for second in numbers for first in range(second)]
    else:
        pairs = list(pairwise(numbers))
    told: set[int] = set()
    for first, second in pairs:
        if second not in told and _can_both(formulas[first], formulas[second]):
            told.add(second)
            place = driven[first][2].span
            reporter.report(
                "assigned-twice", driven[second][2].span, name=name, related=((place, "also assigned here"),)
            )


def _can_both(left: Formula, right: Formula) -> bool:
    """Whether both can be powered in one scan; what cannot be decided counts as yes."""
    return can_hold(All((left, right))) is not False


# ---------------------------------------------------------------- set and reset


def _find_half_latch(tag: Tag, paths: Paths, reporter: Reporter) -> None:
    driven = paths.outputs[tag.name]
    sets = [entry for entry in driven if entry[2].kind == "set"]
    resets = [entry for entry in driven if entry[2].kind == "reset"]
    if len(sets) + len(resets) < len(driven):
        return
    if not sets and not tag.start:
        reporter.report("reset-without-set", resets[0][2].span, name=tag.name)
    if sets and not any(can_hold(paths.driven(number, index)) is not False for number, index, _ in resets):
        code = "trip-without-reset" if tag.retained else "set-without-reset"
        reporter.report(code, sets[0][2].span, name=tag.name)


def _find_beaten_cause(tag: Tag, paths: Paths, reporter: Reporter) -> None:
    """A retained trip whose reset stands below the set and is powered while the cause is live."""
    driven = paths.outputs[tag.name]
    for number, index, output in driven if tag.retained else ():
        if output.kind != "set" or not _is_cause(paths, number):
            continue
        cause = paths.power(number)
        for later, at, reset in driven:
            if reset.kind == "reset" and (later, at) > (number, index) and _can_both(cause, paths.driven(later, at)):
                place = ((output.span, "set here, while its cause is live"),)
                reporter.report("reset-beats-live-cause", reset.span, name=tag.name, related=place)
                return


def _is_cause(paths: Paths, number: int) -> bool:
    """Whether a path is a trip's cause: inputs alone, one of them gone off, and no edge.

    A cause that also reads an output or a memory tag may end by itself once the trip
    stands: "asked for, and no airflow" is over when nothing asks any more.
    """
    tags = paths.controller.tags
    conditions = [e.expression for e in paths.controller.rungs[number].elements if isinstance(e, Condition)]
    if any(name in tags and tags[name].role != "input" for name in names_within(tuple(conditions))):
        return False
    if any(isinstance(part, EdgeOf) for part in parts_within(tuple(conditions))):
        return False
    return any(isinstance(c, Inverse) and isinstance(c.operand, TagValue) for c in conditions)
