"""Do two versions of a controller do the same at every output, whatever comes?

First what needs no solver: expressions that are one and the same. Then lanes drawn by chance, for what
differs soon. Then a proof that two states of one name never part, in rounds: what is seen to part is
joined no more. `equal` was checked again by another solver; `different` was replayed in the reference engine.
"""

from __future__ import annotations

import time
from collections.abc import Collection
from dataclasses import dataclass, replace
from typing import Any, Literal

from rungproof.logic.checks.engine_choice import reference_engine
from rungproof.logic.checks.stories import tidy
from rungproof.logic.engines.contract import Trace
from rungproof.logic.meaning.program import Program, Story
from rungproof.logic.proofs.bounded import bounded
from rungproof.logic.proofs.calm import calmed
from rungproof.logic.proofs.chance import draw
from rungproof.logic.proofs.contract import run_of
from rungproof.logic.proofs.evaluate import transition
from rungproof.logic.proofs.joined import DIFFERS, MAY, NEW, OLD, OUTPUT, STATE, Joined, alike, counterparts, join
from rungproof.logic.proofs.literals import Invariant
from rungproof.logic.proofs.portfolio import Forms, decide
from rungproof.logic.proofs.recheck import Verified, recheck
from rungproof.logic.proofs.run import Run, first_bad, least_inputs, outage_ticks, story_of, with_short_outages
from rungproof.logic.proofs.sides import IncomparableError, Narrowed, Side, Sides, sides_of
from rungproof.logic.proofs.system import System
from rungproof.logic.steps.node import either
from rungproof.logic.steps.operators import Scalar

ComparisonWord = Literal["equal", "different", "undecided"]
#: Shares of the time: for lanes, and for looking for a shorter story than the one at hand.
LANES_SHARE, SHORTEST_SHARE = 0.25, 0.35
#: Transitions that lanes run at most; seconds that the second solver may take.
LANE_STEPS, RECHECK_S = 1500, 20.0
#: Seconds for leaving out of a story what plays no part in it.
CALM_S = 0.3
_TWO_WAYS = "two numbers are worked out in two ways, and no proof says that they are the same"
#: A story without power for more ticks than this is not replayed.
MOST_OUTAGE_TICKS = 300_000


@dataclass(frozen=True)
class Parting:
    """Where two versions part: at `at` ms `tag` is `old` in the one and `new` in the other.

    `old_story` and `new_story` are the same for all inputs and parameters that both have. `scans` is
    how many scans it takes; `shortest` where no shorter story parts them. `in_plant`: the
    stories are of the whole project, with its plant; else of the controller alone, whose inputs they set.
    """

    at: int
    tag: str
    old: Scalar
    new: Scalar
    scans: int
    shortest: bool
    old_story: Story
    new_story: Story
    in_plant: bool = False


@dataclass(frozen=True)
class Comparison:
    """What is known of two versions, for every input, parameter, scan time and power cut.

    equal      no run tells them apart at any of `outputs`; `engine` says by what this was found.
    different  `parting` does, and the reference engine replayed it in both.
    undecided  neither; `why` says what stands in the way. No run of `depth` scans tells them apart.

    `only` is what one of the two alone has (`old` or `new`, and the tag), `remarks` what else was not compared,
    `narrowed` of what only the part was compared that both have.
    """

    word: ComparisonWord
    outputs: tuple[str, ...] = ()
    only: tuple[tuple[str, str], ...] = ()
    remarks: tuple[str, ...] = ()
    engine: str = ""
    why: str = ""
    seconds: float = 0.0
    depth: int = 0
    parting: Parting | None = None
    invariant: Invariant | None = None
    narrowed: frozenset[Narrowed] = frozenset()


