"""The controller lowered: one scan as a Step.

Inputs of the Step: the input tags as read, the parameters, `scan elapsed` (ms since the
last scan; 0 on the first one after power-up) and `power_up`. Its states are the tags that
rungs write and the memory of stages and expressions. Its outputs: every tag but the
parameters, and of every stage `NAME#out` and its number, all as the scan leaves them.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from rungproof.logic.meaning.program import Condition, Controller, Output, Rung, Stage, Tag
from rungproof.logic.meaning.typed import Expression
from rungproof.logic.steps.expressions import lower
from rungproof.logic.steps.node import (
    OFF,
    ON,
    Node,
    apply,
    both,
    clamp,
    constant,
    either,
    inverse,
    select,
    typed_constant,
    variable,
)
from rungproof.logic.steps.scope import Scope, reading_from
from rungproof.logic.steps.stages import COUNT_HIGHEST, COUNT_LOWEST, NUMBER_NAME, STAGES, StageInput, StageMemory
from rungproof.logic.steps.step import InputVariable, StateVariable, Step

ELAPSED = "scan elapsed"
POWER_UP = "power_up"
#: What monitors see besides: a scan has ended here, and none was lost to a cut or a stop.
SCANNING = "scanning"

#: Longer than any scan or pause a story can ask for (ms); bounds `scan elapsed`.
LONGEST_ELAPSED = 2**31


def stored(tag: Tag, value: Node) -> Node:
    """What a tag holds after `value` was assigned to it: within its range, and 0.0 for -0.0."""
    if tag.type == "bool":
        return value
    if tag.type == "real":
        value = apply("real", value) if value.type == "int" else value
        value = apply("add", value, constant(0.0))
    return clamp(value, tag.low, tag.high)


@dataclass
class _Scan:
    """A scan on its way: the present version of every tag and of every stage's memory."""

    controller: Controller
    scope: Scope
    now: dict[str, Node]
    written: set[str] = field(default_factory=set)
    labels: dict[str, Node] = field(default_factory=dict)

    def run(self, rung: Rung) -> None:
        power = ON
        for element in rung.elements:
            if isinstance(element, Stage):
                power = self._stage(element, power)
            else:
                power = both(power, self._contact(element, power))
        self._label(f"rung {rung.name}", power)
        for output in rung.outputs:
            self._output(output, power)

    def _contact(self, element: Condition, power: Node) -> Node:
        return lower(element.expression, self.scope, power)

    def _stage(self, stage: Stage, power: Node) -> Node:
        number = f"{stage.name}#{NUMBER_NAME[stage.kind]}"
        memory = StageMemory(
            self.scope.remember(f"{stage.name}#powered", "bool", False),
            self.scope.remember(number, "int", 0, *_number_range(stage)),
            self.scope.remember(f"{stage.name}#out", "bool", False),
        )
        preset = lower(stage.preset, self.scope, power) if stage.preset is not None else constant(1)
        by = lower(stage.by, self.scope, power) if stage.by is not None else OFF
        given = StageInput(power, preset, by, self.scope.elapsed, self.scope.first)
        after = STAGES[stage.kind](memory, given)
        self.scope.becomes(f"{stage.name}#powered", after.powered)
        self.scope.becomes(number, after.number)
        self.scope.becomes(f"{stage.name}#out", after.out)
        self.now[number], self.now[f"{stage.name}#out"] = after.number, after.out
        return after.out

    def _output(self, output: Output, power: Node) -> None:
        tag = self.controller.tags[output.target]
        if output.when is not None:
            power = both(power, lower(output.when, self.scope, power))
        before = self.now[tag.name]
        if output.kind == "coil":
            after = power
        elif output.kind == "negated":
            after = inverse(power)
        elif output.kind == "set":
            after = either(power, before)
        elif output.kind == "reset":
            after = both(inverse(power), before)
        else:
            after = select(power, stored(tag, self._value(output.value, power)), before)
        self.now[tag.name] = after
        self.written.add(tag.name)
        self._label(tag.name, after)

    def _value(self, value: Expression | None, power: Node) -> Node:
        assert value is not None, "an assignment has a value"
        return lower(value, self.scope, power)

    def _label(self, name: str, node: Node) -> None:
        count = 1
        while f"{name}.{count}" in self.labels:
            count += 1
        self.labels[f"{name}.{count}"] = node


def lower_scan(controller: Controller) -> Step:
    """One scan of `controller`."""
    tags = controller.tags
    states = {t.name: _state(t) for t in tags.values() if t.role in ("memory", "output")}
    inputs = {t.name: InputVariable(t.name, t.type, t.low, t.high) for t in tags.values() if t.name not in states}
    inputs[ELAPSED] = InputVariable(ELAPSED, "int", 0, LONGEST_ELAPSED)
    inputs[POWER_UP] = InputVariable(POWER_UP, "bool")
    now = {name: each.node for name, each in states.items()} | {name: each.node for name, each in inputs.items()}
    for stage in controller.stages.values():
        number = NUMBER_NAME[stage.kind]
        now[f"{stage.name}#out"] = variable(f"{stage.name}#out", "bool")
        now[f"{stage.name}#{number}"] = variable(f"{stage.name}#{number}", "int")
    scan = _Scan(controller, Scope(reading_from(now), now[POWER_UP], now[ELAPSED]), now)
    for rung in controller.rungs:
        scan.run(rung)
    nexts = {name: now[name] for name in scan.written} | scan.scope.next
    outputs = {name: node for name, node in now.items() if name not in (ELAPSED, POWER_UP)}
    for tag in tags.values():
        if tag.role == "parameter":
            del outputs[tag.name]
    return Step({**states, **scan.scope.states}, inputs, nexts, outputs, scan.labels)


def _state(tag: Tag) -> StateVariable:
    return StateVariable(tag.name, tag.type, start_of(tag), tag.low, tag.high)


def start_of(tag: Tag) -> bool | int | float:
    """The start value in the tag's own type."""
    return typed_constant(tag.type, tag.start).value


def _number_range(stage: Stage) -> tuple[int, int]:
    if stage.kind.startswith("count"):
        return COUNT_LOWEST, COUNT_HIGHEST
    return 0, int(stage.preset.high) if stage.preset is not None else 0


def retained_names(controller: Controller) -> frozenset[str]:
    """The states that outlive a power cut: retained tags, and all memory of retained stages."""
    kept = {tag.name for tag in controller.tags.values() if tag.retained}
    for stage in controller.stages.values():
        if stage.retained:
            kept |= {f"{stage.name}#{each}" for each in ("powered", "out", NUMBER_NAME[stage.kind])}
    return frozenset(kept)
