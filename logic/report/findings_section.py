"""Findings: what the check says without being asked."""

from __future__ import annotations

from pathlib import Path

from rungproof.grammar.diagnosis import Diagnosis
from rungproof.logic.report.evidence import Evidence
from rungproof.logic.report.markup import (
    Html,
    code,
    element,
    joined,
    paragraph,
    saying,
    section,
    table,
    text,
)


def findings_section(evidence: Evidence) -> Html:
    """All findings by place, or that there are none."""
    found = evidence.result.diagnoses
    if not found:
        nothing = "None. Reading the files found nothing to say; that is no verdict about the machine."
        return section("findings", "Findings", [paragraph(text(nothing))])
    heads = [text(each) for each in ("Place", "Grade", "Finding", "What to do")]
    return section("findings", "Findings", [table(heads, map(_row, found), "Findings, by place")])


def _row(found: Diagnosis) -> list[Html]:
    place = f"{Path(found.span.file).name}:{found.span.line}"
    told = joined((saying(found.message), element("div", text(found.code), class_="note")))
    mend = f"{found.mend[:1].upper()}{found.mend[1:]}." if found.mend else ""
    expected = f"Expected: {found.expected}." if found.expected else ""
    return [code(place), text(found.grade), told, saying(" ".join(each for each in (expected, mend) if each))]
