"""An answer put together with what the exercise gives: the program that is graded.

The exercise's own tags, plant and requirements always win; of the student's text only rungs,
memories and parameters are used. So nobody grades himself by a plant or a requirement of his own.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from rungproof.grammar import tree
from rungproof.grammar.catalogue import CATALOGUE
from rungproof.grammar.diagnosis import Diagnosis, Reporter
from rungproof.logic.meaning.program import Program, SourceText
from rungproof.logic.meaning.project import Project, load_texts
from rungproof.logic.meaning.understand import understand_project
from rungproof.logic.teaching.exercise import GIVEN, HIDDEN, PLANT, SHOWN, Exercise, ExerciseError
from rungproof.logic.teaching.submission import RefusedError, Submission

#: Before the names of the exercise's files, so that a student's file of the same name is another one.
OURS = "task/"


@dataclass(frozen=True, slots=True)
class Answer:
    """The part of a program that a student writes."""

    rungs: tuple[tree.Rung, ...]
    tags: tuple[tree.TagLine, ...] = ()
    circuits: tuple[tree.Circuit, ...] = ()

    def with_rung(self, old: tree.Rung, new: tree.Rung | None) -> Answer:
        """The same with one rung changed, or left out."""
        rungs = tuple(new if each is old else each for each in self.rungs)
        return replace(self, rungs=tuple(each for each in rungs if each is not None))


@dataclass(frozen=True, slots=True)
class Task:
    """What an exercise gives, as blocks. `hidden` are the names of requirements and scenarios that are not shown."""

    exercise: Exercise
    controller: tree.Controller
    tags: tuple[tree.TagLine, ...]
    blocks: tuple[tree.Block, ...]
    hidden: frozenset[str]
    sources: tuple[SourceText, ...]

    def program(
        self, answer: Answer, more: tuple[tree.Block, ...] = ()
    ) -> tuple[Program | None, tuple[Diagnosis, ...]]:
        """The program with an answer in it, and what is found about it; `more` are blocks beside the exercise's."""
        tags = tree.Tags(self.controller.span, (*self.tags, *answer.tags))
        blocks: list[tree.Block] = [self.controller, tags, *answer.rungs, *answer.circuits, *self.blocks, *more]
        found = understand_project(Project(list(self.sources), blocks), self.exercise.folder)
        return found.program, found.diagnoses


def read_task(exercise: Exercise) -> Task:
    """What the exercise gives. Raises `ExerciseError` where its own files cannot be read."""
    reporter = Reporter(CATALOGUE)
    blocks: list[tree.Block] = []
    sources: list[SourceText] = []
    hidden: set[str] = set()
    for name in (GIVEN, PLANT, SHOWN, HIDDEN):
        if name not in exercise.texts:
            continue
        text = exercise.texts[name]
        project = load_texts({OURS + name: text}, reporter)
        blocks += project.blocks
        sources += project.sources
        if name == HIDDEN:
            hidden |= {b.name for b in project.blocks if isinstance(b, tree.Requirement)}
            hidden |= {b.sentence for b in project.blocks if isinstance(b, tree.Scenario)}
    if reporter.has_errors:
        first = reporter.sorted()[0]
        raise ExerciseError(f"{first.span.file}:{first.span.line}: {first.message}")
    controllers = [b for b in blocks if isinstance(b, tree.Controller)]
    if len(controllers) != 1:
        raise ExerciseError(f"{GIVEN} needs one `controller` line")
    tags = tuple(line for b in blocks if isinstance(b, tree.Tags) for line in b.lines)
    others = tuple(b for b in blocks if not isinstance(b, tree.Controller | tree.Tags | tree.Use))
    return Task(exercise, controllers[0], tags, others, frozenset(hidden), tuple(sources))


def _no_terminal(task: Task, line: tree.TagLine) -> str:
    words = f"line {line.span.line} makes an {line.role} `{line.name}`, and the task has no terminal for it; "
    if any(line.name in choices for choices in task.exercise.varies.values()):
        return words + "was the sheet handed out with --variants?"
    return words + "a tag of your own is a memory"


def answer_of(task: Task, submission: Submission) -> tuple[Answer, tuple[str, ...]]:
    """The student's part, and what was not used of it. Raises `RefusedError` for an input or output of his own."""
    given = {line.name.lower(): line for line in task.tags}
    own: list[tree.TagLine] = []
    notes = list(submission.notes)
    for line in submission.tags:
        ours = given.get(line.name.lower())
        if ours is None:
            if line.role in ("input", "output"):
                raise RefusedError(_no_terminal(task, line))
            own.append(line)
        elif replace(line, remark=None) != replace(ours, remark=None):
            notes.append(f"the line of tag `{ours.name}` was put back as the task has it")
    if any(c.every != task.controller.every for c in submission.controllers):
        notes.append("the scan time was put back as the task has it")
    if submission.requirements and "requirements" not in task.exercise.answer:
        notes.append("requirements of your own were left aside: the task has its own")
    circuits = submission.circuits if "circuit" in task.exercise.answer else ()
    if submission.circuits and not circuits:
        notes.append("the block `circuit` was left aside: the task has its own")
    return Answer(submission.rungs, tuple(own), circuits), tuple(dict.fromkeys(notes))
