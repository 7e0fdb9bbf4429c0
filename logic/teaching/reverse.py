"""The reverse of an exercise: the rungs are given, and the student writes what they must keep to.

Judged by the mistakes that would be noticed: each known wrong version of the rungs is checked
against the student's requirements, after those have been checked against the rungs as given.
"""

from __future__ import annotations

from dataclasses import dataclass

from rungproof.grammar import tree
from rungproof.grammar.catalogue import CATALOGUE
from rungproof.grammar.diagnosis import Diagnosis, Reporter
from rungproof.logic.meaning.program import Program
from rungproof.logic.meaning.project import Project, load_texts
from rungproof.logic.meaning.understand import understand_project
from rungproof.logic.teaching.exercise import GIVEN, PLANT, SOLUTION, Exercise, ExerciseError
from rungproof.logic.teaching.grade import Grade, Hint, Item
from rungproof.logic.teaching.hints import does_not_run
from rungproof.logic.teaching.judging import Judged, judge, refuted
from rungproof.logic.teaching.misconceptions.catalogue import MISCONCEPTIONS
from rungproof.logic.teaching.submission import RefusedError, Submission

#: Requirements beyond which nobody reads them.
MOST_REQUIREMENTS = 40

#: Mistakes that are made up from the rungs, at most, and the points that they are worth together.
MOST_MADE_UP, MADE_UP_WORTH = 60, 5


@dataclass(frozen=True, slots=True)
class _Mistake:
    """A wrong version of the rungs: what it is called, what it is about, its blocks."""

    name: str
    title: str
    blocks: tuple[tree.Block, ...]


def grade_requirements(exercise: Exercise, submission: Submission, student: str) -> Grade:
    """Grade requirements. Raises `RefusedError`, and `ExerciseError` where the exercise cannot be run."""
    asked = submission.requirements
    if not asked:
        raise RefusedError('it holds no requirement; one begins `requirement R1 "the sentence"`')
    if len(asked) > MOST_REQUIREMENTS:
        raise RefusedError(f"it holds {len(asked)} requirements; no more than {MOST_REQUIREMENTS} are looked at")
    given = _blocks(exercise, exercise.texts[GIVEN])
    program, found = _program(exercise, (*given, *asked))
    errors = tuple(d for d in (*submission.diagnoses, *found) if d.grade == "error" and d.code != "use-missing")
    if program is None or errors:
        first = errors[0] if errors else None
        reason = "it cannot be run" if first is None else f"line {first.span.line}: {first.message}"
        hint = does_not_run(errors) if errors else None
        return Grade(student, exercise.name, "does not run", reason=reason, notes=submission.notes, hint=hint)
    judged = judge(program)
    holding = tuple(block for block in asked if any(each.name == block.name and each.holds for each in judged))
    items = [_own(each) for each in judged]
    items += _noticed(exercise, given, holding, all(each.holds for each in judged))
    items += _made_up(exercise, given, holding)
    return Grade(student, exercise.name, "graded", tuple(items), notes=submission.notes)


def _own(judged: Judged) -> Item:
    """A requirement of the student's: it must hold for the rungs as they are."""
    hint = None
    if judged.fails:
        hint = Hint(
            "not-so",
            "A requirement that the right rungs do not keep to",
            f"The rungs that are given are right. So what does {judged.name} say too much?",
            "Replay the story below, and read your formula at its last instant.",
            "A requirement holds at every instant, for every course of the inputs, through power cuts too.",
        )
    story = judged.story_text if judged.fails else None
    at = judged.at_ms if judged.fails else None
    said = (judged.name, False, judged.sentence, judged.restatement, judged.word)
    return Item(*said, 0, 0, judged.reason, story, at, hint)


