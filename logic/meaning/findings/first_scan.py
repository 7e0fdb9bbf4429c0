"""The first scan after power-up, run once with three values: on, off, either.

Inputs and retained tags can be anything, other memory stands at its start value, nothing is
an edge, and no delay has run. Inputs may be fixed beforehand: then what they say in two
places of a rung goes together, which three values alone forget.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from rungproof.logic.meaning.findings.formula import compare
from rungproof.logic.meaning.findings.intervals import Bounded
from rungproof.logic.meaning.program import Controller, Output, Rung, Stage
from rungproof.logic.meaning.ranges import Bounds, hull
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
    TagValue,
)

Maybe = bool | None


@dataclass
class FirstScan:
    """One abstract scan. `retained` is what retained bool tags are taken to be.

    `fixed` holds inputs and parameters (bool) that are known; `rungs` are the rungs to run, if not all.
    """

    controller: Controller
    retained: Maybe
    fixed: Mapping[str, bool] = field(default_factory=dict)
    rungs: tuple[Rung, ...] | None = None
    contacts: dict[str, Maybe] = field(default_factory=dict)
    numbers: dict[str, Bounds] = field(default_factory=dict)
    stages: dict[str, Maybe] = field(default_factory=dict)

    def run(self) -> dict[str, Maybe]:
        """The bool tags when the scan is over: on, off, or None where it could be either."""
        for tag in self.controller.tags.values():
            free = tag.role in ("input", "parameter")
            if tag.type == "bool":
                start = self.retained if tag.retained else bool(tag.start)
                self.contacts[tag.name] = self.fixed.get(tag.name) if free else start
            else:
                known = not free and not tag.retained
                self.numbers[tag.name] = (tag.start, tag.start) if known else (tag.low, tag.high)
        for name, stage in self.controller.stages.items():
            self.stages[name] = self.retained if stage.retained else False
        for rung in self.controller.rungs if self.rungs is None else self.rungs:
            self._rung(rung)
        return self.contacts

    def _rung(self, rung: Rung) -> None:
        power: Maybe = True
        for element in rung.elements:
            if isinstance(element, Stage):
                power = self._stage(element, power)
                self.stages[element.name] = power
            else:
                power = _all((power, self._contact(element.expression)))
        for output in rung.outputs:
            self._output(output, power)

    def _stage(self, stage: Stage, power: Maybe) -> Maybe:
        if stage.retained:
            return self.retained
        match stage.kind:
            case "off-delay":
                return power
            case "count-down":
                loaded = self._contact(stage.by) if stage.by is not None else False
                return _not(loaded)
            case _:
                return False

    def _output(self, output: Output, power: Maybe) -> None:
        if output.when is not None:
            power = _all((power, self._contact(output.when)))
        before = self.contacts.get(output.target)
        match output.kind:
            case "coil":
                self.contacts[output.target] = power
            case "negated":
                self.contacts[output.target] = _not(power)
            case "set":
                self.contacts[output.target] = _any((before, power))
            case "reset":
                self.contacts[output.target] = _all((before, _not(power)))
            case "assign":
                self._assign(output, power)

    def _assign(self, output: Output, power: Maybe) -> None:
        if power is False or output.value is None:
            return
        tag = self.controller.tags[output.target]
        low, high = Bounded(self.numbers).of(output.value)
        stored = min(max(low, tag.low), tag.high), min(max(high, tag.low), tag.high)
        self.numbers[output.target] = stored if power else hull([self.numbers[output.target], stored])

    def _contact(self, node: Expression) -> Maybe:
        match node:
            case Constant():
                return bool(node.value)
            case TagValue():
                return self.contacts[node.tag]
            case StageOutput():
                return self.stages[node.stage]
            case PowerUp():
                return True
            case EdgeOf():
                return False
            case Inverse():
                return _not(self._contact(node.operand))
            case AllOf():
                return _all(tuple(self._contact(operand) for operand in node.operands))
            case AnyOf():
                return _any(tuple(self._contact(operand) for operand in node.operands))
            case Comparison() if node.left.type != "bool":
                return self._comparison(node)
            case _:
                return None

    def _comparison(self, node: Comparison) -> Maybe:
        bounded = Bounded(self.numbers)
        left, right = bounded.of(node.left), bounded.of(node.right)
        if node.operator in ("=", "<>"):
            if left[0] == left[1] == right[0] == right[1]:
                return node.operator == "="
            apart = left[1] < right[0] or right[1] < left[0]
            return (node.operator == "<>") if apart else None
        at_best = compare(node.operator, *((left[0], right[1]) if "<" in node.operator else (left[1], right[0])))
        at_worst = compare(node.operator, *((left[1], right[0]) if "<" in node.operator else (left[0], right[1])))
        return True if at_worst else None if at_best else False


def _not(value: Maybe) -> Maybe:
    return None if value is None else not value


def _all(values: tuple[Maybe, ...]) -> Maybe:
    return False if False in values else None if None in values else True


def _any(values: tuple[Maybe, ...]) -> Maybe:
    return True if True in values else None if None in values else False
