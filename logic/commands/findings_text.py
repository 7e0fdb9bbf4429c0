"""Findings as text: each as a colleague would say it, errors counted."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rungproof.grammar.diagnosis import Diagnosis
from rungproof.grammar.excerpt import render
from rungproof.grammar.source import split_lines
from rungproof.logic.checks.words import many
from rungproof.logic.evidence.wrapping import wrap
from rungproof.logic.meaning.program import SourceText

#: Findings of one check that are printed; whoever has more mends these first.
MOST_FINDINGS = 100


def findings_text(diagnoses: Sequence[Diagnosis], sources: Iterable[SourceText], width: int) -> str:
    """All findings, a blank line between them; sentences wrapped to `width`, the file's own lines not."""
    lines = {source.path: split_lines(source.text) for source in sources}
    blocks = [_wrapped(render(diagnosis, lines), width) for diagnosis in diagnoses[:MOST_FINDINGS]]
    left = len(diagnoses) - MOST_FINDINGS
    if left > 0:
        blocks.append(f"{many(left, 'more finding')}; mend these first, or see all of them with `--json FILE`")
    return "\n\n".join(blocks)


def _wrapped(text: str, width: int) -> str:
    rows = []
    for line in text.split("\n"):
        if line.startswith("    ") and not line.startswith("        "):
            rows += ["    " + row for row in wrap(line.strip(), width - 4)]
        else:
            rows.append(line)
    return "\n".join(rows)


def findings_count(diagnoses: Iterable[Diagnosis]) -> str:
    """`2 errors, 1 warning`, or `none`."""
    grades = [diagnosis.grade for diagnosis in diagnoses]
    counts = [many(grades.count(grade), grade) for grade in ("error", "warning", "note") if grade in grades]
    return ", ".join(counts) or "none"
