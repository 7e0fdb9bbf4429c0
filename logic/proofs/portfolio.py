"""Several engines take turns at one system until one of them decides it, or the time is up."""

from __future__ import annotations

import math
import time
import typing
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property, partial

from rungproof.logic.proofs.bits import Bits
from rungproof.logic.proofs.bounded import bounded
from rungproof.logic.proofs.chance import drawn
from rungproof.logic.proofs.concrete import concrete
from rungproof.logic.proofs.contract import Engine, Result, run_of
from rungproof.logic.proofs.differences import differences
from rungproof.logic.proofs.leads import leads
from rungproof.logic.proofs.literals import Clause
from rungproof.logic.proofs.near import near_step
from rungproof.logic.proofs.pairs import pairs
from rungproof.logic.proofs.reach import reach
from rungproof.logic.proofs.run import Run, first_bad
from rungproof.logic.proofs.spacer import spacer
from rungproof.logic.proofs.spread import spread
from rungproof.logic.proofs.system import System
from rungproof.logic.proofs.thresholds import to_bits
from rungproof.logic.steps.step import Step

#: Seconds of an engine's first turn; each round lasts longer by so much.
FIRST_TURN, GROWTH = 0.1, 1.6
BOUNDED, CLOCKS = "bounded checking", "reachability with lemmas about clocks"
PAIRS, LEADS = "reachability with lemmas about pairs", "reachability with the leads of clocks"
DRAWN = "runs drawn by chance"
SPACER = "a solver of Horn clauses"
#: Of a system with more nodes than this, what lies near the requirement is tried alone first, in so many nodes.
NEAR, LARGE, DEPTHS = "reachability near the requirement", 1500, (16, 48)
#: And of one with more than this, for bounds on the leads of clocks; its turns are so many times as long.
WIDE, LONG = 250, 3
#: What these find bad need not be: they know less than all, or guess.
ONLY_PROVE = (CLOCKS, LEADS, NEAR, PAIRS, SPACER)
#: The last resort begins when no more than so much of the time is left, or when nobody else works.
SPACER_SHARE = 0.5
#: A deadline is kept in a thread's own time, and in time that passes at so many times as much.
LATEST = 5.0
#: How far back the deep form follows sums of two numbers.
DEEP = 64
#: Share of the time that looking for the shortest bad run, and for the trigger, may take.
SHORTEST_SHARE, TRIGGER_SHARE = 0.3, 0.1

#: Where work is rationed: steps of an engine's first turn, of all its turns, and of bounded checking, whose steps
#: are depths and soon dear. A step is one question to a solver or one level; unlike a second it is the same on every
#: machine, so the same proofs come to an end.
FIRST_STEPS, MOST_STEPS, MOST_DEPTHS = 100, 1200, 120

#: Variables that are named where a number has no exact form.
MOST_NAMED = 4

Tell = Callable[[int], None]


@dataclass(frozen=True)
class Answer:
    """What the engines say of one output of a system.

    `depth`: no run of so many transitions shows it. `run`, for `refuted`: one that does, as plain evaluation
    of the system confirmed; `shortest` where no shorter one does. `why` says what stands in the way.
    """

    word: typing.Literal["proved", "refuted", "unknown"]
    engine: str
    seconds: float
    depth: int
    clauses: tuple[Clause, ...] = ()
    run: Run | None = None
    shortest: bool = False
    why: str = ""


class Forms:
    """A system for one output, and its rewritten forms, each made when first asked for."""

    def __init__(self, system: System, output: str) -> None:
        self.system = replace(system, step=system.step.slice([output]), bad=output)
        self.output = output
        self._near: dict[int, Forms] = {}

    def near(self, depth: int) -> Forms:
        """The same of what lies near the output."""
        if depth not in self._near:
            step = near_step(self.system.step, self.output, depth)
            free = self.system.free_starts & step.states.keys()
            self._near[depth] = Forms(replace(self.system, step=step, free_starts=free), self.output)
        return self._near[depth]

    @cached_property
    def plain(self) -> Bits:
        """The system as it stands, for what needs no rewriting."""
        step = self.system.step
        return Bits(step, {}, {}, self.system.free_starts & step.states.keys(), (), exact=True)

    @cached_property
    def _spread(self) -> Step:
        return spread(self.system.step)

    @cached_property
    def coarse(self) -> Bits:
        return to_bits(self._spread, self.system.free_starts)

    @cached_property
    def deep(self) -> Bits:
        return to_bits(self._spread, self.system.free_starts, levels=DEEP)

    @cached_property
    def fine(self) -> Bits:
        return to_bits(self._spread, self.system.free_starts, keep_ints=True)


def _coarse(forms: Forms) -> Bits:
    return forms.coarse


def _fine(forms: Forms) -> Bits:
    return forms.fine


def _led(forms: Forms, bits: Bits) -> Engine:
    return leads(forms.system, forms.coarse, bits, forms.output)


