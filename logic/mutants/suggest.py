"""What would catch a survivor: a requirement in the language, tried on both programs before it is said.

Candidates, simplest first: a requirement of the file with a wider scope; what must never be, made of what
the mutant showed where it first differed; last the story itself with what the original does at its end.
"""

from __future__ import annotations

import math
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Literal

from rungproof.grammar import tree
from rungproof.grammar.unparse import to_text
from rungproof.logic.checks.engine_choice import fast_engine, reference_engine
from rungproof.logic.checks.scenarios import why_apart
from rungproof.logic.checks.story_text import NOWHERE, story_tree
from rungproof.logic.checks.words import time_parts, time_words
from rungproof.logic.engines.contract import Trace
from rungproof.logic.meaning.program import Program, Requirement, Story
from rungproof.logic.meaning.project import Project
from rungproof.logic.meaning.typed import Constant, Scalar
from rungproof.logic.meaning.understand import Understanding, understand_project
from rungproof.logic.mutants.difference import Difference
from rungproof.logic.mutants.judge import Case, Judged, case_of, whole_program
from rungproof.logic.mutants.result import Suggestion
from rungproof.logic.proofs.prove import prove_program

#: Seconds for the proof that the original keeps to a suggestion.
PROVE_S = 2.0
#: So many candidates are tried on stories before the scenario is suggested instead.
MOST_TRIED = 60
#: Rows of the original's runs that a candidate is held against before it is written down.
ROWS_MS = 300_000
NAME = "SUGGESTED"


@dataclass(frozen=True, slots=True)
class SuggestTask:
    """A survivor for one process: `case` as in `judge.Task`, the original's blocks.

    After `until` (s, of `time.time`) no requirement is looked for any more.
    """

    case: bytes | Case
    judged: Judged
    blocks: tuple[tree.Block, ...]
    until: float = math.inf


def suggested(task: SuggestTask) -> Suggestion | None:
    """`suggestion_for` of a task; None for a survivor that no run told from the original."""
    case = case_of(task.case)
    if task.judged.difference is None:
        return None
    mutant = whole_program(case, task.judged)
    return suggestion_for(case, mutant, task.judged.difference, task.blocks, task.until)


def suggestion_for(
    case: Case, mutant: Program, difference: Difference, blocks: Sequence[tree.Block], until: float = math.inf
) -> Suggestion:
    """A requirement that the original keeps and the mutant violates in the story of the difference; else a scenario."""
    work = _Suggesting(case, mutant, difference, tuple(blocks), until)
    return work.requirement() or work.scenario()


@dataclass(frozen=True, slots=True)
class Fact:
    """A tag or a truth of the plant that is at `value`, or has just come to it (`edge`)."""

    kind: Literal["level", "edge"]
    name: str
    value: bool

    @property
    def text(self) -> tree.Expression:
        contact = tree.Name(NOWHERE, self.name)
        if self.kind == "edge":
            return tree.Edge(NOWHERE, "rising" if self.value else "falling", contact)
        return contact if self.value else tree.Not(NOWHERE, contact)

    @property
    def turned(self) -> Fact:
        return replace(self, value=not self.value)


