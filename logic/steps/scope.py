"""What lowering an expression needs to know: what names stand for now, and where memory is kept."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from rungproof.logic.meaning.typed import (
    NodeValue,
    PartReading,
    PowerUp,
    Scanning,
    StageOutput,
    StageReading,
    TagValue,
    TerminalValue,
)
from rungproof.logic.steps.node import Node, apply, constant
from rungproof.logic.steps.operators import Scalar, Type
from rungproof.logic.steps.step import StateVariable

Leaf = TagValue | StageOutput | StageReading | PowerUp | Scanning | PartReading | NodeValue | TerminalValue


@dataclass
class Scope:
    """The surroundings of an expression while it is lowered.

    `read` gives the node of a leaf at this moment. `first` is on where no edge can be (the
    first scan after power-up, a monitor's first instant), `elapsed` is the int number of ms
    since the last evaluation. `states` and `next` collect the memory that expressions own.
    """

    read: Callable[[Leaf], Node]
    first: Node
    elapsed: Node
    prefix: str = ""
    states: dict[str, StateVariable] = field(default_factory=dict)
    next: dict[str, Node] = field(default_factory=dict)

    @property
    def seconds(self) -> Node:
        """`elapsed` in seconds: ms / 1000, one operation."""
        return apply("quotient", apply("real", self.elapsed), constant(1000.0))

    def remember(self, name: str, type_: Type, start: Scalar, low: float | int = 0, high: float | int = 1) -> Node:
        """Declare a state variable of this scope and give its value before the step."""
        state = StateVariable(self.prefix + name, type_, start, low, high)
        self.states[state.name] = state
        return state.node

    def becomes(self, name: str, value: Node) -> None:
        """Say what a declared state variable becomes."""
        self.next[self.prefix + name] = value


def reading_from(names: Mapping[str, Node]) -> Callable[[Leaf], Node]:
    """A `read` that looks leaves up by their flat names: see `flat_name`."""
    return lambda leaf: names[flat_name(leaf)]


def flat_name(leaf: Leaf) -> str:
    """The name under which a leaf's value is kept: `running`, `rest_time#elapsed`, `header.level`."""
    match leaf:
        case TagValue(tag=name) | TerminalValue(tag=name) | NodeValue(node=name) | PartReading(key=name):
            return name
        case StageOutput(stage=name):
            return f"{name}#out"
        case StageReading(stage=name, field=field_):
            return f"{name}#{field_}"
        case PowerUp():
            return "power_up"
        case Scanning():
            return "scanning"