def compare_programs(
    old: Program, new: Program, *, time_s: float, names: Collection[str] | None = None, seed: int = 0
) -> Comparison:
    """Compare the controllers of two programs at the outputs that both have (those in `names`, all if None).

    Everything runs in this process; the deadline is kept between two questions to a solver. Raises nothing.
    """
    began = time.monotonic()
    try:
        sides = sides_of(old, new, names)
    except IncomparableError as error:
        return Comparison("undecided", why=str(error))
    found = _Comparing(sides, began + time_s, seed).run()
    return replace(
        found,
        outputs=sides.outputs,
        only=sides.only,
        remarks=sides.remarks,
        narrowed=sides.narrowed,
        seconds=time.monotonic() - began,
    )


class _Comparing:
    def __init__(self, sides: Sides, until: float, seed: int) -> None:
        self.sides, self.until, self.seed = sides, until, seed
        self.time_s = until - time.monotonic()
        self.depth = 0

    def _left(self) -> float:
        return self.until - time.monotonic()

    def run(self) -> Comparison:
        safe = join(self.sides, alike(self.sides))
        if not safe.open_outputs:
            return Comparison("equal", engine="one and the same expressions", invariant=Invariant())
        forms = Forms(safe.system, MAY)
        drawn = draw(
            safe.system,
            DIFFERS,
            forms.coarse,
            seed=self.seed,
            steps=LANE_STEPS,
            time_s=self.time_s * LANES_SHARE,
        )
        if drawn.run is not None:
            return self._different(safe, drawn.run)
        return self._rounds(safe)

    # ------------------------------------------------------------------- equal

    def _rounds(self, safe: Joined) -> Comparison:
        """Join all that may be equal; what is shown to part is joined no more."""
        pairs = set(counterparts(self.sides))
        while self._left() > 0:
            joined = join(self.sides, pairs)
            if not joined.open_outputs and not joined.open_pairs:
                return self._equal(joined, (), "one and the same expressions")
            answer = decide(joined.system, MAY, self._left(), self._told)
            if answer.word == "proved":
                return self._equal(joined, answer.clauses, answer.engine)
            if answer.run is None:
                return self._undecided(answer.why)
            shown = _last_shown(joined.system, answer.run)
            if any(shown[OUTPUT + name] for name in joined.open_outputs):
                return self._different(safe, _as_run_of(safe, answer.run))
            parted = {name for name in joined.open_pairs if shown[STATE + name]}
            if not parted:
                return self._undecided(_TWO_WAYS)
            pairs -= parted
        return self._undecided("the time was up")

    def _told(self, depth: int) -> None:
        self.depth = depth

    def _undecided(self, why: str) -> Comparison:
        return Comparison("undecided", why=why, depth=self.depth)

    def _equal(self, joined: Joined, clauses: Any, engine: str) -> Comparison:
        """The second solver is asked on the system as it is, whether an output or a joined state can differ."""
        invariant = Invariant(tuple(clauses))
        checked = recheck(_questioned(joined), invariant, RECHECK_S)
        if not isinstance(checked, Verified):
            return self._undecided(f"a proof was found, but the second solver did not agree: {checked}")
        return Comparison("equal", engine=engine, invariant=invariant)

    # --------------------------------------------------------------- different

    def _different(self, safe: Joined, run: Run) -> Comparison:
        run, shortest = self._shortest(safe.system, run)
        run = with_short_outages(safe.system, calmed(safe.system, run, CALM_S))
        if outage_ticks(run) > MOST_OUTAGE_TICKS:
            return self._undecided("what tells them apart lasts too long without power to be replayed")
        parting = replayed(self.sides, run, shortest)
        if parting is None:
            return self._undecided("internal error: the reference engine does not tell them apart")
        return Comparison("different", engine="replayed", parting=parting, depth=len(run.given))

    def _shortest(self, system: System, run: Run) -> tuple[Run, bool]:
        """The shortest run that differs, where it is found in time; else the one at hand."""
        forms = Forms(system, MAY)
        engine, bits = bounded(forms.fine, MAY), forms.fine
        until = min(self.until, time.monotonic() + self.time_s * SHORTEST_SHARE)
        depth = 0
        try:
            while time.monotonic() < until and depth < len(run.given) - 1:
                depth = next(engine) or depth
        except StopIteration as end:
            if end.value.found is not None:
                shorter = run_of(forms.system, bits, end.value.found)
                at = first_bad(system, shorter)
                if at is not None:
                    return replace(shorter, given=shorter.given[: at + 1]), True
            return run, False
        return run, depth >= len(run.given) - 1


