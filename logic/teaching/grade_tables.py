"""Grades for the teacher: a table in CSV, and pages in HTML, one for each student."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from html import escape

from rungproof.logic.teaching.exercise import Exercise
from rungproof.logic.teaching.grade import NO_LICENCE, Grade, Item

CAUTION = (
    f"{NO_LICENCE} Graded on a model: nothing was measured on a machine. Emergency stop, guarding, two-hand control "
    "and overfill protection belong in hardwired, rated equipment."
)

_STYLE = """
body { font: 16px/1.5 system-ui, sans-serif; margin: 2rem auto; max-width: 52rem; padding: 0 1rem; color: #1b2a33; }
h1 { font-size: 1.5rem; margin: 0 0 .2rem; } h2 { font-size: 1.1rem; margin: 2rem 0 .4rem; }
.sum { color: #4a5a64; margin: 0 0 1.5rem; }
table { border-collapse: collapse; width: 100%; }
th, td { text-align: left; vertical-align: top; padding: .35rem .8rem .35rem 0; }
th { font-weight: 600; border-bottom: 2px solid #1b2a33; } td { border-bottom: 1px solid #d5dde2; }
pre { background: #f3f6f7; padding: .8rem 1rem; overflow-x: auto; font-size: .9rem; }
ol.hint { padding-left: 1.4rem; } ol.hint li { margin: .5rem 0; }
.caution { margin-top: 2.5rem; padding-top: .8rem; border-top: 2px solid #1b2a33; font-weight: 600; }
.no { font-weight: 600; } @media print { body { margin: 0; max-width: none; } }
"""


_STORY = "<p>Without a plant, inputs that it does not name are off.</p>"


def cell(text: object) -> str:
    """A cell that no table program takes for a formula: `=`, `+`, `-`, `@` get an apostrophe before them."""
    said = " ".join(str(text).split())
    return f"'{said}" if said[:1] in ("=", "+", "-", "@") else said


def grades_csv(grades: Sequence[Grade], hints: int) -> str:
    """A row for each student; the items in columns of their own."""
    names = list(dict.fromkeys(item.name for grade in grades for item in grade.items))
    out = io.StringIO()
    table = csv.writer(out, quoting=csv.QUOTE_ALL, lineterminator="\r\n")
    heads = ["student", "outcome", "points", "of", "misconception", *(f"hint {n + 1}" for n in range(hints)), "reason"]
    table.writerow([cell(each) for each in (*heads, *names, "notes", "caution")])
    worth = _worth(grades)
    for grade in grades:
        first = grade.first_hint
        said = list(first.up_to(hints)) if first is not None else []
        said += [""] * (hints - len(said))
        words = {item.name: item.word for item in grade.items}
        row = [grade.student, grade.outcome, grade.points, worth, "" if first is None else first.code]
        row += [*said, grade.reason, *(words.get(name, "") for name in names), "; ".join(grade.notes), NO_LICENCE]
        table.writerow([cell(each) for each in row])
    return out.getvalue()


def _worth(grades: Sequence[Grade]) -> int:
    """All points that there are, for whoever was refused as well: taken from those who were graded."""
    return max((grade.worth for grade in grades), default=0)


def grade_pages(exercise: Exercise, grades: Sequence[Grade], hints: int) -> dict[str, str]:
    """The pages by file name: `index.html` with the table, and one for each student."""
    files, worth = _file_names(grades), _worth(grades)
    pages = {name: student_page(exercise, grade, hints) for grade, name in zip(grades, files, strict=True)}
    rows = [
        f'<tr><td><a href="{escape(name)}">{escape(grade.student)}</a></td><td>{escape(grade.outcome)}</td>'
        f"<td>{grade.points} of {worth}</td><td>{escape(_first(grade))}</td></tr>"
        for grade, name in zip(grades, files, strict=True)
    ]
    heads = "<tr><th>Student</th><th>Outcome</th><th>Points</th><th>First misconception</th></tr>"
    body = f"<h1>{escape(exercise.title)}</h1><p class=sum>{len(grades)} submissions</p>"
    pages["index.html"] = _page(exercise.title, f"{body}<table>{heads}{''.join(rows)}</table>")
    return pages


def student_page(exercise: Exercise, grade: Grade, hints: int) -> str:
    """One student's page: points, each requirement, the hint as far as the teacher lets it, the story."""
    parts = [f"<h1>{escape(exercise.title)}</h1>"]
    score = f"{grade.points} of {grade.worth} points" if grade.outcome == "graded" else escape(grade.outcome)
    parts.append(f"<p class=sum>{escape(grade.student)}: {score}</p>")
    if grade.reason:
        parts.append(f"<p class=no>{escape(grade.reason)}</p>")
    first = grade.first_hint
    if first is not None and hints:
        items = "".join(f"<li>{_code(said)}</li>" for said in first.up_to(hints))
        parts.append(f"<h2>To think about</h2><ol class=hint>{items}</ol>")
    if grade.items:
        heads = "<tr><th>What is asked</th><th>Answer</th><th>Points</th></tr>"
        parts.append(f"<h2>What holds</h2><table>{heads}{''.join(_row(item) for item in grade.items)}</table>")
    story = next((item for item in grade.items if item.story is not None), None)
    if story is not None and story.story is not None:
        parts.append(
            f"<h2>A story in which it fails: {escape(story.name)}</h2>{_STORY}<pre>{escape(story.story)}</pre>"
        )
    if grade.notes:
        parts.append("<h2>Notes</h2><ul>" + "".join(f"<li>{_code(note)}</li>" for note in grade.notes) + "</ul>")
    return _page(f"{exercise.title}: {grade.student}", "".join(parts))


def _row(item: Item) -> str:
    sentence = f" {escape(item.sentence)}" if item.sentence else ""
    formula = f"<br><small>{escape(item.restatement)}</small>" if item.restatement else ""
    mark = "" if item.holds else " class=no"
    return (
        f"<tr><td><b>{escape(item.name)}</b>{sentence}{formula}</td><td{mark}>{escape(item.word)}</td>"
        f"<td>{item.points} of {item.worth}</td></tr>"
    )


def _code(text: str) -> str:
    """Text with `names` set as code; everything in it is escaped first."""
    return re.sub(r"`([^`]*)`", r"<code>\1</code>", escape(text))


def _first(grade: Grade) -> str:
    return "" if grade.first_hint is None else grade.first_hint.title


def _page(title: str, body: str) -> str:
    return (
        f'<!doctype html><html lang="en"><head><meta charset="utf-8"><title>{escape(title)}</title>'
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">"
        f"<style>{_STYLE}</style></head><body>{body}<p class=caution>{escape(CAUTION)}</p></body></html>\n"
    )


def _file_names(grades: Sequence[Grade]) -> list[str]:
    """A file for each student, whatever the names: letters and digits, numbered where two come out alike."""
    taken = {"index"}
    names = []
    for grade in grades:
        plain = re.sub(r"[^A-Za-z0-9]+", "_", grade.student).strip("_")[:60] or "student"
        name, number = plain, 1
        while name.casefold() in taken:
            number += 1
            name = f"{plain}_{number}"
        taken.add(name.casefold())
        names.append(f"{name}.html")
    return names
