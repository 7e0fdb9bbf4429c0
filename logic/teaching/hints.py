"""From a failed requirement to the one hint that helps: which misconception, where, and in three stages."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from rungproof.grammar import tree
from rungproof.grammar.diagnosis import Diagnosis
from rungproof.grammar.tree import Span
from rungproof.logic.meaning.program import Program
from rungproof.logic.teaching.answer import OURS, Answer, Task
from rungproof.logic.teaching.grade import Hint
from rungproof.logic.teaching.judging import Judged
from rungproof.logic.teaching.misconceptions.case import Case, Mend
from rungproof.logic.teaching.misconceptions.catalogue import MISCONCEPTIONS
from rungproof.logic.teaching.misconceptions.entry import Misconception
from rungproof.logic.teaching.why import why

#: The hints that are no misconception of the catalogue.
UNKNOWN, VACUOUS, DOES_NOT_RUN = "not-recognised", "never-comes-about", "does-not-run"


@dataclass(frozen=True, slots=True)
class Graded:
    """An answer that runs. `texts`: the student's files, to quote a line from; `held`: the requirements that do hold,
    which no mend may break."""

    task: Task
    answer: Answer
    program: Program
    diagnoses: tuple[Diagnosis, ...]
    texts: dict[str, str]
    held: frozenset[str] = frozenset()


def hint_for(graded: Graded, judged: Judged) -> Hint:
    """The hint for something that does not hold."""
    task, program, texts = graded.task, graded.program, graded.texts
    if judged.story is None or not judged.fails:
        return _vacuous(judged)
    form = _form(task, judged.name)
    case = Case(
        task,
        graded.answer,
        program,
        judged.name,
        form,
        judged.story,
        judged.at_ms,
        graded.diagnoses,
        graded.held,
    )
    first = [MISCONCEPTIONS[code] for code in task.exercise.hints.get(judged.name, ()) if code in MISCONCEPTIONS]
    entries = [*first, *(each for each in MISCONCEPTIONS.values() if each not in first)]
    named = _best(case, first, first)
    step = None if named is not None else _first_step(case, first)
    if step is not None:  # the author expects it here, and it helps: a broader mend may only look like one
        return _filled(*step, texts)
    found = named or _best(case, entries, first)
    if found is not None:
        return replace(_filled(*found, texts), sure=True)
    # more than one mistake at once: what helps in this story is the first step
    case.tried = 0
    step = _first_step(case, entries)
    return _unknown(program, judged, case, texts) if step is None else _filled(*step, texts)


def _first_step(case: Case, entries: list[Misconception]) -> tuple[Misconception, Mend] | None:
    """The first change that helps in this story, whatever else is still wrong."""
    return next(((entry, mend) for entry in entries for mend in entry.finds(case) if case.helps(mend)), None)


def _form(task: Task, name: str) -> tree.Form | tuple[tree.Expect, ...]:
    """The formula of a requirement, or what a scenario expects."""
    for block in task.blocks:
        if isinstance(block, tree.Requirement) and block.name == name:
            return block.form
        if isinstance(block, tree.Scenario) and block.sentence == name:
            return tuple(line for line in block.lines if isinstance(line, tree.Expect))
    return ()


def _best(case: Case, entries: list[Misconception], first: list[Misconception]) -> tuple[Misconception, Mend] | None:
    """The first change that mends all that fails; else the first that mends what is asked about.

    One that the exercise names (`first`) goes before the others where it mends what is asked about.
    """
    second: tuple[Misconception, Mend] | None = None
    for entry in entries:
        for mend in entry.finds(case):
            mends = case.mends(mend)
            if mends == "all":
                return entry, mend
            if mends == "this" and second is None:
                second = entry, mend
        if second is not None and entry in first:
            return second
    return second


def _filled(entry: Misconception, mend: Mend, texts: dict[str, str]) -> Hint:
    tag = f"`{mend.tag}`" if mend.tag else "this"
    look = entry.look.format(tag=tag)
    return Hint(
        entry.code,
        entry.title,
        _capital(entry.question.format(tag=tag)),
        f"{_place(mend.span, mend.rung, texts)} {_capital(look)}",
        entry.rule.format(tag=tag),
    )


def _place(span: Span, rung: str, texts: dict[str, str]) -> str:
    """`Look at line 12 of answer.rung, in rung run: `start_pb or run`.`"""
    if span.file.startswith(OURS):
        return "Look through all your rungs."
    rows = texts.get(span.file, "").splitlines()
    text = rows[span.line - 1].strip() if 0 < span.line <= len(rows) else ""
    where = f"Look at line {span.line} of {Path(span.file).name}"
    inside = f", in rung {rung}" if rung and not text.startswith("rung ") else ""
    return f"{where}{inside}: `{text}`." if text else f"{where}{inside}."


def _vacuous(judged: Judged) -> Hint:
    if judged.word == "vacuous":
        return Hint(
            VACUOUS,
            "It never comes about",
            "In your program, can that ever happen of which the task speaks here?",
            "Go through your rungs from the output back to the inputs: what would have to come together?",
            "A program that never does anything breaks no rule, and does no work.",
        )
    return Hint(
        UNKNOWN,
        "Not decided",
        "Could your program be simpler?",
        "It was neither proved nor broken in the time there is.",
        "Ask your teacher to look at it.",
    )


def _unknown(program: Program, judged: Judged, case: Case, texts: dict[str, str]) -> Hint:
    """No misconception fits: the story, and the line that decided in it."""
    place = "Replay the story, and find the first instant at which something happens that should not."
    asked = [name for name in (*case.spoken_of, *case.written) if name in case.written]
    if asked and judged.story is not None:
        try:
            links = why(program, judged.story, asked[0], judged.at_ms).links
        except (KeyError, ValueError):
            links = ()
        line = next((line for link in links for line in (*link.lines, *link.held)), None)
        if line is not None:
            place = f"{_place(line.span, links[0].rung or '', texts)} There, in this story, {line.words}."
    return Hint(
        UNKNOWN,
        "Not one of the mistakes that are known",
        "Tell the story below in your own words. What should happen at its end, and what does your program do?",
        place,
        "Read the sentence of the task once more, word by word, with the story beside it.",
    )


def does_not_run(diagnoses: tuple[Diagnosis, ...]) -> Hint:
    """The hint of a text that cannot be run: its first diagnosis, in stages."""
    first = diagnoses[0]
    return Hint(
        DOES_NOT_RUN,
        "It does not run yet",
        f"{first.message} What did you mean to write there?",
        f"It is line {first.span.line} of {Path(first.span.file).name}.",
        _capital(first.mend or first.expected or "") or "Compare the line with the ones that the task shows.",
    )


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
