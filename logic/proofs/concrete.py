"""Numbers for a run whose engine only knew which of them is the greater.

Step by step: the state is what plain evaluation makes of it, and each input takes a value between its thresholds at
which every comparison comes out as the engine had it. Only a few values are tried; whether the run is bad, the
caller sees for itself.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import islice, product

from rungproof.logic.proofs.bits import Bits, above, below
from rungproof.logic.proofs.contract import Found, run_of
from rungproof.logic.proofs.evaluate import transition, values_of
from rungproof.logic.proofs.run import Run, first_bad, least_inputs
from rungproof.logic.proofs.system import System
from rungproof.logic.steps.node import ordered
from rungproof.logic.steps.operators import Scalar
from rungproof.logic.steps.step import InputVariable

#: Choices of start values, and of the inputs of one step, that are tried.
MOST_STARTS, MOST_CHOICES = 24, 400


def concrete(system: System, bits: Bits, found: Found) -> Run | None:
    """The run that an engine found, with numbers; None where none of those tried is bad."""
    plain = run_of(system, bits, found)
    for starts in islice(_starts(system, bits, found, plain), MOST_STARTS):
        run = Run(starts, tuple(_steps(system, bits, found, plain, starts)))
        if first_bad(system, run) is not None:
            return run
    return None


def _starts(system: System, bits: Bits, found: Found, plain: Run) -> Iterator[dict[str, Scalar]]:
    """Start values of what may begin with any: from the least to the greatest that its bits allow."""
    free = [name for name in plain.starts if system.step.states[name].type != "bool"]
    choices: list[list[Scalar]] = []
    for name in free:
        state, low = system.step.states[name], plain.starts[name]
        facts = [(own, fact.bound) for own, fact in bits.facts.items() if fact.name == name and fact.bound is not None]
        tops = [bound for own, bound in facts if not found.start.get(own, False)]
        high = min([state.high, *tops])
        middle = (low + high) // 2 if state.type == "int" else (low + high) / 2
        choices.append(list(dict.fromkeys((low, middle, high if state.type == "int" else float(high)))))
    for chosen in product(*choices):
        yield {**plain.starts, **dict(zip(free, chosen, strict=True))}


def _steps(
    system: System, bits: Bits, found: Found, plain: Run, starts: Mapping[str, Scalar]
) -> Iterator[Mapping[str, Scalar]]:
    state = {**{each.name: each.start for each in system.step.states.values()}, **starts}
    for said, given in zip(found.given, plain.given, strict=True):
        whole = {**least_inputs(system), **given}
        chosen = _Choice(system, bits, said, {**state, **whole}).made()
        yield {**given, **chosen}
        state, _ = transition(system.step, state, {**whole, **chosen})


@dataclass(frozen=True)
class _Choice:
    """The inputs of one step: what the engine `said` of thresholds and comparisons, and what stands as yet."""

    system: System
    bits: Bits
    said: Mapping[str, Scalar]
    stands: Mapping[str, Scalar]

    def made(self) -> dict[str, Scalar]:
        """Inputs at which the comparisons come out as said; none where none of those tried do."""
        wanted = [
            (*self.bits.compared[name], bool(self.said[name])) for name in self.bits.compared if name in self.said
        ]
        nodes = [node for a, b, _ in wanted for node in (a, b)]
        names = {node.name for node in ordered(nodes) if node.operator == "variable"}
        moving = [each for each in self.system.step.inputs.values() if each.name in names and each.type != "bool"]
        numbers = sorted(set(values_of(nodes, self.stands).values()), key=float)
        for chosen in islice(product(*(self._values(each, numbers) for each in moving)), MOST_CHOICES):
            attempt = dict(zip((each.name for each in moving), chosen, strict=True))
            value = values_of(nodes, {**self.stands, **attempt})
            if all((value[a] < value[b]) is less for a, b, less in wanted):
                return attempt
        return {}

    def _values(self, each: InputVariable, numbers: list[Scalar]) -> list[Scalar]:
        """The ends of what thresholds allow, and what lies on, just below and just above a number that is met."""
        low, exact = self.stands[each.name], int if each.type == "int" else float
        pairs = self.bits.thresholds.get(each.name, ())
        high = next((below(at) for at, own in pairs if not self.said.get(own, False)), each.high)
        near = [exact(value) for number in numbers for value in _around(number) if math.isfinite(value)]
        return list(dict.fromkeys((low, exact(high), *(value for value in near if low <= value <= high))))


def _around(number: Scalar) -> tuple[float | int, ...]:
    exact = int(number) if isinstance(number, bool | int) else float(number)
    return below(exact), exact, above(exact)
