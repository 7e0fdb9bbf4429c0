"""How much is run, decided beforehand: from the program's size and the time given, never from a clock."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from rungproof.logic.checks.engine_choice import LANES_FROM
from rungproof.logic.checks.profile import Profile
from rungproof.logic.meaning.program import Program

#: Seconds that `check` searches if nobody says otherwise: the plan is made for so many on two idle
#: cores, and the clock cuts it after so many.
DEFAULT_TIME_S, PATIENCE_S = 11.5, 34.0

#: Long runs side by side get this share of the time, and theirs are the longest runs of which the turns
#: themselves, whatever the lanes, take no more than this share of that. No more lanes than this in one width.
WIDE_SHARE, WIDE_TURNS, MOST_LANES = 0.86, 0.4, 8192

#: Lanes with a fault cost so many times as much, those whose scans fall out of step so many.
FAULTY_LANES, OUT_OF_STEP = 1.6, 2.3

#: A turn of lanes costs that many times its weight, and each lane so much of it.
LANES_TURN, LANES_EACH = 22, 0.018

#: Elements per second that an engine is counted on to work off on one core, by engine name;
#: declared, about what a small machine of 2026 does. No measurement enters: same seed, same plan.
NOMINAL = {"compiled": 80_000_000, "reference": 300_000}

#: What a run costs besides its instants (composing the story, starting the engine), in elements.
RUN_COST = {"compiled": 20_000, "lanes": 26_000, "reference": 500}

#: The plan counts on two processes, and leaves a part of the time to scenarios, proofs and replays.
CORES, SHARE = 2, 0.82

#: The plain runs speak of every requirement: this share for them, the rest in equal parts.
PLAIN_SHARE = 0.56

#: Runs of the shortest length in a group at the default time: more teaches nothing new of a small program.
MOST_RUNS = 5000

#: The same for the longer runs: what they reach slowly, they reach in few runs or not at all.
MOST_LONG_RUNS = 400

#: Long runs that a group gets of the longest length for which its work suffices, and their share
#: of that work: in the plain group, in others.
LONG_RUNS, LONG_SHARE = (3, 3), (0.8, 0.8)

#: Where not so many fit, a single run may take this share of its group's work.
LONGEST_SHARE = 0.3

#: A long run lasts so many times the longest time that matters: a little longer, or, where work suffices, so long
#: that much may happen before.
LONG_FACTORS = ((21, 20), (2, 1))

#: Grown stories mostly end before their length: a longer run costs this share of the whole, on average.
GROWN_COST = 0.6

#: Shortest runs that every fault gets at least, however little time there is: they cost next to nothing.
RUNS_A_FAULT = 3

#: Runs of a tier last that many times the time it is made for, in turn: something happens before
#: and during it; after it as well; twice over.
FACTORS = ((5, 4), (3, 2), (5, 2))


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
    """So many runs of one group, made for one order of time: `lengths` (ms) in turn, rising. `long`: numbered
    long runs (`campaign.py`)."""

    group: Group
    lengths: tuple[int, ...]
    runs: int
    long: bool = False


@dataclass(frozen=True, slots=True)
class Width:
    """So many long runs side by side, `length_ms` each: `runs` of each group. `steady`: power stays
    and nothing stops or delays the controller, so that all scans keep in step."""

    runs: tuple[tuple[Group, int], ...]
    length_ms: int
    steady: bool

    @property
    def lanes(self) -> int:
        return sum(count for _, count in self.runs)


@dataclass(frozen=True, slots=True)
class Cost:
    """What a run costs, in elements worked off: `weight` at each instant, `instant_ms` apart."""

    weight: int
    instant_ms: int
    engine: str

    def of(self, length_ms: int) -> int:
        return RUN_COST[self.engine] + self.weight * (length_ms // self.instant_ms + 1)

    def side_by_side(self, length_ms: int, lanes: int) -> float:
        """The same for so many runs at once."""
        instants = length_ms // self.instant_ms + 1
        return lanes * RUN_COST["lanes"] + self.weight * instants * (LANES_TURN + LANES_EACH * lanes)

    def lanes_for(self, length_ms: int, work: float) -> int:
        """How many runs side by side `work` suffices for."""
        instants = length_ms // self.instant_ms + 1
        left = work - self.weight * instants * LANES_TURN
        return max(0, int(left / (RUN_COST["lanes"] + self.weight * instants * LANES_EACH)))

    def seconds(self, work: float) -> float:
        """Nominal seconds on one core."""
        return work / NOMINAL[self.engine]


@dataclass(frozen=True, slots=True)
class Plan:
    """The tiers: groups one after another, the plain one first, shortest runs first."""

    tiers: tuple[Tier, ...]
    cost: Cost
    wide: tuple[Width, ...] = ()

    @property
    def runs(self) -> int:
        return sum(tier.runs for tier in self.tiers) + sum(each.lanes for each in self.wide)

    @property
    def seconds(self) -> float:
        """How long all of it takes on one core, nominally."""
        wide = sum(_of_width(self.cost, each) for each in self.wide)
        return self.cost.seconds(wide + sum(tier.runs * _mean_cost(self.cost, tier.lengths) for tier in self.tiers))


def plan_of(program: Program, profile: Profile, *, time_s: float, engine: str, runs: int | None = None) -> Plan:
    """The plan for a program. `runs` bounds the number of runs of each tier (tests use it)."""
    groups = groups_of(program)
    cost = Cost(weight_of(program), profile.tick if program.plant else profile.scan[0], engine)
    lengths, waits = lengths_of(program, profile), waits_of(program, profile)
    most = [max(1, round(each * time_s / DEFAULT_TIME_S)) for each in (MOST_RUNS, MOST_LONG_RUNS)]
    left = time_s * CORES * SHARE * NOMINAL[engine]
    wide = _wide(groups, lengths, cost, left * WIDE_SHARE, runs) if engine == "compiled" else ()
    left -= sum(_of_width(cost, each) for each in wide)
    tiers: list[Tier] = []
    for place, group in enumerate(groups):
        share = left if len(groups) == 1 else left * PLAIN_SHARE if place == 0 else left / (len(groups) - place)
        order = min(place, 1)
        long = _long(_long_lengths(lengths[0][0], waits), cost, share, order, time_s)
        rest = share - long[1] * cost.of(long[0]) if long else share
        chosen = _chosen([each for each in lengths if not long or each[0] < long[0]], cost, rest)
        for step, each in enumerate(chosen):
            one = _mean_cost(cost, each) * (GROWN_COST if step else 1)
            count = min(most[min(step, 1)], int(rest / (len(chosen) - step) / one))
            if group.faulty and step == 0:
                count = max(count, RUNS_A_FAULT * len(profile.faults))
            tier = Tier(group, each if count > 1 else each[:1], _bounded(count, runs))
            rest -= tier.runs * one
            left -= tier.runs * one
            tiers.append(tier)
        if long:
            tiers.append(Tier(group, (long[0],), _bounded(long[1], runs), long=True))
            left -= tiers[-1].runs * cost.of(long[0])
    return Plan(tuple(tiers), cost, wide)


def _wide(
    groups: Sequence[Group], lengths: Sequence[tuple[int, ...]], cost: Cost, work: float, most: int | None
) -> tuple[Width, ...]:
    """A steady width for each group, and one of plain and faulty runs that fall out of step: two cores' work."""
    widths, tried = [], sorted(length for each in lengths for length in each)
    for among, steady, share in _shares(groups):
        times = _times_as_dear(among, steady)
        turns = int(WIDE_TURNS * work * share / (cost.weight * LANES_TURN * times))
        length = _affordable(tried, turns * cost.instant_ms)
        if not length:
            return ()
        lanes = _bounded(min(cost.lanes_for(length, work * share / times), MOST_LANES), most)
        widths.append(Width(_parts(among, lanes), length, steady))
    return tuple(widths) if min(each.lanes for each in widths) >= LANES_FROM else ()


