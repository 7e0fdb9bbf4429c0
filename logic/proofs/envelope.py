"""What the plant's own lines say of how fast an amount can change: facts that a proof may take as assumptions.

A tank that only a pump fills rises no faster than the pump's greatest flow lifts it; nothing rises in it once
the pump has run down; a pump without supply stops turning. Each fact is written as a requirement, so that every
engine can watch it: a proof that rests on it is void where a run of the detailed plant breaks it.

Bounds are taken outward, in exact fractions, with room for every rounding of the reference engine's doubles. A
fact is only made of what holds with the faults that the requirement's scope allows.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from rungproof.grammar.tree import Span
from rungproof.logic.checks.words import time_words
from rungproof.logic.meaning.program import Form, Program, Requirement, Stood, Whenever
from rungproof.logic.meaning.typed import AllOf, Comparison, Constant, EdgeOf, Expression, Inverse, PartReading
from rungproof.logic.meaning.units import parse_unit
from rungproof.logic.proofs.smt_pullback import Chains
from rungproof.logic.steps.node import Node, ordered, variable
from rungproof.logic.steps.run_plan import RunPlan
from rungproof.plant.assembly import Assembly
from rungproof.plant.part import GoesOff, Mover, Part
from rungproof.plant.store import Store

#: A tick's litres are said to be so much more than what a mover declares: its own roundings are in that.
OUTWARD = 1 + Fraction(1, 2**40)
#: A fact that waits longer than this (ms) is of no use, and its clock a burden.
LONGEST = 3_600_000
#: Parts that a vessel's height is cut into, to watch how fast it fills and empties all over.
LADDER = 6
#: Before the name of a state of the plant in a run's plan.
PLANT = "plant:"
#: What begins the name of a fact among requirements; no author's name has a space in it.
NAME = "assumption"
#: Where the parts come from whose equations are known here.
OURS = "rungproof.plant."


@dataclass(frozen=True, slots=True)
class Fact:
    """An assumption of a proof. `form` is what a proof uses; `about` the state of the plant that it bounds
    (`header.volume`); `sentence` says it, `because` who guarantees it.

    `also` are forms that hold for the same reasons and with the same figures, at places where a machine comes by
    more often: they are watched as well, for what no run comes near to no run can break.
    """

    about: str
    form: Form
    sentence: str
    because: str
    horizon: int
    also: tuple[Form, ...] = ()

    def as_requirement(
        self, name: str, form: Form | None = None, *, any_one_fault: bool = False, outputs_free: bool = False
    ) -> Requirement:
        """The fact, or another of its forms, for the engines to watch."""
        return Requirement(
            name=name,
            sentence=self.sentence,
            restatement=self.sentence,
            against=(),
            form=self.form if form is None else form,
            from_time=None,
            outputs_free=outputs_free,
            any_one_fault=any_one_fault,
            instants="tick",
            looked_at="at the machine",
            horizon=self.horizon,
            span=_NOWHERE,
        )


_NOWHERE = Span("", 1, 1, 1)


@dataclass(frozen=True, slots=True)
class _Mark:
    """`KEY at least AMOUNT` (`above` where `strict`): off below the state's value `at`, on from there."""

    key: str
    strict: bool
    amount: float
    unit: str
    at: float

    @property
    def truth(self) -> Expression:
        unit = parse_unit(self.unit)
        reading = PartReading(type="real", unit=unit, low=-(2.0**53), high=2.0**53, span=_NOWHERE, key=self.key)
        value = Constant(type="real", unit=unit, low=self.amount, high=self.amount, span=_NOWHERE, value=self.amount)
        return Comparison(type="bool", span=_NOWHERE, operator=">" if self.strict else ">=", left=reading, right=value)

    @property
    def words(self) -> str:
        return f"{self.amount:g} {self.unit}"


def watched(facts: Iterable[Fact]) -> tuple[Requirement, ...]:
    """The facts as requirements of their own, numbered from 1."""
    return tuple(fact.as_requirement(f"{NAME} {number}") for number, fact in enumerate(facts, 1))


