"""The paths of a controller as formulas, each contact at its moment of the scan.

A tag may be written between two rungs; then contacts on it above and below are two
variables, not one. So a variable's key holds how many rungs have written it before.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Hashable, Iterator
from dataclasses import dataclass, fields
from typing import get_args

from rungproof.grammar.tree import Span
from rungproof.logic.meaning.findings.formula import ALWAYS, NEVER, All, Any, Formula, Is, Lies, Operator, opposite
from rungproof.logic.meaning.program import Condition, Controller, Output, Rung, Stage
from rungproof.logic.meaning.typed import (
    AllOf,
    AnyOf,
    Comparison,
    Constant,
    EdgeOf,
    Expression,
    Inverse,
    PowerUp,
    StageOutput,
    StageReading,
    TagValue,
    Typed,
)

#: Stages whose output cannot be on unless the lines above conduct in the same scan.
_PASSES_ONLY_POWER = ("on-delay", "rising")

_MIRRORED: dict[Operator, Operator] = {"<": ">", "<=": ">=", ">": "<", ">=": "<=", "=": "=", "<>": "<>"}


@dataclass(frozen=True, slots=True)
class Place:
    """Where a contact is read: a rung's number, and the outputs of that rung already run."""

    rung: int
    outputs_run: int = 0


def names_within(node: object) -> Iterator[str]:
    """The tags and stages that an expression reads, each as often as it stands there."""
    return (name for name, _ in reads_within(node))


def reads_within(node: object) -> Iterator[tuple[str, Span]]:
    """The tags and stages that an expression reads, and where."""
    for part in parts_within(node):
        if isinstance(part, TagValue):
            yield part.tag, part.span
        elif isinstance(part, StageOutput | StageReading):
            yield part.stage, part.span


def parts_within(node: object) -> Iterator[Typed]:
    """Every part of an expression, itself included."""
    waiting = [node]
    while waiting:
        part = waiting.pop()
        if isinstance(part, tuple):
            waiting += part
        elif isinstance(part, Typed):
            yield part
            waiting += [getattr(part, name) for name in _INNER_FIELDS[type(part)]]


#: Where each class of expression keeps the expressions inside it.
_INNER_FIELDS: dict[type, tuple[str, ...]] = {
    kind: tuple(f.name for f in fields(kind) if "Expression" in str(f.type)) for kind in get_args(Expression)
}