def _affordable(lengths: Sequence[int], most_ms: int) -> int:
    """The longest of `lengths`, rising, that is no longer than `most_ms`; all of that where the next longer one is far
    beyond; 0 where nothing fits."""
    fitting = [length for length in lengths if length <= most_ms]
    if not fitting:
        return 0
    return most_ms if len(fitting) < len(lengths) and most_ms >= 2 * fitting[-1] else fitting[-1]


def _shares(groups: Sequence[Group]) -> list[tuple[Sequence[Group], bool, float]]:
    """The widths of these groups, whether they are steady, and what share of the work each gets: the plain one that
    of a core, and first, so that all others keep the other core busy as long. What is dear gets half of what is not."""
    plain, *others = groups
    troubled = [plain, *(group for group in others if group.faulty)]
    rest: list[tuple[Sequence[Group], bool]] = [*(([group], True) for group in others), (troubled, False)]
    parts = [1 if steady and not among[0].faulty else 0.5 for among, steady in rest]
    return [
        ([plain], True, 0.5),
        *((among, steady, 0.5 * part / sum(parts)) for (among, steady), part in zip(rest, parts, strict=True)),
    ]


def _times_as_dear(groups: Sequence[Group], steady: bool) -> float:
    """How many times as much as plain lanes in step these cost."""
    return OUT_OF_STEP if not steady else FAULTY_LANES if groups[0].faulty else 1.0


