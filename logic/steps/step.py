"""The Step: one step of a system, as data.

State variables with start values and ranges, inputs with ranges, and assignments over the
closed operator set: what each state variable becomes, and what each output shows. All
assignments read the values before the step; shared parts are shared nodes. Everything that
runs or proves reads this form, and everything that has a meaning lowers to it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property

from rungproof.logic.steps.node import Node, ordered, substitute, variable
from rungproof.logic.steps.operators import Scalar, Type


@dataclass(frozen=True, slots=True)
class StateVariable:
    """Kept from step to step, and within `low..high` (of its type; 0..1 for bool) in every state."""

    name: str
    type: Type
    start: Scalar
    low: float | int = 0
    high: float | int = 1

    @property
    def node(self) -> Node:
        return variable(self.name, self.type)


@dataclass(frozen=True, slots=True)
class InputVariable:
    """Given anew at every step: any value of `low..high`. A `constant` one is the same in all steps of a run."""

    name: str
    type: Type
    low: float | int = 0
    high: float | int = 1
    constant: bool = False

    @property
    def node(self) -> Node:
        return variable(self.name, self.type)


@dataclass(frozen=True)
class Step:
    """`next[s]` is what state variable `s` becomes (a missing one keeps its value), `outputs[o]`
    what output `o` shows during the step. `labels` name nodes for people: the value that a rung
    gave a tag, the output of a stage; several nodes may bear versions of one name.

    Raises `ValueError` where an expression reads a name that is neither state nor input, or
    where a next value has not its variable's type.
    """

    states: Mapping[str, StateVariable]
    inputs: Mapping[str, InputVariable]
    next: Mapping[str, Node]
    outputs: Mapping[str, Node]
    labels: Mapping[str, Node] = field(default_factory=dict)

    def __post_init__(self) -> None:
        known = {each.node for each in self.states.values()} | {each.node for each in self.inputs.values()}
        for node in self.nodes:
            if node.operator == "variable" and node not in known:
                raise ValueError(f"`{node.name}` ({node.type}) is neither a state variable nor an input")
        for name, node in self.next.items():
            if node.type != self.states[name].type:
                raise ValueError(f"`{name}` is {self.states[name].type} and would become {node.type}")

    @cached_property
    def nodes(self) -> list[Node]:
        """All nodes in use, operands before users: the ordered list of assignments."""
        return ordered([*self.next.values(), *self.outputs.values()])

    def slice(self, outputs: Collection[str]) -> Step:
        """The part that `outputs` need: their cone of influence, through any number of steps.

        A variable that is written before it is read within the step is no state of it.
        """
        kept: dict[str, None] = {}
        pending = [self.outputs[name] for name in outputs]
        used: set[Node] = set()
        while pending:
            fresh = [node for node in ordered(pending) if node not in used]
            used.update(fresh)
            reached = [n.name for n in fresh if n.operator == "variable" and n.name in self.states]
            pending = [self.next[name] for name in reached if name not in kept and name in self.next]
            kept.update(dict.fromkeys(reached))
        return Step(
            {name: each for name, each in self.states.items() if name in kept},
            {name: each for name, each in self.inputs.items() if each.node in used},
            {name: node for name, node in self.next.items() if name in kept},
            {name: self.outputs[name] for name in outputs},
            {name: node for name, node in self.labels.items() if node in used},
        )

    def given(self, values: Mapping[str, Node]) -> Step:
        """This step with inputs (or states) replaced by expressions over the other variables."""
        variables: dict[str, StateVariable | InputVariable] = {**self.inputs, **self.states}
        mapping = {variables[name].node: node for name, node in values.items() if name in variables}
        became = substitute([*self.next.values(), *self.outputs.values(), *self.labels.values()], mapping)
        return Step(
            {name: each for name, each in self.states.items() if name not in values},
            {name: each for name, each in self.inputs.items() if name not in values},
            {name: became[node] for name, node in self.next.items() if name not in values},
            {name: became[node] for name, node in self.outputs.items()},
            {name: became[node] for name, node in self.labels.items()},
        )


def variables_read(nodes: Iterable[Node]) -> set[str]:
    """The names of the variables that `nodes` depend on."""
    return {node.name for node in ordered(nodes) if node.operator == "variable"}
