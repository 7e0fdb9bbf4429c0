"""Who reaches what: the file's scenarios first, then a search that is led by what it has not seen."""

from __future__ import annotations

import math
import time
from collections.abc import Iterable, Mapping
from concurrent.futures import Executor
from dataclasses import dataclass, field

from rungproof.logic.checks.engine_choice import fast_engine, name_of
from rungproof.logic.checks.plan import Plan, plan_of
from rungproof.logic.checks.profile import Profile, profile_of
from rungproof.logic.checks.scenarios import why_apart
from rungproof.logic.checks.search import Progress, Search
from rungproof.logic.checks.shrink import ended_at
from rungproof.logic.coverage.instrument import Instrumented
from rungproof.logic.meaning.program import Program, Story

#: The plan ends the search, so that one seed gives one result; the clock does on a very busy machine, after the
#: longer of so many seconds and so many times the time it was planned for.
PATIENCE_S, PATIENCE = 30.0, 6.0


@dataclass(frozen=True, slots=True)
class Reach:
    """A story that reaches something; `scenario` is the name of the file's scenario that it is, if any."""

    story: Story
    scenario: str | None = None


@dataclass
class Campaign:
    """`reached` by what was reached: a latch or a mark's name. `stories` are all that were kept, with
    everything that each of them reaches and the requirements that it may speak of."""

    reached: dict[str, Reach] = field(default_factory=dict)
    stories: dict[Story, tuple[frozenset[str], frozenset[str]]] = field(default_factory=dict)
    violated: set[str] = field(default_factory=set)
    runs: int = 0
    simulated_ms: int = 0

    def note(self, names: Iterable[str], reach: Reach) -> None:
        for name in names:
            self.reached.setdefault(name, reach)

    def keep(self, story: Story, names: frozenset[str], watch: frozenset[str]) -> None:
        before, watched = self.stories.get(story, (frozenset(), frozenset()))
        self.stories[story] = before | names, watched | watch


def campaign_of(
    instrumented: Instrumented,
    *,
    seed: int,
    time_s: float,
    progress: Progress | None = None,
    executor: Executor | None = None,
    unhurried: bool = False,
) -> Campaign:
    """Run the scenarios and search for `time_s` seconds, by plan, which `unhurried` no clock cuts.

    The program may hold marks besides latches.
    """
    program, latches = instrumented.program, frozenset(instrumented.latches)
    found = Campaign()
    _scenarios(program, latches, found)
    profile = profile_of(program)
    plan = plan_of(program, profile, time_s=time_s, engine=name_of(None))
    every = frozenset(requirement.name for requirement in program.requirements)
    pattern = _pattern_of(program, profile)
    for group in dict.fromkeys(tier.group for tier in plan.tiers):
        watch = group.watches(program)
        own = Plan(tuple(tier for tier in plan.tiers if tier.group == group), plan.cost)
        until = math.inf if unhurried else time.time() + max(PATIENCE_S, PATIENCE * time_s)
        search = Search(program, profile, own, seed, None, until, every, progress, executor)
        result = search.run()
        found.runs += result.tally.runs
        found.simulated_ms += result.tally.simulated_ms
        for name, (story, at) in sorted(result.violations.items()):
            found.note([name], Reach(ended_at(story, at)))
            found.violated.add(name)
        for state, story in search.corpora.get(group, {}).items():
            ended = pattern.truths(state)
            names = frozenset(name for name, value in ended.items() if value and name in latches)
            others = {f"{name} {'on' if value else 'off'}" for name, value in ended.items() if "?" not in name}
            found.note(sorted(names), Reach(story))
            found.keep(story, names | others, watch)
    return found


def _scenarios(program: Program, latches: frozenset[str], found: Campaign) -> None:
    for scenario in program.scenarios:
        outcome = fast_engine().run(program, scenario.story)
        reach = Reach(scenario.story, scenario.name)
        found.runs += 1
        found.simulated_ms += outcome.ended_at
        apart = {r.name for r in program.requirements if why_apart(program, r, scenario.story) is not None}
        violated = [n for n, j in outcome.judgements.items() if j.violated_at is not None and n not in apart]
        found.note(violated, reach)
        found.violated.update(violated)
        found.note(sorted(name for name in latches if outcome.final[name]), reach)


@dataclass(frozen=True, slots=True)
class _Pattern:
    """How `batch.state_of` writes what a run ended with: the names in its order, and which of them are truths."""

    names: tuple[tuple[str, bool], ...]

    def truths(self, state: str) -> dict[str, bool]:
        """The truths of a state; counts are left out."""
        rest, found = state, {}
        for name, is_truth in self.names:
            if is_truth:
                found[name], rest = rest[0] == "1", rest[1:]
            else:
                rest = rest.removeprefix(f" {name} ").partition(" ")[2]
        return found


def _pattern_of(program: Program, profile: Profile) -> _Pattern:
    idle = Story(program.controller.scan_low * 2 if program.controller else 1)
    final = fast_engine().run(program, idle, watch=frozenset()).final
    names = sorted(profile.pattern & final.keys())
    return _Pattern(tuple((name, isinstance(final[name], bool)) for name in names))


def most_useful(
    stories: Mapping[Story, tuple[frozenset[str], frozenset[str]]], most_ms: int
) -> list[tuple[Story, frozenset[str]]]:
    """A choice of stories that reaches everything that all of them reach, as cheaply as can be told.

    Greedy: the story that adds most for its time comes next, until nothing is added or `most_ms` of
    machine time are spent. Each comes with the requirements it may speak of. Deterministic.
    """
    left = dict(stories)
    reached: set[tuple[str, bool]] = set()
    chosen: list[tuple[Story, frozenset[str]]] = []
    spent = 0
    while left:
        story, gain = max(
            ((story, _gain(names, watch, reached)) for story, (names, watch) in left.items()),
            key=lambda item: (item[1] / (2000 + item[0].duration_ms), item[1], -len(item[0].events)),
        )
        names, watch = left.pop(story)
        if gain == 0:
            break
        if spent + story.duration_ms > most_ms:
            continue
        spent += story.duration_ms
        reached |= {(name, bool(watch)) for name in names}
        chosen.append((story, watch))
    return sorted(chosen, key=lambda item: item[0].duration_ms)


def _gain(names: frozenset[str], watch: frozenset[str], reached: set[tuple[str, bool]]) -> int:
    return sum((name, bool(watch)) not in reached for name in names)
