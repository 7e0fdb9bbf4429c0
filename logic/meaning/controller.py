"""The controller: from the blocks of all files to typed tags, stages and rungs.

    reading = type_controller(blocks, reporter)
    reading.controller      None if there is none, or if a mistake of grade error was found
    reading.entries         what its names stand for, for the scopes of requirements and circuits

Requirements, assumptions and scenarios read tags through `reading.entries`, which a caller
joins with the parts' names into a `Scope` of its own; a name that is declared but wrong is
there with None, so that its uses stay silent. `reading.tags` has the tags that are right.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from rungproof.grammar import tree
from rungproof.grammar.diagnosis import Reporter
from rungproof.grammar.tree import Span
from rungproof.logic.meaning.controller_names import Names
from rungproof.logic.meaning.controller_rungs import RungTyper, named_calls
from rungproof.logic.meaning.controller_tags import type_tag
from rungproof.logic.meaning.expressions_numbers import is_literal, read_literal
from rungproof.logic.meaning.program import Controller, Rung, Tag
from rungproof.logic.meaning.scope import Context, Scope, Slots
from rungproof.logic.meaning.typed import Expression, PowerUp, Scanning, TagValue
from rungproof.logic.meaning.units import known_unit, same_dimension

_MILLISECOND = known_unit("ms")
_LONGEST_SCAN = 3_600_000

#: A scan that is stated wrongly is read as this one, so that the rest can be looked at.
_STAND_IN_SCAN = (1, 1)


@dataclass(frozen=True, slots=True)
class ControllerReading:
    """What was found out about the controller, be it whole or not.

    `entries`: every tag, stage, reading (`float_hold.elapsed`), `power_up` and `scanning`, each with
    its typed leaf, None where its own line is wrong. `tags`: those that are right.
    """

    controller: Controller | None
    entries: Mapping[str, Expression | None] = field(default_factory=dict)
    tags: Mapping[str, Tag] = field(default_factory=dict)

    @property
    def parameters(self) -> frozenset[str]:
        """The tags that a time or a count may name."""
        return frozenset(tag.name for tag in self.tags.values() if tag.role == "parameter")


def type_controller(
    blocks: Sequence[tree.Block], reporter: Reporter, elsewhere: Mapping[str, str] | None = None
) -> ControllerReading:
    """Read the `controller` line, all `tags` blocks and all rungs that stand outside circuits.

    `elsewhere` maps names that a program cannot read (the plant's) to the reason.
    """
    heads = [block for block in blocks if isinstance(block, tree.Controller)]
    lines = [line for block in blocks if isinstance(block, tree.Tags) for line in block.lines]
    rungs = tuple(block for block in blocks if isinstance(block, tree.Rung))
    if not heads and not lines and not rungs:
        return ControllerReading(None)
    errors_before = _errors(reporter)
    head, scan = _head(heads, (*lines, *rungs), reporter)
    names = Names()
    tags = _tags(lines, names, reporter)
    entries: dict[str, Expression | None] = {name: _leaf(tag) if tag else None for name, tag in tags.items()}
    right = {name: tag for name, tag in tags.items() if tag is not None}
    parameters = frozenset(tag.name for tag in right.values() if tag.role == "parameter")
    scope = Scope(entries, elsewhere or {})
    context = Context(scope, reporter, Slots("controller"), parameters, shortest_scan=scan[0])
    begins = (*rungs, *lines, *heads)[0].span
    typed = _rungs(rungs, names, RungTyper(tags, context, set()), entries, begins)
    # Only now: no rung may read it. Requirements may, though there is no rung yet.
    entries["scanning"] = Scanning(type="bool", span=begins)
    if head is None or _errors(reporter) > errors_before:
        return ControllerReading(None, entries, right)
    controller = Controller(head.name, scan[0], scan[1], right, tuple(typed), head.span)
    return ControllerReading(controller, entries, right)


def _errors(reporter: Reporter) -> int:
    return sum(1 for found in reporter.found if found.grade == "error")


# ------------------------------------------------------------------- its line


def _head(
    heads: Sequence[tree.Controller], rest: Sequence[tree.TagLine | tree.Rung], reporter: Reporter
) -> tuple[tree.Controller | None, tuple[int, int]]:
    if not heads:
        reporter.report("no-controller", rest[0].span)
        return None, _STAND_IN_SCAN
    for other in heads[1:]:
        reporter.report("two-controllers", other.span, related=((heads[0].span, "the first one"),))
    return heads[0], _scan_time(heads[0], reporter)


def _scan_time(head: tree.Controller, reporter: Reporter) -> tuple[int, int]:
    every = head.every
    if isinstance(every, tree.Number):
        ends = [_milliseconds(every, None, reporter)] * 2
    else:
        unit = every.high.unit if isinstance(every.high, tree.Number) else None
        ends = [_milliseconds(every.low, unit, reporter), _milliseconds(every.high, None, reporter)]
    low, high = ends
    if low is None or high is None:
        return _STAND_IN_SCAN
    if not 1 <= low <= high <= _LONGEST_SCAN or low.denominator != 1 or high.denominator != 1:
        reporter.report("scan-time", every.span)
        return _STAND_IN_SCAN
    return int(low), int(high)


def _milliseconds(node: tree.Expression, unit: str | None, reporter: Reporter) -> Fraction | None:
    """A time of the controller's line; `unit` is what a bare number takes."""
    if isinstance(node, tree.Number) and node.unit is None and unit is not None:
        node = tree.Number(node.span, node.text, unit)
    literal = read_literal(node, reporter) if is_literal(node) else None
    if literal is None or literal.unit is None:  # one without unit has been reported where the line was read
        return None
    if not same_dimension(literal.unit, _MILLISECOND):
        reporter.report("scan-time", node.span)
        return None
    return literal.stands_in(_MILLISECOND)


# ----------------------------------------------------------------------- tags


def _tags(lines: Sequence[tree.TagLine], names: Names, reporter: Reporter) -> dict[str, Tag | None]:
    tags: dict[str, Tag | None] = {}
    for line in lines:
        claimed = names.claim(line.name, line.span, "tag", reporter)
        tag = type_tag(line, reporter)
        if claimed or line.name not in tags:
            tags[line.name] = tag if claimed else None
    return tags


def _leaf(tag: Tag) -> TagValue:
    return TagValue(type=tag.type, unit=tag.unit, low=tag.low, high=tag.high, span=tag.span, tag=tag.name)


# ---------------------------------------------------------------------- rungs


def _rungs(
    rungs: tuple[tree.Rung, ...], names: Names, typer: RungTyper, entries: dict[str, Expression | None], begins: Span
) -> list[Rung]:
    """All rungs that are right. Stages come first, because a rung may read one below it."""
    reporter = typer.context.reporter
    presets: dict[str, Expression | None] = {}
    stage_entries: dict[str, Expression | None] = {}
    for stage in (element for rung in rungs for element in rung.elements if isinstance(element, tree.Stage)):
        claimed = names.claim(stage.name, stage.span, "stage", reporter)
        preset = typer.preset(stage)
        typer.stage_names.add(stage.name)
        if claimed:
            presets[stage.name] = preset
            stage_entries.update(typer.entries_of(stage, preset))
    for call in named_calls(rungs):
        names.claim(call.name or "", call.span, "function", reporter)
    for name, leaf in stage_entries.items():
        entries.setdefault(name, leaf)
    entries["power_up"] = PowerUp(type="bool", span=begins)
    _check_rung_names(rungs, reporter)
    found = [typer.rung(rung, presets) for rung in rungs]
    return [rung for rung in found if rung is not None]


def _check_rung_names(rungs: tuple[tree.Rung, ...], reporter: Reporter) -> None:
    first: dict[str, tree.Rung] = {}
    for rung in rungs:
        other = first.setdefault(rung.name.casefold(), rung)
        if other is not rung:
            reporter.report(
                "rung-name-taken", rung.span, name=rung.name, related=((other.span, f"rung `{other.name}`"),)
            )
