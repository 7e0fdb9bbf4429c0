"""What comes first: what was assumed, what was allowed for, and what the paper does not say."""

from __future__ import annotations

from collections.abc import Iterator

from rungproof.logic.report.evidence import Evidence
from rungproof.logic.report.markup import Html, element, items, joined, own, paragraph, prose, section, table, text

#: True of every check; the limits of the model stand in the README too.
ALLOWED = (
    "People may press, hold, tape and jam buttons at any time, both hands at once, and let them go.",
    "Power may go and come between scans. A cut inside a scan is not modelled.",
    "No part fails, unless a requirement says `even with any one fault`, or a scenario brings its own fault.",
    "Inputs are read at once when a scan begins; outputs reach their terminals when it ends: the cyclic worst case.",
)

#: What the model leaves out, said where the plant has it: kinds of parts, or "circuit".
MODELLED = (
    (frozenset({"circuit"}), "Circuits are contacts and coils: no voltages, currents or ratings."),
    (frozenset({"tank", "reservoir"}), "Tanks are well mixed."),
    (frozenset({"pump", "dosing_pump"}), "Pumps have no head curve."),
)


def lead_section(evidence: Evidence) -> Html:
    """Assumptions of the author with how often they bit, then what every check allows for."""
    found = evidence.result.assumptions
    heads = [text(each) for each in ("Assumed by the author", "Restated", "How it bore")]
    rows = [[own(each.sentence), own(each.restatement), text(each.words)] for each in found]
    stated = (
        table(heads, rows, "Assumptions: beyond them nothing was looked at")
        if rows
        else paragraph(text("The author assumes nothing: whatever can come to the inputs was allowed to come."))
    )
    taken = evidence.result.envelope
    if taken:
        heads = [text(each) for each in ("Number", "Assumed of the plant by proofs", "Guaranteed by", "How it bore")]
        rows = [[text(str(e.number)), text(e.sentence), text(e.because), text(e.words)] for e in taken]
        proofs = table(heads, rows, "Assumptions of proofs: what the plant's lines say, watched in every run")
        broken = [element("pre", own(e.story_text, 6000), class_="story") for e in taken if e.story_text is not None]
        stated = joined((stated, proofs, *broken))
    allowed = joined(
        (element("h3", text("What was allowed for in every run")), items(prose(each) for each in _allowed(evidence)))
    )
    return section("assumptions", "Assumptions", [stated, allowed])


def _allowed(evidence: Evidence) -> Iterator[str]:
    """What every check allows for, and of the model's limits those that this plant meets."""
    yield from ALLOWED
    plant = evidence.program.plant
    met = {part.kind for part in plant.assembly.parts} if plant is not None else set()
    met |= {"circuit"} if plant is not None and plant.circuits else set()
    limits = [words for kinds, words in MODELLED if kinds & met]
    if limits:
        yield " ".join(limits)
