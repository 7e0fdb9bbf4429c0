"""The table of faults: each alone, the worst first, and what becomes of a lost signal."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator

from rungproof.logic.checks.words import many, span_words, time_words
from rungproof.logic.faults.judge import BAD
from rungproof.logic.faults.result import DETECTED, ONLY_THESE, OUTCOMES, SHOWS, Excluded, FaultRow, FaultTable, Outcome
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
    section,
    table,
    text,
)

#: Lines of one row of a table, each a fault and what it is: a row must not run over a page.
MOST_LINES = 6


def faults_section(evidence: Evidence) -> Html:
    """All faults by outcome; where there is no plant, that nothing is known of any device."""
    found = evidence.faults
    if found is None:
        words = "The files say nothing of a plant: no device, wire or supply could be made to fail."
        if evidence.program.plant is not None:
            words = (
                "Left out: no fault was tried beyond what the requirements say. `rungproof faults` prints the table."
            )
        return section("faults", "Faults", [paragraph(prose(words))])
    whole = "faults" in evidence.whole
    parts = [*_head(found, whole), *_legend(found), *_left_out(found), *_tables(found), *_signals(found)]
    return section("faults", "Faults", parts)


def _head(found: FaultTable, whole: bool) -> Iterator[Html]:
    runs = f"{many(found.runs, 'run')}, {span_words(found.simulated_ms)} of machine time, seed {found.seed}"
    tried = f"Each alone, {found.counted}. {runs}." if found.rows else "None tried."
    yield paragraph(prose(f"{ONLY_THESE} {tried}"))
    if found.rows and found.watched_ms:
        words = f"A machine that goes on after a fault was watched for {span_words(found.watched_ms)} more."
        longer = " What shows later is not seen here; `rungproof faults` watches longer where that matters."
        yield paragraph(prose(words + ("" if whole else longer)))
    yield items(own(f"Tried in: {each}") for each in found.situations)
    yield items(own(f"Could not be tried: {each}") for each in found.untried)


def _legend(found: FaultTable) -> Iterator[Html]:
    """What each word means and how many rows bear it: before the tables, as nobody reads them without it."""
    used = [outcome for outcome in OUTCOMES if found.of(outcome)]
    if not used:
        return
    heads = [text(each) for each in ("Outcome", "Rows", "Which means")]
    rows = [[text(_upper(word)), text(str(len(found.of(word)))), prose(OUTCOMES[word])] for word in used]
    yield table(heads, rows, "What came of the faults", "tight ways")
    shows = [word for word in SHOWS if any(row.shows == word for row in found.rows)]
    told = [joined((element("strong", text(f"shows {word}")), prose(f": {SHOWS[word]}"))) for word in shows]
    yield element("div", [items([*told, prose(DETECTED)])], class_="note")


def _left_out(found: FaultTable) -> Iterator[Html]:
    if found.excluded:
        heads = [text(each) for each in ("Left out by the file", "Its reason", "Tried all the same")]
        rows = [[joined((code(e.part), text(f" {e.fault}"))), own(e.reason), _all_the_same(e)] for e in found.excluded]
        yield table(heads, rows, "Faults that the file leaves out of account")


def _all_the_same(each: Excluded) -> Html:
    """What a fault would do that the file leaves out of account."""
    if each.outcome is None:
        return text("no: no situation to try it in")
    told = f"{each.outcome}: {each.does}" if each.does else each.outcome
    return element("strong", own(told)) if each.outcome in BAD else own(told)


def _tables(found: FaultTable) -> Iterator[Html]:
    """Faults of which the paper says the same stand in one row; each line of it is a fault and what it is."""
    full = ("Faults, and what they are", "The machine", "Shows", "Detected by", "Safe after", "Opens, breaks")
    short = ("Faults, and what they are", "The machine", "Shows, detected by", "Demands answered within")
    for outcome in OUTCOMES:
        rows = found.of(outcome)
        bad = outcome in BAD
        told = [_full(each) if bad else _short(each) for each in _groups(rows, _same_full if bad else _same_short)]
        if told:
            heads = [text(each) for each in (full if bad else short)]
            yield table(heads, told, f"{_upper(outcome)}: {len(rows)}", "tight full" if bad else "tight grouped")


Same = Callable[[FaultRow], Hashable]


def _groups(rows: tuple[FaultRow, ...], same: Same) -> Iterator[list[FaultRow]]:
    """Rows of which the paper would say the same, in the order of the first of each; no more lines than MOST_LINES."""
    groups: dict[Hashable, list[FaultRow]] = {}
    for row in rows:
        groups.setdefault(same(row), []).append(row)
    for group in groups.values():
        lines = list(dict.fromkeys(_line(row) for row in group))
        for start in range(0, len(lines), MOST_LINES):
            chosen = lines[start : start + MOST_LINES]
            yield [row for row in group if _line(row) in chosen]


def _line(row: FaultRow) -> tuple[str, str]:
    """Rows with the same fault in the same words stand on one line of the paper."""
    return row.fault, row.words + (
        "" if row.comes == "for good" or row.comes in f"{row.fault} {row.words}" else f" ({row.comes})"
    )


def _same_short(row: FaultRow) -> Hashable:
    return row.does, _seen(row), _slowest(row)


def _same_full(row: FaultRow) -> Hashable:
    return row.does, _seen(row), _reached(row), row.hazards, row.broken


def _seen(row: FaultRow) -> tuple[str, str]:
    """When it shows, and by what."""
    if row.detected is None:
        return row.shows, ""
    return row.shows, f"{row.detected}, {time_words(row.detected_ms or 0)}"


def _slowest(row: FaultRow) -> str:
    times = [each.reached_ms for each in row.safe if each.demand]
    known = [each for each in times if each is not None]
    return time_words(max(known)) if known and len(known) == len(times) else ""


def _reached(row: FaultRow) -> str:
    return ", ".join(_safe(reached) for reached in dict.fromkeys(each.reached_ms for each in row.safe))


def _lines(rows: list[FaultRow]) -> Html:
    """`X1:1, X1:2 wire_broken: the wire at this terminal is broken`, a fault a line."""
    lines = []
    for fault, words in dict.fromkeys(map(_line, rows)):
        parts = joined((code(row.part) for row in rows if _line(row) == (fault, words)), ", ")
        name = element("strong", joined((parts, text(f" {fault}"))))
        lines.append(element("div", joined((name, text(": "), element("span", own(words), class_="note")))))
    return joined(lines)


def _full(rows: list[FaultRow]) -> list[Html]:
    row = rows[0]
    shows, by = _seen(row)
    worst = joined((code(each) for each in (*row.hazards, *row.broken)), ", ")
    return [_lines(rows), own(row.does), text(shows), own(by or "nobody"), text(_reached(row)), worst]


def _short(rows: list[FaultRow]) -> list[Html]:
    row = rows[0]
    shows, by = _seen(row)
    return [_lines(rows), own(row.does), own(f"{shows}: {by}" if by else shows), text(_slowest(row))]


def _upper(outcome: Outcome) -> str:
    return outcome[:1].upper() + outcome[1:]


def _safe(reached_ms: int | None) -> str:
    return "never" if reached_ms is None else time_words(reached_ms)


def _signals(found: FaultTable) -> Iterator[Html]:
    """What becomes of each loss; what mends it is the same for every loss of a signal, and stands below."""
    if not found.signals:
        return
    heads = [text(each) for each in ("Signal", "Lost so", "Reads", "The program believes", "The plant", "Noticed by")]
    rows = [
        [
            joined((code(each.terminal), text(" "), code(each.tag))),
            text(each.how),
            *(own(each.reads), own(each.believes), own(each.goes), own(each.noticed or "nobody")),
        ]
        for each in found.signals
    ]
    yield table(heads, rows, "Loss of each analog signal", "tight")
    yield from (paragraph(own(mends), "note") for mends in dict.fromkeys(each.mends for each in found.signals) if mends)
