"""Starting again: does anything but a fresh press start what moves?"""

from __future__ import annotations

from rungproof.logic.checks.words import many
from rungproof.logic.report.evidence import Evidence
from rungproof.logic.report.markup import (
    NOTHING,
    Html,
    code,
    element,
    joined,
    own,
    paragraph,
    prose,
    section,
    table,
    text,
)
from rungproof.logic.safety.restart import HOW, Restart, RestartRow

#: Causes of one row that are named; the others are counted.
MOST_NAMED = 4

SHORT = (
    "Faults that clear were not tried as causes here (`rungproof evidence --restart` tries them, and takes minutes), "
    "and nothing was proved (`rungproof restart` does)."
)


def restart_section(evidence: Evidence) -> Html:
    """What moves, what came and went, and whether it started again; the stories of those that did."""
    found = evidence.restart
    if found is None:
        words = "Left out: nothing was tried that comes and goes, and what then starts again."
        if evidence.program.controller is None:
            words = "There is no program here that could start anything."
        return section("restart", "Starting again", [paragraph(text(words))])
    starts = dict(found.starts)
    parts = []
    if found.rows:
        heads = [text(each) for each in ("What moves", "Started by", "What came and went", "Afterwards", "How")]
        rows = [_row(group, starts) for group in _groups(found.rows, starts)]
        parts.append(table(heads, rows, f"What was made to come and go, in {many(found.runs, 'run')}", "tight"))
    for name in found.never_started:
        words = " was never seen to start: nothing was tried on it. A scenario that starts it would help."
        parts.append(paragraph(joined((code(name), text(words)))))
    if not parts:
        parts.append(paragraph(text("Nothing that moves was found here.")))
    stories = [
        restart for row in found.rows if row.word == "restarts" for restart in row.restarts if restart.story_text
    ]
    for restart in stories:
        parts.append(element("pre", own(restart.story_text, 3000), class_="story"))
    notes = [paragraph(prose(each), "note") for each in (HOW, "" if "restart" in evidence.whole else SHORT) if each]
    return section("restart", "Starting again", [*parts, *notes])


def _groups(rows: tuple[RestartRow, ...], starts: dict[str, tuple[str, ...]]) -> list[list[RestartRow]]:
    """Rows that say the same of several things that move, together; restarts first."""
    groups: dict[tuple[object, ...], list[RestartRow]] = {}
    for row in sorted(rows, key=lambda row: row.word != "restarts"):
        same = (row.group, row.word, row.causes, row.stopped, starts.get(row.moving), tuple(_causes(row.restarts)))
        groups.setdefault(same, []).append(row)
    return list(groups.values())


def _row(rows: list[RestartRow], starts: dict[str, tuple[str, ...]]) -> list[Html]:
    row = rows[0]
    tried = f"{row.group}: {row.stopped} of {many(row.causes, 'cause')} stopped it"
    return [
        joined((code(each.moving) for each in rows), ", "),
        joined((code(each) for each in starts.get(row.moving, ())), ", ") or text("itself"),
        text(tried),
        element("strong", text(row.word)) if row.word == "restarts" else text(row.word),
        own("; ".join(_causes(row.restarts))) if row.restarts else NOTHING,
    ]


def _causes(restarts: tuple[Restart, ...]) -> list[str]:
    told = list(dict.fromkeys(f"{each.cause} ({each.after}, start {each.hands})" for each in restarts))
    return [*told[:MOST_NAMED], *([f"and {len(told) - MOST_NAMED} more"] if len(told) > MOST_NAMED else [])]