def _questioned(joined: Joined) -> System:
    """The system with one question: does an output differ, or would two joined states become different?"""
    system, step = joined.system, joined.system.step
    asked = [step.outputs[OUTPUT + name] for name in joined.open_outputs]
    asked += [step.outputs[STATE + name] for name in joined.open_pairs]
    return replace(system, step=replace(step, outputs={DIFFERS: either(*asked)}), bad=DIFFERS)


def _last_shown(system: System, run: Run) -> dict[str, Scalar]:
    """What the last transition of a run shows."""
    state = {**{s.name: s.start for s in system.step.states.values()}, **run.starts}
    shown: dict[str, Scalar] = {}
    for given in run.given:
        state, shown = transition(system.step, state, {**least_inputs(system), **given})
    return shown


def _as_run_of(safe: Joined, run: Run) -> Run:
    """A run of one joined system as a run of another: parameters that both have bear one name in either."""
    names = safe.system.step.states.keys()
    starts: dict[str, Scalar] = {}
    for name, value in run.starts.items():
        stem = name.removeprefix(OLD).removeprefix(NEW)
        for own in (name, stem, OLD + stem, NEW + stem):
            if own in names:
                starts[own] = value
    return Run(starts, run.given)


# ------------------------------------------------------------------------ replay


def replayed(sides: Sides, run: Run, shortest: bool) -> Parting | None:
    """The first instant and the tag at which the reference engine sees two versions part; None if it sees none."""
    stories, traces = [], []
    for side, mark in ((sides.old, OLD), (sides.new, NEW)):
        story = tidy(side.alone, story_of(side.alone, *_own(side, mark, run, sides.tick)))
        outcome = reference_engine().run(side.alone, story, record=True)
        assert outcome.trace is not None, "it was recorded"
        stories.append(story)
        traces.append(outcome.trace)
    found = _first_difference(traces[0], traces[1], sides.outputs)
    if found is None:
        return None
    row, name = found
    at = traces[0].times[row]
    ended = [tidy(side.alone, _until(story, at)) for side, story in zip((sides.old, sides.new), stories, strict=True)]
    scans = sum(begins < at for begins in traces[0].scan_starts)
    return Parting(at, name, traces[0].tags[name][row], traces[1].tags[name][row], scans, shortest, ended[0], ended[1])


def _until(story: Story, at: int) -> Story:
    return replace(story, duration_ms=at, events=tuple(each for each in story.events if each.at_ms <= at))


def _own(side: Side, mark: str, run: Run, tick: int) -> tuple[System, Run]:
    """A run of both as a run of one, by its own names."""

    def named(values: Any) -> dict[str, Scalar]:
        other = NEW if mark == OLD else OLD
        return {name.removeprefix(mark): value for name, value in values.items() if not name.startswith(other)}

    starts = {name: value for name, value in named(run.starts).items() if name in side.parameters}
    given = tuple(
        {name: value for name, value in named(each).items() if name in side.step.inputs} for each in run.given
    )
    return System(side.step, "", tick, free_starts=side.parameters), Run(starts, given)


def _first_difference(old: Trace, new: Trace, outputs: Collection[str]) -> tuple[int, str] | None:
    for row, (one, other) in enumerate(zip(old.times, new.times, strict=False)):
        if one != other:
            return None
        for name in outputs:
            if old.tags[name][row] != new.tags[name][row]:
                return row, name
    return None
