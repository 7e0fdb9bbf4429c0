"""Predict, then run: the student writes down what given rungs will do in a story, before anybody has run it.

The sheet is a CSV table with a row for each scan: its end, the inputs as that scan read them, and
empty cells for the tags that are asked for. It is graded cell by cell against the reference engine.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from rungproof.logic.checks.engine_choice import reference_engine
from rungproof.logic.checks.words import time_words
from rungproof.logic.meaning.program import Program, Story
from rungproof.logic.meaning.typed import Scalar
from rungproof.logic.meaning.understand import understand_texts
from rungproof.logic.teaching.exercise import GIVEN, STORY, Exercise, ExerciseError
from rungproof.logic.teaching.grade import Grade, Hint, Item
from rungproof.logic.teaching.submission import RefusedError, files_of, shown
from rungproof.logic.teaching.why import why
from rungproof.logic.teaching.why_words import value_words

#: The table of a prediction that is handed out and in; its most rows.
TABLE, MOST_ROWS = "answer.csv", 400

_ON, _OFF = frozenset(("on", "1", "true", "x", "yes")), frozenset(("off", "0", "false", "no"))


@dataclass(frozen=True, slots=True)
class Run:
    """What is to be predicted: by scan end (ms), the inputs and the tags that are asked for."""

    program: Program
    story: Story
    inputs: tuple[str, ...]
    asked: tuple[str, ...]
    times: tuple[int, ...]
    values: dict[str, tuple[Scalar, ...]]


def run_of(exercise: Exercise) -> Run:
    """Run the story of the exercise. Raises `ExerciseError` where it has none that can be run."""
    files = {"program.rung": exercise.texts[GIVEN] + "\n" + exercise.texts[STORY]}
    understood = understand_texts(files)
    program = understood.program
    if program is None or program.controller is None or not program.scenarios:
        first = next((d for d in understood.diagnoses if d.grade == "error"), None)
        raise ExerciseError("a prediction needs a controller and a story" if first is None else first.message)
    story = program.scenarios[0].story
    trace = reference_engine().run(program, story, watch=frozenset(), record=True).trace
    assert trace is not None, "a run that was to be recorded is"
    tags = program.controller.tags
    for name in exercise.ask:
        if name not in trace.tags:
            raise ExerciseError(f"exercise.toml asks for `{name}`, and no tag is called so")
    asked = exercise.ask or tuple(name for name, tag in tags.items() if tag.role == "output")
    inputs = tuple(name for name, tag in tags.items() if tag.role == "input")
    values = {name: tuple(trace.tags[name]) for name in (*inputs, *asked)}
    return Run(program, story, inputs, asked, tuple(trace.times), values)


def sheet(run: Run) -> str:
    """The table that is handed out: what is asked for is empty."""
    out = io.StringIO()
    table = csv.writer(out, lineterminator="\n")
    table.writerow(["scan_end_ms", *run.inputs, *run.asked])
    for row, time in enumerate(run.times):
        table.writerow([time, *(value_words(run.values[name][row]) for name in run.inputs), *("" for _ in run.asked)])
    return out.getvalue()


def grade_prediction(exercise: Exercise, path: Path, student: str) -> Grade:
    """Grade a table. Raises `RefusedError`."""
    run = run_of(exercise)
    said = _read(path, run)
    items: list[Item] = []
    for name in run.asked:
        first = all(item.hint is None for item in items)
        items.append(_item(exercise, run, name, said[name], first))
    return Grade(student, exercise.name, "graded", tuple(items))


def _read(path: Path, run: Run) -> dict[str, list[str]]:
    (file,) = files_of(path, ".csv")[:1]
    try:
        text = file.read_bytes().decode("utf-8-sig")
        rows = list(csv.reader(io.StringIO(text)))
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise RefusedError(f"{shown(file.name)} is no table in UTF-8") from error
    rows = [row for row in rows if any(cell.strip() for cell in row)]
    heads = [cell.strip() for cell in rows[0]] if rows else []
    missing = [name for name in ("scan_end_ms", *run.asked) if name not in heads]
    if missing:
        raise RefusedError(f"its first row has no column `{missing[0]}`; keep the first row of the sheet")
    if len(rows) > MOST_ROWS:
        raise RefusedError(f"it has more than {MOST_ROWS} rows")
    by_time = {_cell(row, heads.index("scan_end_ms")): row for row in rows[1:]}
    return {
        name: [_cell(by_time.get(str(time), []), heads.index(name)).casefold() for time in run.times]
        for name in run.asked
    }


def _cell(row: list[str], place: int) -> str:
    return row[place].strip() if place < len(row) else ""


def _item(exercise: Exercise, run: Run, name: str, said: list[str], wanted: bool) -> Item:
    worth = exercise.points.get(name, 1)
    wrong = list(_wrong(run, name, said))
    right = len(said) - len(wrong)
    word = "as it runs" if not wrong else f"right in {right} of {len(said)} scans"
    hint = _hint(run, name, wrong[0], said[wrong[0]]) if wrong and wanted else None
    points = worth if not wrong else worth * right // (len(said) + 1)
    at = run.times[wrong[0]] if wrong else None
    return Item(name, False, f"What {name} does, scan by scan", "", word, points, worth, at_ms=at, hint=hint)


def _wrong(run: Run, name: str, said: list[str]) -> Iterator[int]:
    for row, (value, cell) in enumerate(zip(run.values[name], said, strict=True)):
        words = _ON if value else _OFF
        if not (cell in words if isinstance(value, bool) else _is_number(cell, float(value))):
            yield row


def _is_number(cell: str, value: float) -> bool:
    try:
        return abs(float(cell) - value) <= 1e-3 * max(1.0, abs(value))
    except ValueError:
        return False


def _hint(run: Run, name: str, row: int, said: str) -> Hint:
    """The first scan that is wrong: a question, the line that decided, what it did."""
    at = time_words(run.times[row])
    link = why(run.program, run.story, name, run.times[row]).links[0]
    lines = [*link.held, *link.lines]
    where = "Look at the first line that writes it." if not lines else f"Look at line {lines[0].span.line}."
    rung = "" if link.rung is None else f" of rung {link.rung}"
    told = "; ".join(line.words for line in lines) or link.words
    claim = f"you say {shown(said)}" if said else "you say nothing"
    return Hint(
        "prediction",
        "Not what it does",
        f"For {name} at {at} {claim}. Which lines of its rung let power through in that scan, and which do not?",
        f"{where} It belongs to the path{rung}.",
        f"At {at} {name} is {value_words(run.values[name][row])}: {told}.",
    )
