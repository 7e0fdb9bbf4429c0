"""The record beside a report: what it was made from, so that a changed file makes it stale.

`evidence.json` holds the SHA-256 of every file and of the report itself. `stale_of` compares; `marked`
writes the answer at the head of the report, where whoever opens it sees it.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from rungproof.logic.report.evidence import Evidence
from rungproof.logic.report.markup import Html, element, text
from rungproof.logic.report.report_page import STATE_MARK

#: Grows by one whenever a key changes its meaning or goes.
FORMAT = 1

REPORT, RECORD = "evidence.html", "evidence.json"

_BEGIN, _END = "<!-- stale -->", "<!-- /stale -->"


class RecordError(ValueError):
    """Raised where a record cannot be read; says in plain words what is wrong with it."""


@dataclass(frozen=True, slots=True)
class Staleness:
    """Why a report is no longer of its files, in words; none where it still is."""

    reasons: tuple[str, ...]

    @property
    def stale(self) -> bool:
        return bool(self.reasons)


def record_text(evidence: Evidence, report: str) -> str:
    """The record of a report, as JSON; no date stands in it."""
    told = {
        "evidence": FORMAT,
        "note": "In the model; nothing was measured on a machine.",
        "of": evidence.name,
        "seed": evidence.result.searched.seed,
        "versions": dict(evidence.versions),
        "files": {name: digest for name, digest, _ in evidence.files},
        "report": _digest(report),
        "verdicts": {verdict.requirement: verdict.word for verdict in evidence.result.verdicts},
        "self_test": {"asked": len(evidence.answers), "agree": sum(each.agrees for each in evidence.answers)},
    }
    return json.dumps(told, indent=2, ensure_ascii=False) + "\n"


def _digest(report: str) -> str:
    """Of the report without its date line: two reports of the same files have the same."""
    kept = [line for line in _unmarked(report).splitlines() if 'id="date"' not in line]
    return hashlib.sha256("\n".join(kept).encode("utf-8")).hexdigest()


def stale_of(record: str, report: str, files: Mapping[str, str]) -> Staleness:
    """Compare a record and its report with the files as they are now: names with their SHA-256.

    Raises `RecordError` where the record is none.
    """
    told = _read(record)
    before: dict[str, str] = told["files"]
    reasons = [f"{name} has changed" for name in before if name in files and files[name] != before[name]]
    reasons += [f"{name} is gone" for name in before if name not in files]
    reasons += [f"{name} is new" for name in files if name not in before]
    if _digest(report) != told["report"]:
        reasons.append("the report itself was changed after it was made")
    return Staleness(tuple(reasons))


def _read(record: str) -> dict[str, Any]:
    try:
        told = json.loads(record)
    except (ValueError, RecursionError) as error:
        raise RecordError(f"it is no JSON: {error}") from error
    if not isinstance(told, dict) or told.get("evidence") != FORMAT:
        raise RecordError(f"it is no record of evidence in format {FORMAT}")
    files, report = told.get("files"), told.get("report")
    if not isinstance(files, dict) or not all(isinstance(each, str) for each in files.values()):
        raise RecordError("`files` should name the SHA-256 of each file")
    if not isinstance(report, str):
        raise RecordError("`report` should be the SHA-256 of the report")
    return told


def marked(report: str, staleness: Staleness) -> str:
    """The report with a banner that says `stale` and why; without one where it is not."""
    clean = _unmarked(report)
    if not staleness.stale:
        return clean
    words = f"stale: {'; '.join(staleness.reasons)}. This report is not of the files as they are now; make it anew."
    banner = element("p", text(words), class_="stale", role="status")
    return clean.replace(STATE_MARK, Html(f"{STATE_MARK}{_BEGIN}{banner}{_END}"), 1)


def _unmarked(report: str) -> str:
    before, begin, rest = report.partition(_BEGIN)
    _, end, after = rest.partition(_END)
    return before + after if begin and end else report