def _noticed(
    exercise: Exercise, given: tuple[tree.Block, ...], holding: tuple[tree.Requirement, ...], sound: bool
) -> list[Item]:
    """One item for each mistake: is there a requirement that objects?"""
    items: list[Item] = []
    for mistake in _mistakes(exercise, given):
        by = [block.name for block in holding if _objects(exercise, mistake, block)]
        word = f"noticed by {', '.join(by)}" if by else "not noticed"
        hint = None
        if not by and sound and all(item.hint is None for item in items):
            hint = _hint(mistake)
        items.append(Item(mistake.name, False, mistake.title, "", word, int(bool(by)), 1, hint=hint))
    return items


def _made_up(exercise: Exercise, given: tuple[tree.Block, ...], holding: tuple[tree.Requirement, ...]) -> list[Item]:
    """Mistakes made up from the rungs, of those that the author's requirements notice: how many would be noticed?"""
    from rungproof.logic.mutants.generate import mutants_of

    own = tuple(b for b in _blocks(exercise, exercise.texts.get(SOLUTION, ""), plant=False) if _is_requirement(b))
    noticeable = noticed = 0
    for mutant in mutants_of(given)[:MOST_MADE_UP] if own else ():
        if _any_objects(exercise, mutant.blocks, own):
            noticeable += 1
            noticed += _any_objects(exercise, mutant.blocks, holding)
    if not noticeable:
        return []
    points = MADE_UP_WORTH * noticed // noticeable
    sentence = "Mistakes made up from the rungs, one at a time"
    word = f"{noticed} of {noticeable} noticed"
    return [Item("made-up mistakes", False, sentence, "", word, points, MADE_UP_WORTH)]


def _any_objects(exercise: Exercise, blocks: tuple[tree.Block, ...], requirements: tuple[tree.Block, ...]) -> bool:
    program, _ = _program(exercise, (*blocks, *requirements))
    return program is not None and any(refuted(program, each.name) for each in program.requirements)


def _is_requirement(block: tree.Block) -> bool:
    return isinstance(block, tree.Requirement)


def _hint(mistake: _Mistake) -> Hint:
    return Hint(
        "not-noticed",
        "A mistake that nobody would notice",
        f"Suppose somebody made this mistake: {mistake.title.lower()}. What would the machine do that it must not?",
        "Take each output in turn, and say when it must be off, when it must be on, and what may start it.",
        "A set of requirements that only forbids is kept by a machine that never runs; one that only asks for work is "
        "kept by one that never stops. Write both kinds.",
    )


def _objects(exercise: Exercise, mistake: _Mistake, requirement: tree.Requirement) -> bool:
    program, _ = _program(exercise, (*mistake.blocks, requirement))
    return program is not None and refuted(program, requirement.name)


def _mistakes(exercise: Exercise, given: tuple[tree.Block, ...]) -> list[_Mistake]:
    """The wrong versions that the exercise brings: their rungs stand in place of those of the same name."""
    found = []
    for place, text in enumerate(exercise.wrong.values(), start=1):
        rungs = {b.name: b for b in _blocks(exercise, text, plant=False) if isinstance(b, tree.Rung)}
        blocks = tuple(rungs.get(b.name, b) if isinstance(b, tree.Rung) else b for b in given)
        code = text.partition("expect:")[2].split()[:1]
        title = MISCONCEPTIONS[code[0]].title if code and code[0] in MISCONCEPTIONS else "a line is not as it should be"
        found.append(_Mistake(f"mistake {place}", title, blocks))
    return found


def _blocks(exercise: Exercise, text: str, plant: bool = True) -> tuple[tree.Block, ...]:
    if not text.strip():
        return ()
    reporter = Reporter(CATALOGUE)
    blocks = list(load_texts({GIVEN: text}, reporter).blocks)
    if plant and PLANT in exercise.texts:
        blocks += load_texts({PLANT: exercise.texts[PLANT]}, reporter).blocks
    if reporter.has_errors:
        first = reporter.sorted()[0]
        raise ExerciseError(f"{first.span.file}:{first.span.line}: {first.message}")
    return tuple(blocks)


def _program(exercise: Exercise, blocks: tuple[tree.Block, ...]) -> tuple[Program | None, tuple[Diagnosis, ...]]:
    found = understand_project(Project([], list(blocks)), exercise.folder)
    return found.program, found.diagnoses