def facts_of(program: Program, requirement: Requirement, plan: RunPlan, nodes: Collection[Node]) -> tuple[Fact, ...]:
    """The facts that may matter to `requirement`, of which `plan` is the run's plan and `nodes` all that it depends
    on: for each amount that it speaks of, both ways that it may go, and what stops when its drive does. Empty
    where the plant's lines say nothing that bounds them."""
    assert program.plant is not None, "an envelope is that of a plant"
    return tuple(dict.fromkeys(_Deriver(program.plant.assembly, plan, requirement, frozenset(nodes)).facts()))


@dataclass
class _Deriver:
    assembly: Assembly
    plan: RunPlan
    requirement: Requirement
    nodes: frozenset[Node]

    def facts(self) -> Iterator[Fact]:
        (monitor, *_) = self.plan.requirements
        asked = ordered([*monitor.next.values(), *monitor.outputs.values()])
        for part in self.assembly.parts:
            if isinstance(part, Store) and type(part).__module__.startswith(OURS):
                wanted, known = self._marks(part, asked), self._marks(part, self.nodes)
                for mark in wanted:
                    yield from self._rising(part, mark, known)
                    yield from self._falling(part, mark, known)
            elif isinstance(part, Mover):
                for each in part.goes_off(healthy=not self.requirement.any_one_fault):
                    if self.plan.look.get(f"{part.name}.{each.shown}") in self.nodes:
                        yield from self._going_off(part, each)

    # ------------------------------------------------------------------- marks

    def _marks(self, part: Store, nodes: Iterable[Node]) -> list[_Mark]:
        """Where comparisons of the vessel's level or volume turn, by rising volume."""
        shown = {self.plan.look[key]: key for key in (f"{part.name}.level", f"{part.name}.volume") if key in self._look}
        found: dict[_Mark, None] = {}
        for node in nodes:
            if node.operator not in ("lt", "le"):
                continue
            a, b = node.operands
            for value, amount, strict in ((a, b, node.operator == "le"), (b, a, node.operator == "lt")):
                if value in shown and amount.operator == "constant":
                    key = shown[value]
                    at = self._turns(part, value, float(amount.value), strict)
                    unit = self.assembly.outputs[key].unit
                    if at is not None and unit is not None:
                        found[_Mark(key, strict, float(amount.value), unit, at)] = None
        return sorted(found, key=lambda mark: (mark.at, mark.strict))

    @property
    def _look(self) -> Mapping[str, Node]:
        return self.plan.look

    def _turns(self, part: Store, shown: Node, amount: float, strict: bool) -> float | None:
        """The least volume at which what is shown reaches (or passes) `amount`; None where none does, where all do,
        or where what is shown does not follow from the volume by steps that keep order."""
        ranges = {f"{PLANT}{part.name}.volume": (0.0, part.capacity)}
        chains = Chains(ranges)
        chain = chains.of(shown)
        if chain is None or not chain.rising or chain.variable.name not in ranges:
            return None

        def reached(volume: float | int) -> bool:
            value = _value(shown, chain.variable, float(volume))
            return value > amount if strict else value >= amount

        at = chains.edge(chain.variable, reached, below=False).at
        return None if at is None or at <= 0.0 else float(at)

    # ------------------------------------------------------------------- rates

    def _movers(self, part: Part, *, into: bool) -> list[Mover]:
        movers = [each for each in self.assembly.parts if isinstance(each, Mover)]
        return [each for each in movers if (each.destination if into else each.source) == part.name]

    @staticmethod
    def _most(mover: Mover) -> Fraction:
        """Litres that it carries in a tick at most, as it declares."""
        (moved,) = (each for each in mover.variables if each.name == "moved")
        return Fraction(float(moved.high)) * OUTWARD

    def _rising(self, part: Store, mark: _Mark, known: list[_Mark]) -> Iterator[Fact]:
        lower = [each for each in known if each.at < mark.at]
        # A float comes up where its level is at least so high; a second one is wanted where the first may fail.
        rises = [each for each in lower if not each.strict] or lower
        for each in rises if self.requirement.any_one_fault else rises[-1:]:
            yield from self._travels(part, each, mark, into=True)
        yield from self._rests(part, mark, into=True)

    def _falling(self, part: Store, mark: _Mark, known: list[_Mark]) -> Iterator[Fact]:
        if self.requirement.any_one_fault:
            return  # a leak takes what no mover does
        upper = [each for each in known if each.at > mark.at]
        if upper:
            yield from self._travels(part, upper[0], mark, into=False)
        yield from self._rests(part, mark, into=False)

    def _travels(self, part: Store, start: _Mark, end: _Mark, *, into: bool) -> Iterator[Fact]:
        """So long at least an amount needs from one mark to the other."""
        movers = self._movers(part, into=into)
        time = self._least_time(part, start, end, movers)
        if time <= 0:
            return
        what = "flows in" if into else "flows out"
        way = f"from below {start.words} to {end.words}" if into else f"from {start.words} to below {end.words}"
        yield Fact(
            f"{part.name}.volume",
            _not_before(start, end, time, into=into),
            f"{part.name} takes more than {time_words(time)} {way}",
            f"no more {what} than declared ({_flows(movers, self.plan.tick)}), and {part.name} has the shape that "
            "its line says",
            time,
            tuple(self._elsewhere(part, movers, into=into)),
        )

    def _least_time(self, part: Store, start: _Mark, end: _Mark, movers: Sequence[Mover]) -> int:
        """ms that pass at least on the way from one mark to the other; 0 where nothing can be said."""
        # Each of the two roundings of a tick is no more than one step between doubles at the capacity.
        a_tick = sum((self._most(each) for each in movers), Fraction(0)) + 2 * Fraction(math.ulp(part.capacity))
        way = abs(Fraction(end.at) - Fraction(start.at)) - Fraction(math.ulp(part.capacity))
        return min(math.floor(way / a_tick) * self.plan.tick, LONGEST)

    def _elsewhere(self, part: Store, movers: Sequence[Mover], *, into: bool) -> Iterator[Form]:
        """The same between marks all over the vessel's height."""
        key = f"{part.name}.level" if f"{part.name}.level" in self.plan.look else f"{part.name}.volume"
        output = self.assembly.outputs[key]
        rungs = [float(output.high) * place / LADDER for place in range(1, LADDER)]
        turns = [(each, self._turns(part, self.plan.look[key], each, False)) for each in rungs]
        marks = [_Mark(key, False, each, output.unit or "", at) for each, at in turns if at is not None]
        for low, high in pairwise(marks):
            start, end = (low, high) if into else (high, low)
            time = self._least_time(part, start, end, movers)
            if time > 0:
                yield _not_before(start, end, time, into=into)

    def _rests(self, part: Store, mark: _Mark, *, into: bool) -> Iterator[Fact]:
        """Nothing moves an amount past a mark once all that could has run down."""
        movers = self._movers(part, into=into)
        # Less than a quarter of the step between doubles there, all together: rounding gives back what was.
        step = (mark.at - math.nextafter(mark.at, -math.inf)) / max(1, len(movers))
        found = [each.runs_down(step / 4, healthy=not self.requirement.any_one_fault) for each in movers]
        known = [each for each in found if each is not None]
        if not movers or len(known) < len(movers):
            return
        if not all(self._of_its_own(mover, output) for mover, (output, _) in zip(movers, known, strict=True)):
            return
        ticks = max(ticks for _, ticks in known)
        if ticks * self.plan.tick > LONGEST:
            return
        time = max(1, ticks) * self.plan.tick
        off = tuple(
            Inverse(type="bool", span=_NOWHERE, operand=_truth(f"{mover.name}.{output}"))
            for mover, (output, _) in zip(movers, known, strict=True)
        )
        edge = EdgeOf(
            type="bool", span=_NOWHERE, kind="rising" if into else "falling", operand=mark.truth, slot=f"{NAME}#edge"
        )
        still = Inverse(type="bool", span=_NOWHERE, operand=edge)
        names, one = " and ".join(each.name for each in movers), len(movers) == 1
        own, rested = names, f"{'has' if one else 'have'} been without supply"
        if any(output != "energised" for output, _ in known):
            shown = (f"{each.name}.{output}" for each, (output, _) in zip(movers, known, strict=True))
            names, rested = " and ".join(shown), f"{'has' if one else 'have'} been off"
        yield Fact(
            f"{part.name}.volume",
            Stood(_all(off), _time(time), still),
            f"once {names} {rested} for {time_words(time)}, "
            f"{part.name} does not {'rise to' if into else 'fall below'} {mark.words}",
            f"nothing else leads {'into' if into else 'out of'} {part.name}, and {own} {'runs' if one else 'run'} "
            "down as declared",
            time,
            tuple(self._dry(each, _all(off), time) for each in movers if f"{each.name}.flow" in self._look),
        )

    def _of_its_own(self, mover: Mover, output: str) -> bool:
        """Whether `mover` shows such a truth, and it follows from no amount: that would be offered anew at the very
        instant that the fact looks at, and what another amount may do would hang on what it was before."""
        node = self._look.get(f"{mover.name}.{output}")
        return node is not None and node.type == "bool" and all(each.type != "real" for each in ordered([node]))

    def _of_one_amount(self, part: Mover, each: GoesOff) -> bool:
        """Whether what is shown follows from that amount, and from no other."""
        amount = variable(f"{PLANT}{part.name}.{each.amount}", "real")
        shown = self._look[f"{part.name}.{each.shown}"]
        read = {node for node in ordered([shown]) if node.operator == "variable" and node.type == "real"}
        return amount in self.plan.ranges and read <= {amount}

    def _dry(self, mover: Mover, off: Expression, time: int) -> Form:
        """By then next to nothing flows: less than a millionth of the greatest flow."""
        flow = self.assembly.outputs[f"{mover.name}.flow"]
        mark = _Mark(f"{mover.name}.flow", False, float(flow.high) / 1e6, flow.unit or "", 0.0)
        return Stood(off, _time(time), Inverse(type="bool", span=_NOWHERE, operand=mark.truth))

    def _going_off(self, part: Mover, each: GoesOff) -> Iterator[Fact]:
        if each.ticks * self.plan.tick > LONGEST:
            return
        if not self._of_its_own(part, each.drive) or not self._of_one_amount(part, each):
            return
        time = each.ticks * self.plan.tick
        off = Inverse(type="bool", span=_NOWHERE, operand=_truth(f"{part.name}.{each.drive}"))
        still = Inverse(type="bool", span=_NOWHERE, operand=_truth(f"{part.name}.{each.shown}"))
        yield Fact(
            f"{part.name}.{each.amount}",
            Stood(off, _time(time), still),
            f"{part.name} is no longer {each.shown} once it has been without supply for {time_words(time)}",
            f"{part.name} runs down as its line says",
            time,
        )


