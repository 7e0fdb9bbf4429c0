"""The table of faults: each alone, the worst first, and what becomes of a lost signal."""

from __future__ import annotations

from collections.abc import Iterator

from rungproof.logic.checks.words import many, span_words, time_words
from rungproof.logic.faults.judge import BAD
from rungproof.logic.faults.result import DETECTED, ONLY_THESE, OUTCOMES, SHOWS, Excluded, FaultRow, FaultTable, Outcome
from rungproof.logic.report.evidence import Evidence
from rungproof.logic.report.markup import (
    NOTHING,
    Html,
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


def faults_section(evidence: Evidence) -> Html:
    """All faults by outcome; where there is no plant, that nothing is known of any device."""
    found = evidence.faults
    if found is None:
        words = "The files say nothing of a plant: no device, wire or supply could be made to fail."
        if evidence.program.plant is not None:
            words = (
                "Left out: no fault was tried beyond what the requirements say. `rungproof faults` prints the table."
            )
        return section("faults", "Faults", [paragraph(text(words))])
    whole = "faults" in evidence.whole
    return section("faults", "Faults", [*_head(found, whole), *_tables(found), *_signals(found), *_legend(found)])


def _head(found: FaultTable, whole: bool) -> Iterator[Html]:
    counts = [f"{len(found.of(outcome))} {outcome}" for outcome in OUTCOMES if found.of(outcome)]
    runs = f"{many(found.runs, 'run')}, {span_words(found.simulated_ms)} of machine time, seed {found.seed}"
    tried = f"Each alone, {found.counted}: {', '.join(counts)}. {runs}." if found.rows else "None tried."
    yield paragraph(text(f"{ONLY_THESE} {tried}"))
    if found.rows and found.watched_ms:
        words = f"A machine that goes on after a fault was watched for {span_words(found.watched_ms)} more."
        longer = " What shows later is not seen here; `rungproof faults` watches longer where that matters."
        yield paragraph(text(words + ("" if whole else longer)))
    yield items(own(f"Tried in: {each}") for each in found.situations)
    yield items(own(f"Could not be tried: {each}") for each in found.untried)
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
    """What a reviewer must act on in full; of the others what it is, who sees it, and how soon the machine is safe."""
    full = ("Fault", "What it is", "The machine", "Shows", "Seen by", "Safe after", "Opens, breaks")
    short = ("Faults", "What it is", "Shows", "The machine; every demand answered within")
    for outcome in OUTCOMES:
        rows = found.of(outcome)
        caption = f"{_upper(outcome)}: {len(rows)}"
        if rows and outcome in BAD:
            yield table([text(each) for each in full], [_row(row) for row in rows], caption, "tight")
        elif rows:
            yield table(
                [text(each) for each in short], [_alike(each) for each in _groups(rows)], caption, "tight grouped"
            )


def _groups(rows: tuple[FaultRow, ...]) -> list[list[FaultRow]]:
    """Rows of which the paper would say the same, together, in the order of the first of each."""
    groups: dict[tuple[object, ...], list[FaultRow]] = {}
    for row in rows:
        groups.setdefault((row.words, row.comes, row.does, *_seen(row), _slowest(row)), []).append(row)
    return list(groups.values())


def _seen(row: FaultRow) -> tuple[str, str]:
    """When it shows, and by what."""
    if row.detected is None:
        return row.shows, ""
    return row.shows, f"{row.detected}, {time_words(row.detected_ms or 0)}"


def _slowest(row: FaultRow) -> str:
    times = [each.reached_ms for each in row.safe if each.demand]
    known = [each for each in times if each is not None]
    return time_words(max(known)) if known and len(known) == len(times) else ""


def _named(rows: list[FaultRow]) -> Iterator[Html]:
    """`X1:1, X1:2 wire_broken`: the parts of each fault together."""
    for fault in dict.fromkeys(row.fault for row in rows):
        parts = joined((code(row.part) for row in rows if row.fault == fault), ", ")
        yield joined((parts, text(f" {fault}")))


def _alike(rows: list[FaultRow]) -> list[Html]:
    row = rows[0]
    shows, by = _seen(row)
    told = "; ".join(each for each in (row.does, _slowest(row)) if each)
    return [
        joined(_named(rows), "; "),
        own(row.words + ("" if row.comes == "for good" else f" ({row.comes})")),
        own(f"{shows}: {by}" if by else shows),
        own(told),
    ]


def _upper(outcome: Outcome) -> str:
    return outcome[:1].upper() + outcome[1:]


def _row(row: FaultRow) -> list[Html]:
    seen = NOTHING
    if row.detected is not None:
        seen = joined((own(row.detected), text(f", {time_words(row.detected_ms or 0)}")))
    comes = "" if row.comes == "for good" else f" ({row.comes})"
    safe = [_safe(reached) for reached in dict.fromkeys(each.reached_ms for each in row.safe)]
    worst = joined((code(each) for each in (*row.hazards, *row.broken)), ", ")
    return [
        joined((code(row.part), text(f" {row.fault}"))),
        own(row.words + comes),
        own(row.does),
        text(row.shows),
        seen or text("nobody"),
        text(", ".join(safe)),
        worst,
    ]


def _safe(reached_ms: int | None) -> str:
    return "never" if reached_ms is None else time_words(reached_ms)


def _signals(found: FaultTable) -> Iterator[Html]:
    if not found.signals:
        return
    heads = [
        text(each) for each in ("Signal", "Lost so", "Reads", "The program believes", "The plant", "Noticed by", "Mend")
    ]
    rows = [
        [
            joined((code(each.terminal), text(" "), code(each.tag))),
            text(each.how),
            own(each.reads),
            own(each.believes),
            own(each.goes),
            own(each.noticed or "nobody"),
            own(each.mends),
        ]
        for each in found.signals
    ]
    yield table(heads, rows, "Loss of each analog signal", "tight")


def _legend(found: FaultTable) -> Iterator[Html]:
    used = [outcome for outcome in OUTCOMES if found.of(outcome)]
    told = [joined((element("strong", text(word)), text(f": {OUTCOMES[word]}"))) for word in used]
    told += [joined((element("strong", text(f"shows {word}")), text(f": {words}"))) for word, words in SHOWS.items()]
    yield element("div", [items([*told, text(DETECTED)])], class_="note")