def _of_width(cost: Cost, width: Width) -> float:
    """What a width costs, in elements."""
    times = _times_as_dear([group for group, _ in width.runs], width.steady)
    return cost.side_by_side(width.length_ms, width.lanes) * times


def _parts(groups: Sequence[Group], lanes: int) -> tuple[tuple[Group, int], ...]:
    """Lanes by group, in equal parts; the first gets what is left over."""
    each = lanes // len(groups)
    return tuple((group, each + (lanes - each * len(groups)) * (group == groups[0])) for group in groups)


def _bounded(count: int, most: int | None) -> int:
    return max(1, count if most is None else min(count, most))


def _long_lengths(short: int, waits: Sequence[int]) -> list[int]:
    """What a long run may last (ms), rising."""
    return sorted(short + wait * times // over for wait in waits for times, over in LONG_FACTORS)


def _long(lengths: list[int], cost: Cost, share: float, order: int, time_s: float) -> tuple[int, int] | None:
    """Length and number of a group's long runs; None where the shorter tiers reach every time often enough."""
    work, wanted = share * LONG_SHARE[order], LONG_RUNS[order]
    often = (share - work) * DEFAULT_TIME_S
    scarce = [each for each in lengths if cost.of(each) * MOST_LONG_RUNS * time_s > often]
    fitting = [each for each in scarce if cost.of(each) * wanted <= work]
    if fitting:
        return fitting[-1], wanted
    single = [each for each in scarce if cost.of(each) <= LONGEST_SHARE * share]
    return (single[-1], 1) if single else None


def _chosen(lengths: list[tuple[int, ...]], cost: Cost, work: float) -> list[tuple[int, ...]]:
    """One for each order of time: the longest of it that leaves enough for the others."""
    fitting = [each for each in lengths[1:] if cost.of(each[0]) <= LONGEST_SHARE * work]
    return [a for a, b in pairwise([lengths[0], *fitting, None]) if a and (b is None or b[0] > 2 * a[0])]


def _mean_cost(cost: Cost, lengths: tuple[int, ...]) -> float:
    return sum(cost.of(length) for length in lengths) / len(lengths)


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


def lengths_of(program: Program, profile: Profile) -> list[tuple[int, ...]]:
    """Lengths of runs (ms) for every time that matters, rising; the first is for none of them."""
    scan = profile.scan[1]
    short = 40 * scan + 4 * scan * max(profile.counts, default=0)
    waits = waits_of(program, profile)
    made = [tuple(short + wait * times // over for times, over in FACTORS) for wait in waits]
    return [(short,), *made]


def waits_of(program: Program, profile: Profile) -> list[int]:
    """Every time that matters (ms), rising: what the program or the plant waits for, what requirements speak of."""
    return sorted({*profile.times, *(r.horizon for r in program.requirements if r.horizon)})
