"""How much is run, decided beforehand: from the program's size and the time given, never from a clock."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from rungproof.logic.checks.profile import Profile
from rungproof.logic.meaning.program import Program

#: Seconds that `check` searches if nobody says otherwise.
DEFAULT_TIME_S = 25.0

#: Elements per second that an engine is counted on to work off, by engine name; declared low,
#: so that the plan ends before the time does. No measurement enters: same seed, same plan.
NOMINAL = {"compiled": 3_000_000, "reference": 120_000}

#: What a run costs besides its instants (composing the story, starting the engine), in elements.
RUN_COST = {"compiled": 3000, "reference": 400}

#: Runs of one length and group at the default time: beyond this small programs learn nothing new.
MOST_RUNS = 5000


@dataclass(frozen=True, slots=True)
class Group:
    """Runs with the same scope: whether one fault occurs, whether the outputs are free."""

    faulty: bool
    free: bool

    def watches(self, program: Program) -> frozenset[str]:
        """The requirements that a run of this group may speak against."""
        return frozenset(
            r.name
            for r in program.requirements
            if (r.any_one_fault or not self.faulty) and (r.outputs_free or not self.free)
        )


@dataclass(frozen=True, slots=True)
class Tier:
    """So many runs of one group and length."""

    group: Group
    length_ms: int
    runs: int


@dataclass(frozen=True, slots=True)
class Plan:
    """The tiers, shortest first within a group, and what one instant costs."""

    tiers: tuple[Tier, ...]
    weight: int
    instant_ms: int
    engine: str

    @property
    def runs(self) -> int:
        return sum(tier.runs for tier in self.tiers)

    def cost(self, length_ms: int) -> int:
        """Elements that one run of a length works off."""
        return RUN_COST[self.engine] + self.weight * (length_ms // self.instant_ms + 1)

    @property
    def seconds(self) -> float:
        """How long all of it takes on one core, nominally."""
        return sum(tier.runs * self.cost(tier.length_ms) for tier in self.tiers) / NOMINAL[self.engine]


def plan_of(program: Program, profile: Profile, *, time_s: float, engine: str, runs: int | None = None) -> Plan:
    """The plan for a program. `runs` bounds the number of runs of each tier (tests use it)."""
    groups = groups_of(program)
    instant = profile.tick if program.plant else profile.scan[0]
    plan = Plan((), weight_of(program), instant, engine)
    most = max(1, round(MOST_RUNS * time_s / DEFAULT_TIME_S)) if runs is None else runs
    left = time_s * NOMINAL[engine]
    tiers: list[Tier] = []
    lengths = lengths_of(program, profile)
    for place, group in enumerate(groups):
        share = left / (len(groups) - place) if place else left * (1 if len(groups) == 1 else 0.55)
        planned = _tiers(plan, group, lengths, share, most)
        left -= sum(tier.runs * plan.cost(tier.length_ms) for tier in planned)
        tiers += planned
    return Plan(tuple(tiers), plan.weight, instant, engine)


def _tiers(plan: Plan, group: Group, lengths: tuple[int, ...], work: float, most: int) -> list[Tier]:
    """Each length gets an equal share of what the shorter ones left, and at least one run where that
    takes no more than most of it."""
    tiers = []
    for place, length in enumerate(lengths):
        cost = plan.cost(length)
        runs = min(most, int(work / (len(lengths) - place) / cost))
        if runs == 0 and cost <= 0.7 * work:
            runs = 1
        if runs:
            tiers.append(Tier(group, length, runs))
            work -= runs * cost
    return tiers


def groups_of(program: Program) -> tuple[Group, ...]:
    """The scopes that the requirements ask for; the plain one first."""
    wanted = {Group(False, False)}
    for requirement in program.requirements:
        wanted.add(Group(requirement.any_one_fault, False))
        wanted.add(Group(False, requirement.outputs_free))
        wanted.add(Group(requirement.any_one_fault, requirement.outputs_free))
    return tuple(sorted(wanted, key=lambda group: (group.faulty, group.free)))


def weight_of(program: Program) -> int:
    """Elements that are worked off at one instant: lines, outputs, parts, monitors."""
    rungs = list(program.controller.rungs) if program.controller else []
    parts = 0
    if program.plant is not None:
        rungs += [rung for circuit in program.plant.circuits for rung in circuit.rungs]
        parts = len(program.plant.assembly.parts)
    lines = sum(len(rung.elements) + len(rung.outputs) for rung in rungs)
    return max(1, lines + 3 * parts + len(program.requirements) + len(program.assumptions))


def lengths_of(program: Program, profile: Profile) -> tuple[int, ...]:
    """Lengths of runs (ms), rising: a short one, and one for each order of time that matters.

    A run of two and a half times a time lets something happen before, during and after it.
    """
    scan = profile.scan[1]
    short = 40 * scan + 4 * scan * max(profile.counts, default=0)
    waits = {*profile.times, *(requirement.horizon for requirement in program.requirements)}
    wanted = sorted({short, *(short + 5 * wait // 2 for wait in waits)})
    return tuple(a for a, b in pairwise([*wanted, 4 * wanted[-1]]) if b > 2 * a)
