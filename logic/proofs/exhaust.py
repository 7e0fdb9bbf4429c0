"""Where no proof stands and there is little enough of it: everything is tried, and counted.

On an exact rewriting of the system only (thresholds for numbers that are only compared, whole numbers as
they are). A pause so long that every age has stopped counting is the same as any longer one: those are
tried once. Where it takes few steps, the plain exploration counts again.
"""

from __future__ import annotations

import math
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace

from rungproof.logic.proofs.bits import Bits
from rungproof.logic.proofs.explicit import MOST_INPUTS, TooLargeError, explore
from rungproof.logic.proofs.join import Joiner
from rungproof.logic.proofs.portfolio import Forms
from rungproof.logic.proofs.system import OUTAGE_TICKS, System
from rungproof.logic.steps.intervals import intervals_of, ranges
from rungproof.logic.steps.node import Node
from rungproof.logic.steps.step import Step

#: Transitions up to which the plain exploration counts again.
MOST_AGAIN = 20_000_000


@dataclass(frozen=True)
class Tried:
    """All that there is was tried, and none of it is bad: so many states, and transitions from them.
    `again`: tried one by one as well, with the same counts."""

    states: int
    transitions: int
    again: bool


def exhaust(system: System, output: str, time_s: float) -> Tried | None:
    """Try every state and every input; None where that is too much, or where one shows `output`."""
    until = time.monotonic() + time_s
    for bits in _exact(Forms(system, output)):
        try:
            step = bounded_pauses(bits.step)
            found = Joiner(step, output, bits.free).explore(until - time.monotonic())
            if found.depth is not None:
                return None
            again = found.transitions <= MOST_AGAIN and found.transitions <= found.states * MOST_INPUTS
            if again:
                plain = explore(step, output, free_starts=bits.free)
                if (plain.states, plain.depth) != (found.states, None):
                    return None
        except (TooLargeError, MemoryError):
            continue
        return Tried(found.states, found.transitions, again)
    return None


def _exact(forms: Forms) -> Iterator[Bits]:
    """The rewritings that show no more than the system does."""
    for bits in (forms.coarse, forms.fine):
        if bits.exact and not bits.start_clauses:
            yield bits


def bounded_pauses(step: Step) -> Step:
    """The step with no pause longer than one that every longer one is the same as. Raises `TooLargeError`
    where its length goes anywhere but into ages that stop counting."""
    pause = step.inputs.get(OUTAGE_TICKS)
    if pause is None:
        return step
    use = _Use(step)
    longest = 1
    for age, before, scale in use.ages(pause.node):
        longest = max(longest, use.settled(age, before, scale))
    return replace(step, inputs={**step.inputs, OUTAGE_TICKS: replace(pause, high=min(int(pause.high), longest))})


class _Use:
    """Who reads what in a step."""

    def __init__(self, step: Step) -> None:
        self.spans = intervals_of(step.nodes, ranges(step))
        self.roots = {*step.next.values(), *step.outputs.values()}
        self.users: dict[Node, list[Node]] = {}
        for node in step.nodes:
            for each in node.operands:
                self.users.setdefault(each, []).append(node)

    def ages(self, pause: Node) -> Iterator[tuple[Node, Node, int]]:
        """The sums that a pause goes into, what it is added to, and ms of each of its ticks there."""
        pending = [(pause, 1)]
        while pending:
            node, scale = pending.pop()
            if node in self.roots:
                raise TooLargeError("the length of a pause is kept")
            for user in self.users.get(node, ()):
                other = [each for each in user.operands if each is not node]
                if (
                    user.operator == "mul"
                    and len(other) == 1
                    and other[0].operator == "constant"
                    and other[0].value > 0
                ):
                    pending.append((user, scale * int(other[0].value)))
                elif user.operator == "add" and len(other) == 1:
                    yield user, other[0], scale
                else:
                    raise TooLargeError(f"the length of a pause goes into `{user.operator}`")

    def settled(self, age: Node, before: Node, scale: int) -> int:
        """Ticks of a pause from which on an age is past its limit, whatever it was: min(limit, age), limit < age."""
        if age in self.roots:
            raise TooLargeError("an age is kept that does not stop counting")
        low = self.spans[before][0]
        longest = 1
        for user in self.users.get(age, ()):
            limit = self._limit(user, age)
            high = self.spans[limit][1]
            if math.inf in (abs(high), abs(low)):
                raise TooLargeError("an age has no limit")
            longest = max(longest, math.floor((high - low) / scale) + 1)
        return longest

    @staticmethod
    def _limit(user: Node, age: Node) -> Node:
        """The limit that an age is held to, or compared with."""
        if user.operator == "lt" and user.operands[1] is age:
            return user.operands[0]
        if user.operator == "select" and user.operands[2] is age and user.operands[1] is not age:
            condition, limit = user.operands[0], user.operands[1]
            if condition.operator == "lt" and condition.operands[0] is limit and condition.operands[1] is age:
                return limit
        raise TooLargeError(f"an age goes into `{user.operator}` and does not stop counting")
