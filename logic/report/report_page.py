"""The evidence report as one page: sections in the order in which a reviewer needs them."""

from __future__ import annotations

from collections.abc import Callable

from rungproof.logic.evidence.chart.chart_svg import STYLE as CHART_STYLE
from rungproof.logic.evidence.drawn.ink import STYLE as DRAWING_STYLE
from rungproof.logic.report.coverage_section import coverage_section
from rungproof.logic.report.drawings_section import drawings_section
from rungproof.logic.report.evidence import Evidence
from rungproof.logic.report.faults_section import faults_section
from rungproof.logic.report.files_section import files_section
from rungproof.logic.report.findings_section import findings_section
from rungproof.logic.report.hazards_section import hazards_section
from rungproof.logic.report.lead_section import lead_section
from rungproof.logic.report.markup import Html, element, own, paragraph, section, text
from rungproof.logic.report.open_section import open_box
from rungproof.logic.report.page import cautions, page, signatures
from rungproof.logic.report.questions_section import questions_section
from rungproof.logic.report.requirements_section import requirements_section
from rungproof.logic.report.restart_section import restart_section
from rungproof.logic.report.run_section import run_section
from rungproof.logic.report.scenarios_section import scenarios_section

#: Stands where the stale mark goes, once a file has changed.
STATE_MARK = "<!-- state -->"

#: Anchor, title, section. One module each; a section that has nothing to tell says so.
SECTIONS: tuple[tuple[str, str, Callable[[Evidence], Html]], ...] = (
    ("assumptions", "Assumptions", lead_section),
    ("hazards", "Hazards and their layers", hazards_section),
    ("requirements", "Requirements", requirements_section),
    ("scenarios", "Scenarios", scenarios_section),
    ("faults", "Faults", faults_section),
    ("restart", "Starting again", restart_section),
    ("coverage", "Coverage of the rungs", coverage_section),
    ("findings", "Findings", findings_section),
    ("questions", "Questions for the reviewer", questions_section),
    ("drawings", "Rungs, circuits and wiring", drawings_section),
    ("run", "What was run", run_section),
    ("files", "The files", files_section),
)

#: Proved requirements that the first page names; where there are more, it counts them.
MOST_NAMED = 8

SIGNED = ("Written by", "Reviewed by", "Accepted by")


def report_page(evidence: Evidence, date: str) -> str:
    """The file. `date` stands on a line of its own, the only one that differs between two runs."""
    body = [build(evidence) for _, _, build in SECTIONS]
    signed = section(
        "sign",
        "Signatures",
        [
            paragraph(
                text(
                    "Whoever signs has read each sentence against its restatement, has looked at every requirement "
                    "that is not proved, and knows that the model is not the machine."
                )
            ),
            signatures(SIGNED),
        ],
        "whole",
    )
    contents = [*((anchor, title) for anchor, title, _ in SECTIONS), ("sign", "Signatures")]
    lead = [
        Html(STATE_MARK),
        Html(f'\n<p class="note" id="date">{text(date)}</p>\n'),
        cautions(),
        element("p", _in_short(evidence), class_="said"),
        open_box(evidence),
    ]
    style = DRAWING_STYLE + CHART_STYLE
    return page("Evidence", evidence.name, lead, contents, [*body, signed], more_style=style)


def _in_short(evidence: Evidence) -> Html:
    """One paragraph: the names that somebody must look at come first; many proofs are counted, not named."""
    words: dict[str, list[str]] = {}
    for verdict in evidence.result.verdicts:
        words.setdefault(verdict.word, []).append(verdict.requirement)
    order = ("violated", "vacuous", "undecided", "simulated", "exhausted", "proved")
    told = [f"{word}: {_counted(word, words[word])}" for word in order if word in words]
    return own(". ".join(each[:1].upper() + each[1:] for each in told or ["No requirement"]) + ".")


def _counted(word: str, names: list[str]) -> str:
    if word == "proved" and len(names) > MOST_NAMED:
        return f"{len(names)} requirements, in the model"
    return ", ".join(names)
