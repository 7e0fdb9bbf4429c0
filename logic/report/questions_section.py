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
    prose,
    saying,
    section,
    table,
    text,
)
from rungproof.logic.report.questions.every import questions_of
from rungproof.logic.report.questions.spoken import Spoken, read_in, rungs_of
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
            rows.append([text(str(number)), saying(each.asked), saying(each.why), blank("7rem")])
        parts.append(table(heads, rows, heading, "asked"))
    if not number:
        parts.append(paragraph(text("The files raise none of the questions that are looked for.")))
    parts += _who(evidence)
    limits = joined((element("h3", text("What this report does not show")), items(prose(each) for each in NOT_SHOWN)))
    return section("questions", "Questions for the reviewer", [*parts, *_presets(evidence), limits])


def _who(evidence: Evidence) -> list[Html]:
    """Which requirements speak of each signal and device: a gap is seen at a glance."""
    spoken = Spoken(evidence.program)
    rows = []
    for tag in spoken.controller.tags.values() if spoken.controller is not None else ():
        if tag.role in ("input", "output"):
            by = spoken.of_input(tag.name) if tag.role == "input" else spoken.of_output(tag.name)
            reached = sorted(device for device, tags in spoken.driven_by.items() if tag.name in tags)
            ends = spoken.source_of.get(tag.name, "") if tag.role == "input" else ", ".join(reached)
            rows.append([code(tag.name), text(tag.role), own(ends or "nothing"), own(", ".join(by) or "none")])
    wired = {name for _, rung in rungs_of(evidence.program) for name in read_in(rung)}
    known = {*spoken.source_of.values(), *(device for device in spoken.driven_by)}
    for name, kind in spoken.kinds.items():
        if name not in known:
            by = spoken.of_device(name)
            ends = "circuits alone" if name in wired else "no contact is read"
            rows.append([code(name), text(kind.replace("_", " ")), text(ends), own(", ".join(by) or "none")])
    heads = [text(each) for each in ("Signal or device", "What it is", "From, or to", "Requirements that speak of it")]
    return [table(heads, rows, "Who speaks of what, by name or by what is wired to it")] if rows else []


def _presets(evidence: Evidence) -> list[Html]:
    presets = list(presets_of(Spoken(evidence.program)))
    if not presets:
        return []
    heads = [
        text(each) for each in ("Timer or counter", "Rung", "Kind", "Preset", "Bounded by the times of", "Named by")
    ]
    rows = [
        [
            *(code(p.stage), code(p.rung), text(p.kind), text(p.preset)),
            *(own(", ".join(names) or "none") for names in (p.bounded_by, p.named_by)),
        ]
        for p in presets
    ]
    return [table(heads, rows, "Presets, beside what is asked for")]