class Paths:
    """Formulas for the lines and outputs of one controller's rungs."""

    def __init__(self, controller: Controller) -> None:
        self.controller = controller
        self._powers: dict[int, Formula] = {}
        self._first_writes: dict[tuple[int, str], int] = {}
        self.writers: dict[str, list[int]] = {}
        self.outputs: dict[str, list[tuple[int, int, Output]]] = {}
        for number, rung in enumerate(controller.rungs):
            for index, output in enumerate(rung.outputs):
                self._written(output.target, number)
                self._first_writes.setdefault((number, output.target), index)
                self.outputs.setdefault(output.target, []).append((number, index, output))
            for element in rung.elements:
                if isinstance(element, Stage):
                    self._written(element.name, number)

    def _written(self, name: str, number: int) -> None:
        numbers = self.writers.setdefault(name, [])
        if not numbers or numbers[-1] != number:
            numbers.append(number)

    # ------------------------------------------------------------------ formulas

    def lines(self, number: int) -> list[tuple[Formula, Formula]]:
        """For each line: what it asks for itself, and what has to hold for power below it.

        The second part grows from line to line, so this is for rungs of a sane length only.
        """
        power: Formula = ALWAYS
        found: list[tuple[Formula, Formula]] = []
        for element, line in zip(self.controller.rungs[number].elements, self._asked(number), strict=True):
            power = line if _cuts(element) else All((*_series(power), *_series(line)))
            found.append((line, power))
        return found

    def surroundings(self, number: int) -> list[tuple[Formula, Formula]]:
        """For each line: what it asks for, and what holds of all lines that conduct together with it."""
        found = self.lines(number)
        elements = self.controller.rungs[number].elements
        together: list[tuple[Formula, Formula]] = []
        for at in range(len(found) - 1, -1, -1):
            cut = at + 1 == len(elements) or _cuts(elements[at + 1])
            together.append((found[at][0], found[at][1] if cut else together[-1][1]))
        return together[::-1]

    def _asked(self, number: int) -> Iterator[Formula]:
        for element in self.controller.rungs[number].elements:
            if isinstance(element, Stage):
                yield Is((element.name, bisect_right(self.writers[element.name], number)), True)
            else:
                yield self.formula(element.expression, Place(number))

    def power(self, number: int) -> Formula:
        """What has to hold for power to reach the outputs."""
        if number not in self._powers:
            parts: list[Formula] = []
            for element, line in zip(self.controller.rungs[number].elements, self._asked(number), strict=True):
                if _cuts(element):
                    parts.clear()
                parts.append(line)
            self._powers[number] = parts[0] if len(parts) == 1 else All(tuple(parts))
        return self._powers[number]

    def driven(self, number: int, index: int) -> Formula:
        """What has to hold for an output to be powered, its `when` included."""
        output = self.controller.rungs[number].outputs[index]
        power = self.power(number)
        return power if output.when is None else All((power, self.formula(output.when, Place(number, index))))

    def formula(self, node: Expression, place: Place) -> Formula:
        """A condition as a formula; what it cannot look into becomes a variable of its own."""
        match node:
            case Constant():
                return ALWAYS if node.value else NEVER
            case TagValue():
                return Is(self._key(node.tag, place), True)
            case StageOutput():
                return Is(self._key(node.stage, place), True)
            case PowerUp():
                return Is("power_up", True)
            case Inverse():
                return opposite(self.formula(node.operand, place))
            case AllOf():
                return All(tuple(self.formula(operand, place) for operand in node.operands))
            case AnyOf():
                return Any(tuple(self.formula(operand, place) for operand in node.operands))
            case EdgeOf():
                now = self.formula(node.operand, place)
                return All((Is(node.slot, True), now if node.kind == "rising" else opposite(now)))
            case Comparison():
                return self._comparison(node, place)
            case _:
                return Is((node, place), True)

    def _key(self, name: str, place: Place) -> Hashable:
        before = bisect_left(self.writers.get(name, []), place.rung)
        written_above = self._first_writes.get((place.rung, name), place.outputs_run) < place.outputs_run
        return (name, before, place) if written_above else (name, before)

    def _comparison(self, node: Comparison, place: Place) -> Formula:
        if node.left.type == "bool":
            left, right = self.formula(node.left, place), self.formula(node.right, place)
            same = Any((All((left, right)), All((opposite(left), opposite(right)))))
            return same if node.operator == "=" else opposite(same)
        if isinstance(node.right, Constant):
            return self._lies(node.left, node.operator, node.right, place)
        if isinstance(node.left, Constant):
            return self._lies(node.right, _MIRRORED[node.operator], node.left, place)
        return Is((node, self._moment(node, place)), True)

    def _lies(self, number: Expression, operator: Operator, limit: Constant, place: Place) -> Formula:
        key = (number, self._moment(number, place))
        return Lies(key, operator, limit.value, (number.low, number.high), number.type == "int")

    def _moment(self, node: Expression, place: Place) -> Hashable:
        return tuple(self._key(name, place) for name in names_within(node))


def _cuts(element: Condition | Stage) -> bool:
    """Whether what stands below has nothing to do with power above in this same scan."""
    return isinstance(element, Stage) and element.kind not in _PASSES_ONLY_POWER


def _series(formula: Formula) -> tuple[Formula, ...]:
    return formula.parts if isinstance(formula, All) else (formula,)


def conditions_holding(rung: Rung) -> list[Expression]:
    """The conditions that hold whenever power reaches the outputs (before outputs run)."""
    holding: list[Expression] = []
    for element in rung.elements:
        if not isinstance(element, Stage):
            holding.append(element.expression)
        elif _cuts(element):
            holding.clear()
    return holding


def reads_in(rung: Rung) -> Iterator[tuple[str, Span]]:
    """Every tag and stage that a rung reads, and where."""
    for element in rung.elements:
        if isinstance(element, Stage):
            yield from reads_within((element.preset, element.by))
        else:
            yield from reads_within(element.expression)
    for output in rung.outputs:
        yield from reads_within((output.value, output.when))