def _value(shown: Node, variable: Node, value: float) -> float:
    from rungproof.logic.proofs.evaluate import values_of

    return float(values_of([shown], {variable.name: value})[shown])


def _truth(key: str) -> PartReading:
    return PartReading(type="bool", span=_NOWHERE, key=key)


def _all(operands: tuple[Inverse, ...]) -> Expression:
    return operands[0] if len(operands) == 1 else AllOf(type="bool", span=_NOWHERE, operands=operands)


def _time(ms: int) -> Constant:
    return Constant(type="int", span=_NOWHERE, low=ms, high=ms, value=ms)


def _not_before(start: _Mark, end: _Mark, time: int, *, into: bool) -> Whenever:
    """Not at `end` until `time` after it was last on `start`'s other side."""
    if not into:
        return Whenever(start.truth, end.truth, "for", _time(time))
    first, then = (Inverse(type="bool", span=_NOWHERE, operand=each.truth) for each in (start, end))
    return Whenever(first, then, "for", _time(time))


def _flows(movers: Iterable[Mover], tick: int) -> str:
    told = []
    for each in movers:
        (moved,) = (own for own in each.variables if own.name == "moved")
        told.append(f"{each.name} {float(moved.high) * 60_000 / tick:.6g} L/min")
    return ", ".join(told) or "nothing at all"