@dataclass
class _Suggesting:
    case: Case
    mutant: Program
    difference: Difference
    blocks: tuple[tree.Block, ...]
    until: float = math.inf

    # -------------------------------------------------------------- requirement

    def requirement(self) -> Suggestion | None:
        simulated: Suggestion | None = None
        for tried, block in enumerate(self._candidates()):
            if tried >= MOST_TRIED or time.time() > self.until:
                break
            holds = self._kept(block)
            if holds == "proved":
                return Suggestion(to_text(block), "requirement", "proved")
            if holds == "simulated" and simulated is None:
                simulated = Suggestion(to_text(block), "requirement", "simulated")
        return simulated

    def _candidates(self) -> Iterator[tree.Requirement]:
        yield from self._wider()
        traces = self._traces()
        if not isinstance(self.difference.after, bool) or self.difference.at_ms not in traces[0].times:
            return
        row = traces[0].times.index(self.difference.at_ms)
        facts = self._facts(traces[0], row)
        for count in (0, 1, 2):
            for wrong in self._wrong(traces[0], row):
                for chosen in combinations(facts, count):
                    forbidden = [wrong, *chosen]
                    if not any(_ever(trace, forbidden) for trace in traces[1:]):
                        yield _never([each.text for each in forbidden])
            if count:
                yield from self._timed(facts)

    def _wider(self) -> Iterator[tree.Requirement]:
        """Requirements of the file that would hold with any one fault, too."""
        for block in self.blocks:
            if isinstance(block, tree.Requirement) and not block.any_one_fault and not block.outputs_free:
                yield tree.Requirement(
                    NOWHERE, block.name, block.sentence, block.against, block.form, block.from_time, False, True
                )

    def _wrong(self, trace: Trace, row: int) -> list[Fact]:
        """What the mutant shows and the original does not: the state, and its beginning if it begins here.

        An output that is off while the controller has no power is nothing wrong: `scanning` leaves that out.
        """
        name, value = self.difference.key, bool(self.difference.after)
        state = Fact("level", name, value)
        begins = _holds(trace, Fact("edge", name, value), row)
        return [state, Fact("edge", name, value)] if begins else [state]

    def _facts(self, trace: Trace, row: int) -> list[Fact]:
        """What else the mutant showed where it differed, of the program's own tags: edges first, they say more."""
        controller = self.case.program.controller
        if controller is None:
            return []
        names = [tag.name for tag in controller.tags.values() if tag.type == "bool" and tag.role != "parameter"]
        there = [name for name in names if name != self.difference.key and name in trace.tags]
        found = [Fact("level", name, bool(trace.tags[name][row])) for name in there]
        edges = [Fact("edge", fact.name, fact.value) for fact in found]
        return [*(edge for edge in edges if _holds(trace, edge, row)), *found]

    def _timed(self, facts: Sequence[Fact]) -> Iterator[tree.Requirement]:
        """What must come, or must not come sooner, a time after something: the times that the program waits for."""
        controller = self.case.program.controller
        name, late = self.difference.key, not self.difference.after
        presets = [e.preset for e in controller.stages.values()] if controller is not None else []
        times = sorted({int(each.value) for each in presets if isinstance(each, Constant)})
        for wait in times:
            number = tree.Number(NOWHERE, *time_parts(wait))
            for fact in facts:
                if fact.kind != "level":
                    continue
                if late:
                    trigger = tree.Series(NOWHERE, (fact.text, tree.Name(NOWHERE, "scanning")))
                    yield _required(tree.Stood(NOWHERE, trigger, number, tree.Name(NOWHERE, name)))
                else:
                    sooner = tree.Not(NOWHERE, tree.Edge(NOWHERE, "rising", tree.Name(NOWHERE, name)))
                    yield _required(tree.Whenever(NOWHERE, fact.turned.text, sooner, "for", number))

    def _traces(self) -> list[Trace]:
        """The mutant's run of the difference, then the original's runs that a candidate must not forbid."""
        runs = [(self.mutant, self.difference.story), (self.case.program, self.difference.story)]
        spent = 0
        for attack in self.case.attacks:
            spent += attack.story.duration_ms
            if spent > ROWS_MS:
                break
            runs.append((self.case.program, attack.story))
        traces = [fast_engine().run(p, s, watch=frozenset(), record=True).trace for p, s in runs]
        return [trace for trace in traces if trace is not None]

    # ------------------------------------------------------------------ holding

    def _kept(self, block: tree.Requirement) -> str | None:
        """`proved` or `simulated` where the original keeps it and the mutant does not; else None."""
        understood = self._with(self.case.program, block)
        if understood.program is None:
            return None
        original = understood.program
        requirement = next(r for r in original.requirements if r.name == block.name)
        if why_apart(original, requirement, self.difference.story) is not None:
            return None
        if not self._violates(self.mutant, requirement, self.difference.story):
            return None
        for story in (self.difference.story, *(attack.story for attack in self.case.attacks)):
            if why_apart(original, requirement, story) is None and _violated(original, requirement, story):
                return None
        proof = prove_program(original, time_s=PROVE_S, only=[block.name]).get(block.name)
        return "proved" if proof is not None and proof.word == "proved" else "simulated"

    def _with(self, program: Program, block: tree.Block) -> Understanding:
        """The original's files with one block more, or in the place of the one that bears its name."""
        left = [b for b in self.blocks if not (_same_name(b, block))]
        text_place = Project(list(program.sources), [*left, block])
        return understand_project(text_place, self.case.folder)

    def _violates(self, program: Program, requirement: Requirement, story: Story) -> bool:
        return _violated(_with_requirement(program, requirement), requirement, story)

    # ----------------------------------------------------------------- scenario

    def scenario(self) -> Suggestion:
        """The story, and at its end what the original shows there."""
        difference = self.difference
        sentence = f"As it was: {difference.key} at {time_words(difference.at_ms)}"
        told = story_tree(self.case.program, difference.story, sentence)
        expect = tree.Expect(NOWHERE, self._expected(), "at end")
        block = tree.Scenario(NOWHERE, told.sentence, (*told.lines, expect))
        return Suggestion(to_text(block), "scenario", "simulated")

    def _expected(self) -> tree.Expression:
        name, before, after = self.difference.key, self.difference.before, self.difference.after
        if isinstance(before, bool):
            return Fact("level", name, before).text
        middle = (float(before) + float(after)) / 2
        return tree.Compare(
            NOWHERE, ">" if before > after else "<", tree.Name(NOWHERE, name), self._number(name, middle)
        )

    def _number(self, name: str, value: Scalar) -> tree.Expression:
        number = tree.Number(NOWHERE, repr(abs(float(value))), self._unit(name))
        return tree.Negate(NOWHERE, number) if value < 0 else number

    def _unit(self, name: str) -> str | None:
        program = self.case.program
        tag = program.controller.tags.get(name) if program.controller is not None else None
        if tag is not None:
            return None if tag.unit is None else tag.unit.symbol
        if program.plant is not None:
            assembly = program.plant.assembly
            shown = assembly.outputs.get(name) or assembly.variables.get(name)
            return getattr(shown, "unit", None)
        return None


