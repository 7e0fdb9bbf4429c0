"""Hazards with their layers: who guards them, and what defeats each layer alone."""

from __future__ import annotations

from collections.abc import Iterator

from rungproof.logic.checks.words import many
from rungproof.logic.report.evidence import Evidence
from rungproof.logic.report.markup import (
    Html,
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
from rungproof.logic.safety.findings import LayerRow
from rungproof.logic.safety.independence import HOW, HazardRow

_LAYERS = {"circuit": "hardwired", "program": "the program", "operator": "a person who stops it"}


def hazards_section(evidence: Evidence) -> Html:
    """The section; where the files name no hazard, it says what that means."""
    rows = evidence.independence.hazards
    if not rows:
        nothing = "The files name no hazard. That says nothing about the machine: whoever signs knows its hazards."
        return section("hazards", "Hazards and their layers", [paragraph(text(nothing))])
    parts = [part for row in rows for part in _hazard(evidence, row)]
    return section("hazards", "Hazards and their layers", [*parts, paragraph(prose(HOW), "note")])


def _hazard(evidence: Evidence, row: HazardRow) -> Iterator[Html]:
    yield element("h3", joined((code(row.hazard), text(" "), own(row.sentence))))
    against = [r.name for r in evidence.program.requirements if row.hazard in r.against]
    words = {v.requirement: v.word for v in evidence.result.verdicts}
    told = joined((joined((code(name), text(f" {words.get(name, 'not judged')}"))) for name in against), ", ")
    facts = [
        ("Safe state", code(row.safe_state) if row.safe_state else text("the file names none")),
        ("Required", told if against else text("nothing: no requirement stands against this hazard")),
    ]
    if row.told_by:
        shown = (joined((code(name), text(f" (by {', '.join(sensors)})"))) for name, sensors in row.told_by)
        facts.append(("People see it by", joined(shown, ", ")))
    yield element(
        "dl",
        [part for name, inner in facts for part in (element("dt", text(name)), element("dd", inner))],
        class_="facts",
    )
    if row.why_not:
        why = row.why_not if row.safe_state else "the file declares no safe state for it"
        yield paragraph(joined((text("Layers could not be worked out: "), saying(why), text("."))))
        return
    heads = [text(each) for each in ("Layer", "Sees the hazard by", "Defeated by any one of")]
    yield table(heads, [_layer(layer) for layer in row.layers], f"Layers against {row.hazard}")
    found = [joined((text(f"{each.grade}: "), saying(each.message))) for each in row.findings]
    yield items(found)


def _layer(row: LayerRow) -> list[Html]:
    layer = row.layer
    sees = joined((code(each) for each in (*layer.sensors, *sorted({stopper.tag for _, stopper in layer.reads}))), ", ")
    singles = items(joined((code(each.element), text(f" {each.words}"))) for each in row.cuts.singles)
    name = text(_LAYERS.get(layer.name, layer.name))
    if not row.cuts.works:
        return [name, sees, text("it does not act even when all is well")]
    pairs = text(f"{len(row.cuts.doubles)} of {many(row.cuts.pairs_tried, 'pair')} of other failures")
    return [name, sees, joined((singles or text("no single failure of those tried; "), pairs))]
