"""Questions for the reviewer, worked out from the files, and what this report does not show."""

from __future__ import annotations

from rungproof.logic.report.evidence import Evidence
from rungproof.logic.report.markup import (
    Html,
    blank,
    code,
    element,
    items,
    joined,
    own,
    paragraph,
    section,
    table,
    text,
)
from rungproof.logic.report.questions.every import questions_of
from rungproof.logic.report.questions.spoken import Spoken
from rungproof.logic.report.questions.times import presets_of

ABOUT = (
    "Worked out from the files: what they leave open, and what a person alone can answer. That a question stands here "
    "does not say that anything is wrong, and that none does not say that all is well. Answer each in writing, or "
    "change the files."
)

NOT_SHOWN = (
    "Whether the files describe the machine: wiring, contacts, times, sizes, and what can happen to people there.",
    "Whether the hazards named are all there are, and what performance level or category each function needs.",
    "Hazards of electricity, heat, noise, pressure and tools; strength, ratings, separation and routing of wires.",
    "Two faults at once (`rungproof faults --pairs`), faults that the model does not know, and a cut inside a scan.",
    "Whether the requirements would notice a mistake in the rungs (`rungproof mutants` puts mistakes in and asks).",
)


def questions_section(evidence: Evidence) -> Html:
    """Tables with room for an answer, then presets beside the requirements that bound them, then the limits."""
    parts = [paragraph(text(ABOUT))]
    number = 0
    heads = [text(each) for each in ("No.", "Question", "Why it is put", "Answer")]
    for heading, asked in questions_of(evidence.program, evidence.result, evidence.faults):
        rows = []
        for each in asked:
            number += 1
            rows.append([text(str(number)), own(each.asked), own(each.why), blank("7rem")])
        parts.append(table(heads, rows, heading, "asked"))
    if not number:
        parts.append(paragraph(text("The files raise none of the questions that are looked for.")))
    limits = joined((element("h3", text("What this report does not show")), items(text(each) for each in NOT_SHOWN)))
    return section("questions", "Questions for the reviewer", [*parts, *_presets(evidence), limits])


def _presets(evidence: Evidence) -> list[Html]:
    presets = list(presets_of(Spoken(evidence.program)))
    if not presets:
        return []
    heads = [
        text(each) for each in ("Timer or counter", "Rung", "Kind", "Preset", "Times of requirements about the same")
    ]
    rows = [
        [code(p.stage), code(p.rung), text(p.kind), text(p.preset), own(", ".join(p.bounded_by) or "none")]
        for p in presets
    ]
    return [table(heads, rows, "Presets, beside what is asked for")]
