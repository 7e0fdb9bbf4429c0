"""The right sample beside a misconception's wrong one: made by the mend, and shown to hold."""

from __future__ import annotations

from pathlib import Path

from rungproof.grammar import tree
from rungproof.grammar.unparse import to_text
from rungproof.logic.teaching.answer import Answer, answer_of, read_task
from rungproof.logic.teaching.exercise import GIVEN, SHOWN, Exercise
from rungproof.logic.teaching.judging import judge
from rungproof.logic.teaching.misconceptions.case import Case
from rungproof.logic.teaching.misconceptions.entry import SAMPLE_GIVEN, Misconception
from rungproof.logic.teaching.submission import read_texts


def right_sample(entry: Misconception) -> str | None:
    """The sample's rungs with the mistake undone, so that its requirement holds; None where only a pattern is known."""
    texts = {GIVEN: SAMPLE_GIVEN, SHOWN: entry.sample.requirements}
    task = read_task(Exercise(Path(), "Sample", 5, "Sample.", "rungs", texts))
    answer, _ = answer_of(task, read_texts({"sample.rung": entry.sample.answer}))
    program, found = task.program(answer)
    if program is None:
        return None
    judged = judge(program)
    failed = next(each for each in judged if each.fails)
    form = next(b.form for b in task.blocks if isinstance(b, tree.Requirement) and b.name == failed.name)
    held = frozenset(each.name for each in judged if each.holds)
    assert failed.story is not None, "what fails has a story"
    case = Case(task, answer, program, failed.name, form, failed.story, failed.at_ms, found, held)
    for mend in entry.finds(case):
        if mend.answer is not None and case.mends(mend) != "nothing":
            return _text(mend.answer)
    return None


def _text(answer: Answer) -> str:
    blocks: tuple[tree.Block, ...] = answer.rungs
    if answer.tags:
        blocks = (tree.Tags(answer.tags[0].span, answer.tags), *blocks)
    return to_text(tree.SourceFile("", blocks))
