"""The table of faults as text: the worst first, what each word means below."""

from __future__ import annotations

from collections.abc import Sequence

from rungproof.logic.checks.verdict import IN_THE_MODEL
from rungproof.logic.checks.words import many, span_words, time_words
from rungproof.logic.commands.screen import Screen
from rungproof.logic.commands.verdict_text import CAUTIONS
from rungproof.logic.faults.result import DETECTED, ONLY_THESE, OUTCOMES, SHOWS, FaultRow, FaultTable, SafeState

#: Outcomes whose rows are told at length.
AT_LENGTH = ("hazard open", "late", "moves unasked", "requirement broken")

#: Not `none is broken`: beside open hazards that would be read as if all were well.
CLAIMS_KEPT = (
    "no requirement that claims to hold in spite of a single fault is broken by one; that answers no row above"
)


def print_faults(screen: Screen, table: FaultTable) -> None:
    """All of it: situations, rows by outcome, pairs, lost signals, exclusions, the legend, the caution."""
    screen.line(screen.strong("What if it breaks"))
    screen.paragraph(ONLY_THESE)
    for words in table.situations:
        screen.labelled("tried in", words)
    for words in table.untried:
        screen.labelled("untried", words)
    screen.line()
    _rows(screen, table.rows)
    if table.pairs is not None:
        _pairs(screen, table, table.pairs)
    _signals(screen, table)
    _excluded(screen, table)
    _legend(screen, table)


def _rows(screen: Screen, rows: Sequence[FaultRow]) -> None:
    for outcome in OUTCOMES:
        found = [row for row in rows if row.outcome == outcome]
        if found:
            screen.line(screen.strong(f"{outcome} ({len(found)})"))
            for row in found:
                _row(screen, row)
            screen.line()


def _row(screen: Screen, row: FaultRow) -> None:
    name = row.name if row.first is None else f"{' '.join(row.first)}, then {row.name}"
    screen.line(f"  {name:<36} {_seen(row)}".rstrip())
    if row.outcome in AT_LENGTH:
        screen.paragraph(row.words if row.first is None else row.does, 6)
        if row.first is None:
            screen.paragraph(row.does, 6)
        if row.hazards:
            screen.paragraph(f"opens {', '.join(row.hazards)}", 6)
        claimed = f" (said to hold: {', '.join(row.claimed)})" if row.claimed else ""
        if row.broken:
            screen.paragraph(f"breaks {', '.join(row.broken)}{claimed}", 6)
        screen.paragraph(f"where: {row.situation}", 6)
    elif row.outcome in ("goes safe", "shown", "hidden"):
        screen.paragraph(f"{row.does}{_answers(row.safe)}", 6)


def _seen(row: FaultRow) -> str:
    if row.outcome == "no effect":
        return ""
    if row.detected is None or row.detected_ms is None:
        return "latent: nothing shows it"
    after = f"{row.detected}, {time_words(row.detected_ms)}"
    return f"{row.shows}: {after}" if row.shows != "on demand" else f"latent until asked: {after}"


def _answers(safe: Sequence[SafeState]) -> str:
    slow = [
        f"{each.demand}, {time_words(each.reached_ms)}" for each in safe if each.demand and each.reached_ms is not None
    ]
    return f"; every demand brings the safe state, the slowest {'; '.join(slow)}" if slow else ""


def _pairs(screen: Screen, table: FaultTable, pairs: Sequence[FaultRow]) -> None:
    screen.line(
        screen.strong(f"Two faults, the first of them hidden: {many(len(pairs), 'pair')} worse than either alone")
    )
    screen.paragraph(
        f"{table.pairs_tried:,} ordered pairs run; {table.pairs_left_out:,} left out, because nothing that moves, "
        "judges or is seen depends on one of the two, or because another pair does the same and stands for them."
    )
    screen.line()
    _rows(screen, pairs)


def _signals(screen: Screen, table: FaultTable) -> None:
    if not table.signals:
        return
    screen.line(screen.strong("Loss of signal, each analog input"))
    for each in table.signals:
        noticed = each.noticed or "nobody"
        when = f", {time_words(each.noticed_ms)}" if each.noticed_ms is not None else ""
        screen.line(f"  {each.tag} at {each.terminal}, {each.signal}: {each.how}")
        screen.paragraph(f"reads {each.reads}; {each.believes}", 6)
        screen.paragraph(f"{each.goes}; noticed by {noticed}{when}", 6)
    for words in dict.fromkeys(each.mends for each in table.signals):
        screen.paragraph(words, 2)
    screen.line()


def _excluded(screen: Screen, table: FaultTable) -> None:
    if not table.excluded:
        return
    screen.line(screen.strong("Left out of account, as the file says"))
    reasons = dict.fromkeys(each.reason for each in table.excluded)
    for reason in reasons:
        names = ", ".join(f"{each.part} {each.fault}" for each in table.excluded if each.reason == reason)
        screen.paragraph(f'"{reason}": {names}', 2)
    bad = [each for each in table.excluded if each.outcome in AT_LENGTH]
    if bad:
        screen.paragraph(f"Tried all the same, {len(bad)} of them would do harm:", 2)
        for each in bad:
            screen.paragraph(f"{each.part} {each.fault}: {each.outcome}; {each.does}", 6)
    screen.line()


def _legend(screen: Screen, table: FaultTable) -> None:
    outcomes = {row.outcome for row in (*table.rows, *(table.pairs or ()))}
    for outcome, words in OUTCOMES.items():
        if outcome in outcomes:
            screen.labelled(outcome, words, column=24)
    for shows, words in SHOWS.items():
        screen.labelled(shows, words, column=24)
    screen.paragraph(DETECTED)
    screen.line()
    screen.paragraph(f"{ONLY_THESE} {IN_THE_MODEL}")
    screen.paragraph(CAUTIONS)
    screen.line()
    counts = ", ".join(f"{len(table.of(outcome))} {outcome}" for outcome in OUTCOMES if table.of(outcome))
    screen.labelled("faults", f"{table.counted}: {counts}" if table.rows else "none tried", indent=0)
    if not table.rows:
        screen.labelled("claims", "nothing was tried", indent=0)
        return
    claimed = dict.fromkeys(name for row in table.rows for name in row.claimed)
    screen.labelled("claims", f"broken: {', '.join(claimed)}" if claimed else CLAIMS_KEPT, indent=0)
    ran = f"{table.runs:,} runs, {span_words(table.simulated_ms)} of machine time"
    screen.labelled("tried", f"{ran}, in {table.elapsed_s:.1f} s; seed {table.seed}", indent=0)
