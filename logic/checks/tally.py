"""What the runs so far say of each requirement, counted; counts of parallel batches add up."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from rungproof.logic.checks.stories import faults_of, frees_outputs
from rungproof.logic.engines.contract import Judgement, Outcome
from rungproof.logic.meaning.program import Program, Requirement, Story


@dataclass(slots=True)
class Count:
    """Runs that watched one requirement.

    `scoped`: runs in which that happened which its scope line allows: one fault, outputs free.
    Only of these: `triggers`, the instants at which its trigger stood; `decided`, runs in which at
    least one obligation was settled; `long_enough`, runs no shorter than the requirement's horizon;
    `longest_ms`, the longest of them; `cut_at_start`, those of which an assumption left nothing;
    `faults`, sorted, the faults that stood in one, of `known_faults`;
    `nearest`, the least margin of the `near_runs` that were asked for it.
    """

    runs: int = 0
    triggers: int = 0
    simulated_ms: int = 0
    decided: int = 0
    long_enough: int = 0
    longest_ms: int = 0
    scoped: int = 0
    cut_at_start: int = 0
    faults: tuple[str, ...] = ()
    known_faults: int = 0
    nearest: float | None = None
    near_runs: int = 0

    def add(self, other: Count) -> None:
        self.runs += other.runs
        self.triggers += other.triggers
        self.simulated_ms += other.simulated_ms
        self.decided += other.decided
        self.long_enough += other.long_enough
        self.longest_ms = max(self.longest_ms, other.longest_ms)
        self.scoped += other.scoped
        self.cut_at_start += other.cut_at_start
        self.faults = tuple(sorted({*self.faults, *other.faults}))
        self.known_faults = max(self.known_faults, other.known_faults)
        self.near_runs += other.near_runs
        if other.nearest is not None:
            self.nearest = other.nearest if self.nearest is None else min(self.nearest, other.nearest)


@dataclass(slots=True)
class Tally:
    """Counts by requirement, and by assumption (index) the runs that it cut."""

    counts: dict[str, Count] = field(default_factory=dict)
    cut: dict[int, int] = field(default_factory=dict)
    runs: int = 0
    simulated_ms: int = 0
    longest_ms: int = 0

    def take(self, program: Program, story: Story, outcome: Outcome) -> None:
        """Count one run."""
        self.runs += 1
        self.simulated_ms += outcome.ended_at
        self.longest_ms = max(self.longest_ms, outcome.ended_at)
        if outcome.assumption_broken is not None:
            broken = outcome.assumption_broken[0]
            self.cut[broken] = self.cut.get(broken, 0) + 1
        run = _Run.of(program, story, outcome)
        for requirement in program.requirements:
            judgement = outcome.judgements.get(requirement.name)
            if judgement is not None:
                seen = _count(program, requirement, judgement, run)
                self.counts.setdefault(requirement.name, Count()).add(seen)

    def add(self, other: Tally) -> None:
        self.runs += other.runs
        self.simulated_ms += other.simulated_ms
        self.longest_ms = max(self.longest_ms, other.longest_ms)
        for place, cut in other.cut.items():
            self.cut[place] = self.cut.get(place, 0) + cut
        for name, count in other.counts.items():
            self.counts.setdefault(name, Count()).add(count)


@dataclass(frozen=True, slots=True)
class _Run:
    """One run, as all requirements see it: the faults that stood in it, of so many known ones; whether outputs were
    free; its story."""

    story: Story
    ended_at: int
    cut: bool
    faults: frozenset[str]
    known: int
    frees: bool

    @classmethod
    def of(cls, program: Program, story: Story, outcome: Outcome) -> _Run:
        happened, cut = _happened(story, outcome), outcome.assumption_broken is not None
        faults = faults_of(program, happened) - program.excluded
        return cls(story, outcome.ended_at, cut, faults, _known_faults(program), frees_outputs(program, happened))


def _count(program: Program, requirement: Requirement, judgement: Judgement, run: _Run) -> Count:
    ended_at, story = run.ended_at, run.story
    faults = run.faults if requirement.any_one_fault else frozenset()
    known = run.known if requirement.any_one_fault else 0
    in_scope = (not requirement.any_one_fault or bool(faults)) and (not requirement.outputs_free or run.frees)
    if not in_scope:
        return Count(runs=1, simulated_ms=ended_at, known_faults=known)
    settled = not judgement.open or judgement.triggers > _most_instants(program, requirement, story)
    return Count(
        runs=1,
        triggers=judgement.triggers,
        simulated_ms=ended_at,
        decided=int(judgement.triggers > 0 and settled),
        long_enough=int(ended_at >= requirement.horizon),
        longest_ms=ended_at,
        scoped=1,
        cut_at_start=int(ended_at == 0 and run.cut),
        faults=tuple(sorted(faults)),
        known_faults=known,
        nearest=judgement.nearest,
        near_runs=int(judgement.nearest is not None),
    )


def _happened(story: Story, outcome: Outcome) -> Story:
    """The story with what came before its run ended, which may be early: a fault to come was not tried."""
    end = outcome.ended_at if outcome.assumption_broken is None else max(outcome.ended_at, 1)
    if end >= story.duration_ms:
        return story
    return replace(story, events=tuple(event for event in story.events if event.at_ms < end))


def _known_faults(program: Program) -> int:
    failing = (knob.key for knob in program.knobs.values() if knob.kind in ("fault", "stop"))
    return sum(key not in program.excluded for key in failing)


def _most_instants(program: Program, requirement: Requirement, story: Story) -> int:
    """No more instants than this fit into the horizon: of more triggers, the first is settled.

    Power cuts add instants beside those of scans or ticks: two for each event, generously.
    """
    if requirement.instants == "tick" and program.plant is not None:
        apart = program.plant.tick
    elif program.controller is not None:
        apart = program.controller.scan_low
    else:
        apart = 1
    return requirement.horizon // apart + 2 + 2 * len(story.events)