@dataclass(eq=False)
class _Turn:
    """An engine on a rewritten form; both are made when its first turn comes. `weight`: how long its turns are."""

    label: str
    form: Callable[[], Bits]
    make: Callable[[Bits], Engine]
    depth: int = 0
    steps: int = 0
    weight: float = 1.0

    @cached_property
    def bits(self) -> Bits:
        return self.form()

    @cached_property
    def engine(self) -> Engine:
        return self.make(self.bits)

    def take(self, turn: float, left: float, tell: Tell, most: int | None = None) -> Result | None:
        """Work for as long as a turn of this engine is, for no more than the seconds `left`, and no more than `most`
        steps in all; the result if it came."""
        until = time.thread_time() + min(self.weight * turn, max(left, 0.01))
        try:
            while time.thread_time() < until and (most is None or self.steps < most):
                self.steps += 1
                depth = next(self.engine)
                if depth is not None and depth > self.depth:
                    self.depth = depth
                    tell(depth)
        except StopIteration as end:
            result: Result = end.value
            return result
        return None


def decide(
    system: System,
    output: str,
    time_s: float,
    tell: Tell = lambda depth: None,
    *,
    rationed: bool = False,
    any_run: bool = False,
) -> Answer:
    """Whether any run of `system` shows `output`. `tell` is called with depths shown free of it.

    `any_run`: one that does is as good as the shortest.
    `rationed`: engines take turns by steps, up to `MOST_STEPS` each, and `time_s` only ends what got out of hand.
    """
    return _Portfolio(system, output, time_s, tell, rationed=rationed, any_run=any_run).run()