def _never(literals: Sequence[tree.Expression]) -> tree.Requirement:
    parts = list(literals)
    if isinstance(parts[0], tree.Not):
        parts.insert(0, tree.Name(NOWHERE, "scanning"))
    return _required(tree.Never(NOWHERE, parts[0] if len(parts) == 1 else tree.Series(NOWHERE, tuple(parts))))


def _required(form: tree.Form) -> tree.Requirement:
    """A requirement whose sentence is still to be written: only people can say what they meant."""
    return tree.Requirement(NOWHERE, NAME, "To be said in words", (), form)


def _ever(trace: Trace, facts: Sequence[Fact]) -> bool:
    return any(all(_holds(trace, fact, row) for fact in facts) for row in range(len(trace.times)))


def _holds(trace: Trace, fact: Fact, row: int) -> bool:
    column = trace.tags[fact.name] if fact.name in trace.tags else trace.plant.get(fact.name)
    if column is None or column[row] != fact.value:
        return False
    return fact.kind == "level" or (row > 0 and column[row - 1] != fact.value)


def _same_name(block: tree.Block, other: tree.Block) -> bool:
    return isinstance(block, tree.Requirement) and isinstance(other, tree.Requirement) and block.name == other.name


def _with_requirement(program: Program, requirement: Requirement) -> Program:
    kept = tuple(each for each in program.requirements if each.name != requirement.name)
    return replace(program, requirements=(*kept, requirement))


def _violated(program: Program, requirement: Requirement, story: Story) -> bool:
    watch = frozenset({requirement.name})
    fast = fast_engine().run(program, story, watch=watch, stop_at_violation=True)
    if fast.judgements[requirement.name].violated_at is None:
        return False
    if story.duration_ms > ROWS_MS:
        return True
    slow = reference_engine().run(program, story, watch=watch, stop_at_violation=True)
    return slow.judgements[requirement.name].violated_at is not None
