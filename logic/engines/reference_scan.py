"""A controller scan by scan: its rungs solved from the first to the last, line by line."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from rungproof.grammar.tree import Span
from rungproof.logic.engines.reference_expressions import Moment, evaluate
from rungproof.logic.engines.reference_numbers import of_type, stored
from rungproof.logic.engines.reference_stages import NEXT, Met, StageState
from rungproof.logic.meaning.program import Controller, Output, Rung, Stage, Tag
from rungproof.logic.meaning.typed import Scalar

#: For each rung, the power at the left rail, after each line, and at each output.
Conducting = dict[str, tuple[bool, ...]]


def start_value(tag: Tag) -> Scalar:
    return of_type(tag.type, tag.start)


def nothing(tag: Tag) -> Scalar:
    """What a dead terminal shows: off, or 0."""
    return of_type(tag.type, 0)


#: What each kind of output makes of the power that reaches it and the tag's value before.
WRITTEN: dict[str, Callable[[bool, bool], bool]] = {
    "coil": lambda power, before: power,
    "negated": lambda power, before: not power,
    "set": lambda power, before: before or power,
    "reset": lambda power, before: before and not power,
}


@dataclass
class Scanner:
    """What a controller holds from scan to scan: tags, stages, and the memory of expressions.

    `first` is on until the first scan after power-up is solved; `power_up` tells whether the
    scan solved last was such a one. `noted` is where a scan notes its conditions, if anybody asks.
    """

    controller: Controller
    parameters: Mapping[str, Scalar] = field(default_factory=dict)
    tags: dict[str, Scalar] = field(init=False)
    stages: dict[str, StageState] = field(init=False)
    memory: dict[str, object] = field(init=False, default_factory=dict)
    first: bool = field(init=False, default=True)
    power_up: bool = field(init=False, default=False)
    noted: dict[Span, bool] | None = field(init=False, default=None)

    def __post_init__(self) -> None:
        self.tags = {name: start_value(tag) for name, tag in self.controller.tags.items()}
        for name, value in self.parameters.items():
            self.tags[name] = of_type(self.controller.tags[name].type, value)
        self.stages = dict.fromkeys(self.controller.stages, StageState())

    def lose_power(self, *, all_of_it: bool = False) -> None:
        """Lose all that is not retained, or what is retained too. Inputs stay as last read, parameters as set."""
        for name, tag in self.controller.tags.items():
            if tag.role in ("memory", "output") and (all_of_it or not tag.retained):
                self.tags[name] = start_value(tag)
        for name, stage in self.controller.stages.items():
            if all_of_it or not stage.retained:
                self.stages[name] = StageState()
        self.memory.clear()
        self.first = True
        self.power_up = False

    def scan(self, inputs: Mapping[str, Scalar], dt_ms: int) -> Conducting:
        """Read `inputs` and solve all rungs. `dt_ms` is the length of the scan before this one;
        it does not count on the first scan after power-up."""
        self.tags.update(inputs)
        moment = Moment(
            self.tags,
            self.stages,
            memory=self.memory,
            power_up=self.first,
            dt_ms=0 if self.first else dt_ms,
            noted=self.noted,
        )
        conducting = {rung.name: self._rung(rung, moment) for rung in self.controller.rungs}
        self.power_up, self.first = self.first, False
        return conducting

    def _rung(self, rung: Rung, moment: Moment) -> tuple[bool, ...]:
        """A rung's path, then its outputs in order. The left rail always conducts."""
        power = True
        passed = [power]
        for element in rung.elements:
            if isinstance(element, Stage):
                power = self._stage(element, power, moment)
            else:
                conducts = evaluate(element.expression, moment)
                power = power and conducts
            passed.append(power)
        passed += [self._output(output, power, moment) for output in rung.outputs]
        return tuple(passed)

    def _stage(self, stage: Stage, power: bool, moment: Moment) -> bool:
        preset = 1 if stage.preset is None else evaluate(stage.preset, moment)
        by = stage.by is not None and evaluate(stage.by, moment)
        met = Met(power, preset, by, moment.dt_ms, moment.power_up)
        self.stages[stage.name] = NEXT[stage.kind](self.stages[stage.name], met)
        return self.stages[stage.name].out

    def _output(self, output: Output, power: bool, moment: Moment) -> bool:
        """Write the output's tag; gives the power at the output, its `when` included."""
        if output.when is not None:
            conducts = evaluate(output.when, moment)
            power = power and conducts
        name = output.target
        if output.kind == "assign":
            self._assign(output, power, moment)
        else:
            self.tags[name] = WRITTEN[output.kind](power, bool(self.tags[name]))
        return power

    def _assign(self, output: Output, power: bool, moment: Moment) -> None:
        """`:=` holds without power; its value is worked out all the same, for the edges in it."""
        assert output.value is not None, "an assignment has a value"
        moment.powered = power
        value = evaluate(output.value, moment)
        if power:
            self.tags[output.target] = stored(self.controller.tags[output.target], value)