class _Portfolio:
    def __init__(
        self, system: System, output: str, time_s: float, tell: Tell, *, rationed: bool, any_run: bool
    ) -> None:
        self.rationed, self.any_run = rationed, any_run
        self.forms = Forms(system, output)
        self.began, self.time_s, self.tell = time.monotonic(), time_s, tell
        self.worked = time.thread_time()
        self.deepest = 0

    def run(self) -> Answer:
        turns = self._turns()
        if self.rationed:
            # How far a process of its own comes is a matter of the clock.
            return self._by_steps([each for each in turns if each.label != SPACER])
        quantum = FIRST_TURN * (LONG if self._is_wide() else 1)
        while turns and self._left() > 0:
            for turn in list(turns):
                if turn not in turns or (turn.label == SPACER and len(turns) > 1 and not self._is_late()):
                    continue
                # The last resort works in a process of its own: a look at it is a turn.
                most = turn.steps + 1 if turn.label == SPACER else None
                result = turn.take(quantum, self._left(), self._told, most)
                if result is None:
                    continue
                turns.remove(turn)
                answer = self._answer(turn, result, turns)
                if answer is not None:
                    return answer
                self._leave_the_form(turn, result, turns)
            quantum *= GROWTH
        return Answer("unknown", "", self._spent(), self.deepest, why=self._why(bool(turns)))

    def _by_steps(self, turns: list[_Turn]) -> Answer:
        """As `run`, with turns counted in steps."""
        most = FIRST_STEPS
        while turns and most <= MOST_STEPS and self._left() > 0:
            for turn in list(turns):
                if turn not in turns:
                    continue
                ration = min(most, MOST_DEPTHS) if turn.label == BOUNDED else most
                result = turn.take(math.inf, self._left(), self._told, ration)
                if result is not None:
                    turns.remove(turn)
                    answer = self._answer(turn, result, turns)
                    if answer is not None:
                        return answer
                    self._leave_the_form(turn, result, turns)
            most = max(most + 1, int(most * GROWTH))
        why = f"no end within {MOST_STEPS} steps of each engine" if self._left() > 0 else self._why(bool(turns))
        return Answer("unknown", "", self._spent(), self.deepest, why=why if turns else self._why(False))

    def _turns(self) -> list[_Turn]:
        """Cheap and coarse before dear and exact. Where the coarse form is exact, the others say the same."""
        forms, output = self.forms, self.forms.output

        def prove(bits: Bits) -> Engine:
            return reach(bits, output)

        def refute(bits: Bits) -> Engine:
            return bounded(bits, output)

        def paired(bits: Bits) -> Engine:
            return pairs(forms.system, bits, output)

        # What has much to look at works longer at a stretch: shared out by turns its proofs would come late.
        wide = self._is_wide()
        first = []
        for depth in DEPTHS if len(forms.system.step.nodes) > LARGE else ():
            near = forms.near(depth)
            first += [_Turn(LEADS, partial(_fine, near), partial(_led, near), weight=4)]
            first += [_Turn(NEAR, partial(_coarse, near), prove)]
        first.append(_Turn("reachability on thresholds", lambda: forms.coarse, prove))
        first.append(_Turn(PAIRS, lambda: forms.coarse, paired, weight=4 if wide else 2))
        if forms.coarse.exact:
            return [*first, _Turn(BOUNDED, lambda: forms.coarse, refute)]
        bounds = [_Turn(LEADS, partial(_fine, forms), partial(_led, forms), weight=16 if wide else 5)]
        near = forms.near(DEPTHS[0])
        if first[0].label != LEADS and near.system.step is not forms.system.step and wide:
            bounds.insert(0, _Turn(LEADS, partial(_fine, near), partial(_led, near), weight=4))
        chance = _Turn(DRAWN, lambda: forms.plain, lambda bits: drawn(forms.system, forms.coarse, output))
        return [
            *first,
            *([chance, *bounds] if self.any_run else [*bounds, chance]),
            _Turn(BOUNDED, lambda: forms.fine, refute),
            _Turn(
                CLOCKS,
                lambda: forms.fine,
                lambda bits: differences(forms.system, bits, output),
                weight=4 if wide else 6,
            ),
            _Turn("reachability on many thresholds", lambda: forms.deep, prove),
            _Turn("reachability on whole numbers", lambda: forms.fine, prove),
            _Turn(SPACER, lambda: forms.fine, self._last_resort),
        ]

    def _is_wide(self) -> bool:
        """So much more than what lies near that this is worth a try of its own."""
        return len(self.forms.system.step.nodes) > WIDE

    def _last_resort(self, bits: Bits) -> Engine:
        return spacer(bits, self.forms.output, max(self._left(), 0.0))

    @staticmethod
    def _leave_the_form(turn: _Turn, result: Result, turns: list[_Turn]) -> None:
        """A form that has a bad run of its own, which is none of the system's, proves nothing with any engine."""
        if result.word == "refuted" and turn.label not in (CLOCKS, NEAR):
            turns[:] = [each for each in turns if each.form() is not turn.bits]

    def _why(self, at_work: bool) -> str:
        if at_work:
            return "the time was up"
        loose = sorted({_plain(name) for name in self.forms.fine.loose})
        if not loose:
            return "a number in it has no exact form here"
        more = f" and {len(loose) - MOST_NAMED} more" if len(loose) > MOST_NAMED else ""
        return f"no exact form is known here of what is compared: it is made of {', '.join(loose[:MOST_NAMED])}{more}"

    def _is_late(self) -> bool:
        return self._left() < SPACER_SHARE * self.time_s

    def _told(self, depth: int) -> None:
        if depth > self.deepest:
            self.deepest = depth
            self.tell(depth)

    def _spent(self) -> float:
        return time.monotonic() - self.began

    def _left(self) -> float:
        """Seconds of this thread's own time; what else runs on a machine makes a proof late, but not forever."""
        return min(self.time_s - (time.thread_time() - self.worked), LATEST * self.time_s - self._spent())

    def _answer(self, turn: _Turn, result: Result, others: list[_Turn]) -> Answer | None:
        """What a result says of the system itself; None if nothing: more is possible in a rewritten form."""
        if turn.label in ONLY_PROVE and result.word != "proved":
            return None
        if result.word == "proved":
            return Answer("proved", turn.label, self._spent(), result.depth, result.clauses)
        run = self._real(turn, result)
        if run is None:
            return None
        if turn.label == BOUNDED or self.any_run:
            return Answer("refuted", turn.label, self._spent(), result.depth, run=run, shortest=turn.label == BOUNDED)
        return self._shortest(turn, run, others)

    def _real(self, turn: _Turn, result: Result) -> Run | None:
        """The run that was found, cut where it is bad, if plain evaluation of the system says that it is."""
        if result.found is None:
            return None
        run = run_of(self.forms.system, turn.bits, result.found)
        at = first_bad(self.forms.system, run)
        if at is None and turn.bits.compared:
            other = concrete(self.forms.system, turn.bits, result.found)
            run, at = (run, None) if other is None else (other, first_bad(self.forms.system, other))
        return None if at is None else replace(run, given=run.given[: at + 1])

    def _shortest(self, turn: _Turn, run: Run, others: list[_Turn]) -> Answer:
        """A bad run was found; for a while, look for the shortest one."""
        until = min(self._left(), self.time_s * SHORTEST_SHARE)
        for other in others:
            if other.label == BOUNDED and until > 0:
                result = other.take(until, until, lambda depth: None, MOST_DEPTHS if self.rationed else None)
                shorter = self._real(other, result) if result is not None else None
                if shorter is not None:
                    run = shorter
                shortest = shorter is not None or other.depth + 1 >= len(run.given)
                return Answer("refuted", turn.label, self._spent(), len(run.given), run=run, shortest=shortest)
        return Answer("refuted", turn.label, self._spent(), len(run.given), run=run)


def _plain(name: str) -> str:
    """A variable of a system as the author's files have it."""
    return f"`{name.rpartition(':')[2].partition('#')[0].rpartition('/')[2]}`"
