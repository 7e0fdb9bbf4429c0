"""Mistakes in what a rung drives, and in the numbers of a rung."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Literal

from rungproof.grammar import tree
from rungproof.grammar.tree import Expression, Rung
from rungproof.grammar.unparse import to_text
from rungproof.logic.checks.words import time_parts
from rungproof.logic.mutants.changes_paths import Surroundings, contact_sites, value_sites
from rungproof.logic.mutants.contacts import Rewrite, number_rewrites, with_one, without
from rungproof.logic.mutants.mutant import Change, Kind

_TIMERS = ("on-delay", "off-delay", "pulse", "accumulating on-delay")
_MS = {"ms": 1, "s": 1000, "min": 60_000, "h": 3_600_000, "d": 86_400_000}
_Operator = Literal["<", "<=", ">", ">=", "=", "<>"]
_TURNED: dict[_Operator, tuple[_Operator, _Operator | None]] = {
    "<": (">", "<="),
    "<=": (">=", "<"),
    ">": ("<", ">="),
    ">=": ("<=", ">"),
    "=": ("<>", None),
    "<>": ("=", None),
}


def outputs(rung: Rung, around: Surroundings) -> Iterator[Change]:
    """Coil for set, set for coil, reset dropped, an output lost, `when` lost, a negated coil drawn plain."""
    for place, output in enumerate(rung.outputs):
        alone = len(rung.outputs) == 1
        left = None if alone and not around.wired else replace(rung, outputs=without(rung.outputs, place))
        if output.kind == "reset":
            yield Change("reset dropped", output.span, f"`{to_text(output)}`", left)
        elif not (alone and around.wired):
            yield Change("output lost", output.span, f"`{to_text(output)}`", left)
        if around.wired:
            continue
        if output.kind == "set":
            yield _other_kind(rung, place, "coil for set", replace(output, kind="coil"))
        if output.kind == "coil":
            yield _other_kind(rung, place, "set for coil", replace(output, kind="set"))
        if output.kind == "negated":
            yield _other_kind(rung, place, "make for break", replace(output, kind="coil"))
        if output.when is not None:
            yield _other_kind(rung, place, "when lost", replace(output, when=None))


def _other_kind(rung: Rung, place: int, kind: Kind, output: tree.Output) -> Change:
    before = rung.outputs[place]
    after = replace(rung, outputs=with_one(rung.outputs, place, output))
    return Change(kind, before.span, f"`{to_text(output)}` for `{to_text(before)}`", after)


def presets(rung: Rung, around: Surroundings) -> Iterator[Change]:
    """A time one scan longer and shorter (a count: by one), ten times as long and a tenth."""
    for place, element in enumerate(rung.elements):
        if not isinstance(element, tree.Stage) or not isinstance(element.preset, tree.Number):
            continue
        for kind, number in _other_presets(element, element.preset, around.scan):
            after = replace(rung, elements=with_one(rung.elements, place, replace(element, preset=number)))
            words = f"`{to_text(number)}` for `{to_text(element.preset)}`"
            yield Change(kind, element.preset.span, words, after)


def _other_presets(stage: tree.Stage, preset: tree.Number, scan: int) -> Iterator[tuple[Kind, tree.Number]]:
    timer = stage.kind in _TIMERS
    unit = _MS.get(preset.unit or "") if timer else 1
    if unit is None or (not timer and preset.unit is not None):
        return
    try:
        value = round(float(preset.text) * unit)
    except ValueError:
        return
    step = scan if timer else 1
    wanted: list[tuple[Kind, int]] = [
        ("preset by a scan", value + step),
        ("preset by a scan", value - step),
        ("preset by ten", value * 10),
        ("preset by ten", value // 10),
    ]
    for kind, other in wanted:
        if other >= 1 and other != value:
            text, symbol = time_parts(other) if timer else (str(other), None)
            yield kind, tree.Number(preset.span, text, symbol)


def numbers(rung: Rung, around: Surroundings) -> Iterator[Change]:
    """Ends of a scaling swapped, the direction of a control turned, comparisons turned or off by one."""
    for expression, put in (*contact_sites(rung), *value_sites(rung)):
        for rewrite in number_rewrites(expression, _ends_swapped):
            yield _told("scaling end swapped", rewrite, put(rewrite.whole))
        for rewrite in number_rewrites(expression, _direction_turned):
            yield _told("direction turned", rewrite, put(rewrite.whole))
        for rewrite in number_rewrites(expression, _turned):
            yield _told("comparison turned", rewrite, put(rewrite.whole))
        for rewrite in number_rewrites(expression, _off_by_one):
            yield _told("comparison off by one", rewrite, put(rewrite.whole))


def _told(kind: Kind, rewrite: Rewrite, after: Rung) -> Change:
    return Change(kind, rewrite.old.span, f"`{to_text(rewrite.new)}` for `{to_text(rewrite.old)}`", after)


def _ends_swapped(node: Expression) -> Iterator[Expression]:
    if isinstance(node, tree.Call) and node.function == "scale":
        for place, argument in enumerate(node.arguments):
            if isinstance(argument.value, tree.Interval):
                turned = replace(argument.value, low=_with_unit(argument.value), high=argument.value.low)
                yield replace(node, arguments=with_one(node.arguments, place, replace(argument, value=turned)))


def _with_unit(interval: tree.Interval) -> Expression:
    """The high end. It keeps its unit; a bare low end takes the other's unit, so nothing is lost."""
    return interval.high


def _direction_turned(node: Expression) -> Iterator[Expression]:
    if isinstance(node, tree.Call):
        for place, argument in enumerate(node.arguments):
            if argument.keyword == "direction" and isinstance(argument.value, tree.Name):
                text = "direct" if argument.value.text == "reverse" else "reverse"
                value = replace(argument.value, text=text)
                yield replace(node, arguments=with_one(node.arguments, place, replace(argument, value=value)))


def _turned(node: Expression) -> Iterator[Expression]:
    if isinstance(node, tree.Compare):
        yield replace(node, operator=_TURNED[node.operator][0])


def _off_by_one(node: Expression) -> Iterator[Expression]:
    """`<` for `<=` and the like; whole numbers compared with = are off by one themselves."""
    if not isinstance(node, tree.Compare):
        return
    other = _TURNED[node.operator][1]
    if other:
        yield replace(node, operator=other)
    elif isinstance(node.right, tree.Number) and node.right.text.isdecimal():
        for number in (int(node.right.text) + 1, int(node.right.text) - 1):
            if number >= 0:
                yield replace(node, right=replace(node.right, text=str(number)))


def retained(lines: tree.Tags) -> Iterator[Change]:
    """A tag that is no longer kept through a power failure."""
    for place, line in enumerate(lines.lines):
        if line.retained:
            after = replace(lines, lines=with_one(lines.lines, place, replace(line, retained=False)))
            yield Change("retained lost", line.span, f"`{line.name}`", after)


def stage_retained(rung: Rung, around: Surroundings) -> Iterator[Change]:
    for place, element in enumerate(rung.elements):
        if isinstance(element, tree.Stage) and element.retained:
            after = replace(rung, elements=with_one(rung.elements, place, replace(element, retained=False)))
            yield Change("retained lost", element.span, f"`{element.name}`", after)
