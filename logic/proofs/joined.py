"""Two sides as one Step over the same inputs, with the states of both that are always equal joined into one.

A state of one name is joined with its counterpart where both start alike and become alike: by the
same expression, or by two whose difference stands in the output `MAY` and is proved never to come.
So joining is an induction (van Eijk 2000, register correspondence; from memory): as long as `MAY` was
off, the joined states were equal, and what the Step shows is what the two sides show.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from rungproof.logic.proofs.sides import HELD, Side, Sides
from rungproof.logic.proofs.system import ASSUMED, System
from rungproof.logic.steps.node import OFF, ON, Node, apply, both, either, inverse, ordered, substitute, variable
from rungproof.logic.steps.step import InputVariable, StateVariable, Step

OLD, NEW = "old:", "new:"
#: Outputs of a joined system: an output of the two differs; a joined state would differ as well, or might.
DIFFERS, MAY = "an output differs", "something may differ"
#: Before a name: the outputs that say which output, and which joined state, differs.
OUTPUT, STATE = "differs:", "parts:"


@dataclass(frozen=True)
class Joined:
    """`system` shows `MAY`, `DIFFERS` and what they are made of. `pairs` are the states joined in it,
    `open_pairs` those of them that do not become the same by one expression, `open_outputs` likewise."""

    system: System
    pairs: frozenset[str]
    open_pairs: tuple[str, ...]
    open_outputs: tuple[str, ...]


def counterparts(sides: Sides) -> frozenset[str]:
    """States that both have, of one type and with one start; parameters that both have among them."""
    a, b = sides.old.step.states, sides.new.step.states
    found = set()
    for name in a.keys() & b.keys():
        free = name in sides.old.parameters, name in sides.new.parameters
        if a[name].type == b[name].type and (
            (all(free) and name in sides.old.shared) or (not any(free) and a[name].start == b[name].start)
        ):
            found.add(name)
    return frozenset(found)


def alike(sides: Sides) -> frozenset[str]:
    """The states that become the same by one expression, as long as all of them do."""
    pairs = set(counterparts(sides))
    while True:
        old, new = _Named(sides.old, OLD, pairs), _Named(sides.new, NEW, pairs)
        apart = {name for name in pairs if old.next[name] is not new.next[name]}
        if not apart:
            return frozenset(pairs)
        pairs -= apart


def join(sides: Sides, pairs: Iterable[str]) -> Joined:
    """One system of both sides with `pairs` joined."""
    chosen = frozenset(pairs)
    return _Joiner(sides, chosen).run()


class _Named:
    """A side whose states bear its own names, but for those that are joined."""

    def __init__(self, side: Side, mark: str, pairs: Iterable[str]) -> None:
        joined, step = set(pairs), side.step
        self.names = {name: name if name in joined else mark + name for name in step.states}
        given = {each.node: variable(self.names[each.name], each.type) for each in step.states.values()}
        self.inputs: dict[str, InputVariable] = {}
        for name, each in step.inputs.items():
            own = InputVariable(name if shared(side, name) else mark + name, each.type, each.low, each.high)
            self.inputs[own.name] = own
            given[each.node] = own.node
        after = {name: step.next.get(name, each.node) for name, each in step.states.items()}
        became = substitute([*after.values(), *step.outputs.values()], given)
        self.next = {name: became[node] for name, node in after.items()}
        self.outputs = {name: became[node] for name, node in step.outputs.items()}
        self.states = {
            self.names[name]: StateVariable(self.names[name], each.type, each.start, each.low, each.high)
            for name, each in step.states.items()
        }
        self.free = {self.names[name] for name in side.parameters}


def shared(side: Side, name: str) -> bool:
    """Whether an input of a side's Step is the other's too: what has no tag is (scan times, cuts)."""
    controller = side.alone.controller
    return name in side.shared or controller is None or name not in controller.tags


class _Joiner:
    def __init__(self, sides: Sides, pairs: frozenset[str]) -> None:
        self.sides, self.pairs = sides, pairs
        self.old, self.new = _Named(sides.old, OLD, pairs), _Named(sides.new, NEW, pairs)
        self.held = both(self.old.outputs[HELD], self.new.outputs[HELD])
        self.goes_on = both(*(each.next[ASSUMED] for each in (self.old, self.new) if ASSUMED in each.next))
        self.may: dict[tuple[Node, Node], Node] = {}

    def run(self) -> Joined:
        a, b = self.old.outputs, self.new.outputs
        open_outputs = tuple(name for name in self.sides.outputs if a[name] is not b[name])
        open_pairs = self._needed()
        outputs: dict[str, Node] = {}
        may: list[Node] = []
        for names, mark, a, b, while_ in (
            (open_outputs, OUTPUT, self.old.outputs, self.new.outputs, self.held),
            (open_pairs, STATE, self.old.next, self.new.next, self.goes_on),
        ):
            for name in names:
                outputs[mark + name] = both(while_, differ(a[name], b[name]))
                may.append(both(while_, self._may(a[name], b[name])))
        outputs[DIFFERS] = either(*(outputs[OUTPUT + name] for name in open_outputs))
        outputs[MAY] = either(*may)
        states = {**self.new.states, **self.old.states}
        next_ = {side.names[name]: node for side in (self.new, self.old) for name, node in side.next.items()}
        step = Step(states, {**self.old.inputs, **self.new.inputs}, next_, outputs).slice(list(outputs))
        free = frozenset(self.old.free | self.new.free) & step.states.keys()
        return Joined(System(step, "", self.sides.tick, DIFFERS, MAY, free), self.pairs, open_pairs, open_outputs)

    def _needed(self) -> tuple[str, ...]:
        """The joined states, needed by any output, that become what they are by two expressions."""
        roots = [self.held, self.goes_on, *self.old.outputs.values(), *self.new.outputs.values()]
        after = {side.names[name]: [node] for side in (self.old, self.new) for name, node in side.next.items()}
        for name in self.pairs:
            after[name] = [self.old.next[name], self.new.next[name]]
        seen: set[Node] = set()
        found: list[str] = []
        while roots:
            fresh = [node for node in ordered(roots) if node not in seen]
            seen.update(fresh)
            roots = []
            for node in fresh:
                if node.operator == "variable" and node.name in after:
                    roots += after[node.name]
                    if node.name in self.pairs and self.old.next[node.name] is not self.new.next[node.name]:
                        found.append(node.name)
        return tuple(found)

    def _may(self, a: Node, b: Node) -> Node:
        """On wherever two nodes differ; of numbers perhaps elsewhere too, where only their parts differ."""
        if a.type == "bool":
            return differ(a, b)
        try:
            return both(differ(a, b), self._parts_may(a, b))
        except RecursionError:
            # Deeper than this program may go: said to differ wherever the values do.
            return differ(a, b)

    def _parts_may(self, a: Node, b: Node) -> Node:
        """Two numbers are the same where each was chosen the same way, or worked out alike from the same."""
        key = a, b
        if key not in self.may:
            self.may[key] = ON
            self.may[key] = self._parts(a, b)
        return self.may[key]

    def _parts(self, a: Node, b: Node) -> Node:
        if a is b:
            return OFF
        if a.operator == b.operator == "constant":
            return ON if a.value != b.value else OFF
        if a.type == "bool":
            return differ(a, b)
        if a.operator == "select":
            condition, then, otherwise = a.operands
            return apply("select", condition, self._parts_may(then, b), self._parts_may(otherwise, b))
        if b.operator == "select":
            condition, then, otherwise = b.operands
            return apply("select", condition, self._parts_may(a, then), self._parts_may(a, otherwise))
        if a.operator == b.operator and a.operands and len(a.operands) == len(b.operands):
            pairs = list(zip(a.operands, b.operands, strict=True))
            if all(x.type == y.type for x, y in pairs):
                return either(*(self._parts_may(x, y) for x, y in pairs))
        return ON


def differ(a: Node, b: Node) -> Node:
    """Whether two values of one type are not the same; two zeros are."""
    if a is b:
        return OFF
    if a.type == "real":
        return either(apply("lt", a, b), apply("lt", b, a))
    return inverse(apply("eq", a, b))
