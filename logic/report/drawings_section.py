"""The drawn rungs and circuits, one to one with the files, and the wiring between them."""

from __future__ import annotations

from rungproof.logic.evidence.drawing_text import CIRCUIT_NOTE
from rungproof.logic.evidence.drawn.index_page import KEY
from rungproof.logic.report.evidence import Evidence
from rungproof.logic.report.markup import Html, code, element, joined, own, paragraph, prose, section, table, text
from rungproof.logic.sheets.wiring_list import Terminal, terminals_of


def drawings_section(evidence: Evidence) -> Html:
    """Controller, then circuits, then the terminals that join them."""
    parts = [paragraph(text(KEY), "note")]
    for sheet in evidence.drawings:
        parts.append(element("h3", own(sheet.title)))
        if sheet.circuit:
            parts.append(paragraph(prose(CIRCUIT_NOTE), "note"))
        parts += [element("figure", [Html(rung)]) for rung in sheet.rungs]
    parts += _names(evidence)
    terminals = terminals_of(evidence.program)
    if terminals:
        heads = [
            text(each) for each in ("Terminal", "Tag", "Way", "Other end", "Signal", "Supply", "Wire off", "On stop")
        ]
        rows = [
            [
                *(code(t.terminal), code(t.tag), text(t.way), _end(t), text(t.signal), own(t.supply)),
                *(text(t.lost), text(t.on_stop)),
            ]
            for t in terminals
        ]
        parts.append(table(heads, rows, "Which terminal leads where", "tight terminals"))
    return section("drawings", "Rungs, circuits and wiring", parts, "fresh")


def _names(evidence: Evidence) -> list[Html]:
    """Cross-references, each name once: below every drawing they would fill the paper."""
    if not evidence.names:
        return []
    heads = [text(each) for each in ("Name", "What it is", "Written in", "Read in")]
    rows = [
        [
            *(code(each.name), own(each.what or "a wire inside the circuits")),
            *(own(", ".join(each.written)), own(", ".join(each.read))),
        ]
        for each in evidence.names
    ]
    return [
        table(heads, rows, "Names in the drawings, with the rungs, terminals and requirements that use them", "tight")
    ]


def _end(terminal: Terminal) -> Html:
    """What is at the other end, and below it what the file says of the tag: whoever reads both sees a wrong wire."""
    if not terminal.remark:
        return own(terminal.other_end)
    return joined((own(terminal.other_end), element("div", own(terminal.remark), class_="note")))
