"""A failed requirement with its story, and how a supposed mend is tried on it."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Literal

from rungproof.grammar import tree
from rungproof.grammar.diagnosis import Diagnosis
from rungproof.logic.checks.engine_choice import fast_engine
from rungproof.logic.meaning.program import Program, Story
from rungproof.logic.teaching.answer import Answer, Task
from rungproof.logic.teaching.judging import holds, proved
from rungproof.logic.teaching.line_words import names_in

#: Mends that are tried on one failed requirement before it is left without a name.
MOST_TRIED = 500

#: Of those that help in the story, so many are tried whole.
MOST_PROOFS = 40

#: Names of the requirements by which a mend is asked whether it leaves anything to happen.
IDLE = "never_comes_on_"

#: Seconds of a processor that looking for a mistake's name may take.
MOST_SECONDS = 4.0

#: Findings that a mend must not bring with it.
_WORSE = frozenset({"two-coils", "coil-and-set"})


@dataclass(frozen=True, slots=True)
class Mend:
    """A supposed mend: the answer with a change made, and where. `answer` None: nothing to try, the pattern says it."""

    answer: Answer | None
    span: tree.Span
    rung: str = ""
    tag: str = ""


@dataclass(slots=True)
class Case:
    """A requirement or scenario that an answer fails. `held`: the requirements that it keeps to."""

    task: Task
    answer: Answer
    program: Program
    requirement: str
    form: tree.Form | tuple[tree.Expect, ...]
    story: Story
    at_ms: int
    diagnoses: tuple[Diagnosis, ...] = ()
    held: frozenset[str] = frozenset()
    tried: int = 0
    proofs: int = 0
    until: float = field(default_factory=lambda: time.process_time() + MOST_SECONDS)
    _broken: frozenset[str] | None = field(default=None)

    # ------------------------------------------------------------------- names

    @property
    def inputs(self) -> list[str]:
        return [line.name for line in self.task.tags if line.role == "input" and line.type == "bool"]

    @property
    def written(self) -> list[str]:
        """Outputs and memories that are on or off."""
        lines = (*self.task.tags, *self.answer.tags)
        return [line.name for line in lines if line.role in ("output", "memory") and line.type == "bool"]

    @property
    def spoken_of(self) -> list[str]:
        """The names that the requirement speaks of, in its order."""
        return list(dict.fromkeys(names_in(self.form)))

    def stages(self) -> list[str]:
        return [e.name for rung in self.answer.rungs for e in rung.elements if isinstance(e, tree.Stage)]

    def comparisons(self) -> list[tree.Compare]:
        """The comparisons in the requirement's formula."""
        return list(_compares(self.form))

    def numbers(self) -> list[tree.Number]:
        """The numbers in the requirement's formula."""
        return list(dict.fromkeys(_numbers(self.form)))

    # ------------------------------------------------------------------- trial

    def helps(self, mend: Mend) -> bool:
        """Whether with the change the requirement holds in the story, and no other one fails in it."""
        if self.tried >= MOST_TRIED or mend.answer is None or time.process_time() > self.until:
            return False
        self.tried += 1
        program, _ = self.task.program(mend.answer)
        return program is not None and self._failing(program) < self._failing_now()

    def mends(self, mend: Mend) -> Literal["all", "this", "nothing"]:
        """What holds with the change that did not before: all that the answer fails, or the requirement asked about;
        `nothing` where that still fails, or something fails that held."""
        if mend.answer is None:
            return "all"
        if not self.helps(mend) or self.proofs >= MOST_PROOFS:
            return "nothing"
        self.proofs += 1
        program, found = self.task.program(mend.answer, tuple(self._never_on()))
        if program is None or self._is_worse(found):
            return "nothing"
        names = {each.name for each in program.requirements if not each.name.startswith(IDLE)}
        idle = [each.name for each in program.requirements if each.name.startswith(IDLE)]
        wanted = self.held | ({self.requirement} & names)
        if not wanted or not holds(program, wanted) or any(proved(program, name) for name in idle):
            return "nothing"
        return "all" if holds(program, frozenset(names - wanted)) else "this"

    def _is_worse(self, found: tuple[Diagnosis, ...]) -> bool:
        had = any(each.code in _WORSE for each in self.diagnoses)
        return not had and any(each.code in _WORSE for each in found)

    def _never_on(self) -> Iterator[tree.Requirement]:
        """What no mend may bring about: that what the requirement speaks of never comes on at all."""
        for place, tag in enumerate(tag for tag in self.spoken_of if tag in self.written):
            span = self.task.controller.span
            yield tree.Requirement(
                span, f"{IDLE}{place}", "It never comes on", (), tree.Never(span, tree.Name(span, tag))
            )

    def _failing_now(self) -> frozenset[str]:
        if self._broken is None:
            self._broken = self._failing(self.program)
        return self._broken

    def _failing(self, program: Program) -> frozenset[str]:
        """What fails in the story: requirements, and the expectations of the scenario that it is of."""
        index = next((i for i, s in enumerate(program.scenarios) if s.name == self.requirement), None)
        story = self.story
        if any(key not in program.knobs for key, _ in story.parameters):
            story = replace(story, parameters=())
        try:
            outcome = fast_engine().run(program, story, scenario=index)
        except ValueError:
            return frozenset(("the story does not fit",)) | self._everything()
        failing = {name for name, judged in outcome.judgements.items() if judged.violated_at is not None}
        if (index is not None and not all(outcome.expectations)) or (
            index is None and self.requirement not in failing and self.requirement in self._scenario_names()
        ):
            failing.add(self.requirement)
        return frozenset(failing)

    def _everything(self) -> frozenset[str]:
        return frozenset(each.name for each in self.program.requirements) | self._scenario_names()

    def _scenario_names(self) -> frozenset[str]:
        return frozenset(each.name for each in self.program.scenarios)


def _walk(node: object) -> Iterator[object]:
    yield node
    if isinstance(node, tuple):
        for each in node:
            yield from _walk(each)
    elif isinstance(node, tree.Node):
        for name in node.__dataclass_fields__:
            if name != "span":
                yield from _walk(getattr(node, name))


def _compares(node: object) -> Iterator[tree.Compare]:
    return (each for each in _walk(node) if isinstance(each, tree.Compare))


def _numbers(node: object) -> Iterator[tree.Number]:
    return (each for each in _walk(node) if isinstance(each, tree.Number))
