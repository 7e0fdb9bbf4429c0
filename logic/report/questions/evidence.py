"""What the verdicts, the faults, the exclusions and the assumptions leave to a person."""

from __future__ import annotations

from collections.abc import Iterator

from rungproof.logic.checks.verdict import CheckResult
from rungproof.logic.checks.words import many
from rungproof.logic.faults.result import FaultRow, FaultTable, Outcome
from rungproof.logic.meaning.program import Program
from rungproof.logic.report.questions.question import Question

#: Names that are listed in one question; the table has all.
MOST_NAMED = 12


def ask_of_exclusions(program: Program, faults: FaultTable | None) -> Iterator[Question]:
    """Each reason to leave faults out of account, with what it hides."""
    known = {(each.part, each.fault): each for each in faults.excluded} if faults is not None else {}
    for reason in dict.fromkeys(each.reason for each in program.exclusions):
        keys = [each.key.partition("!")[::2] for each in program.exclusions if each.reason == reason]
        tried = [known[key] for key in keys if key in known and known[key].outcome is not None]
        bad = [each for each in tried if each.outcome in ("hazard open", "late", "moves unasked", "requirement broken")]
        names = [f"{part} {fault}" for part, fault in keys]
        why = f"Left out of every check and table: {_some(names)}. The reason given: \u201c{reason}\u201d"
        if bad:
            what = "; ".join(f"{each.part} {each.fault}: {each.outcome}, {each.does}" for each in bad[:MOST_NAMED])
            why += f" Tried all the same, {len(bad)} of {len(tried)} would do harm: {what}."
        elif tried:
            why += " Tried all the same, none of them was seen to do harm."
        yield Question(tuple(names[:MOST_NAMED]), "Would you sign this reason, with your name, for these devices?", why)


def ask_of_assumptions(result: CheckResult) -> Iterator[Question]:
    for each in result.assumptions:
        yield Question(
            (),
            f"What makes sure on the machine that this is so: \u201c{each.sentence}\u201d?",
            f"It is assumed, and nothing was looked at beyond it; {each.words}.",
        )


def ask_of_verdicts(program: Program, result: CheckResult) -> Iterator[Question]:
    """Requirements against hazards that are tried and not proved."""
    against = {each.name: each.against for each in program.requirements}
    open_ = [v.requirement for v in result.verdicts if v.word == "simulated" and against.get(v.requirement)]
    if open_:
        yield Question(
            tuple(open_),
            f"Is what was tried of {', '.join(open_)} enough for you?",
            "Each stands against a hazard and was not proved: a search found nothing. Its part of `Requirements` says "
            "what was tried, and what stood in the way of a proof.",
        )


def ask_of_faults(faults: FaultTable | None) -> Iterator[Question]:
    """Single faults that open a hazard, come late or move something, and those that nobody sees."""
    if faults is None:
        return
    for outcome, asked in _ASKED.items():
        rows = faults.of(outcome)
        if rows:
            yield Question(
                _names(rows), asked, f"{many(len(rows), 'single fault')}, {outcome}: {_some(list(_names(rows)))}."
            )
    if faults.untried:
        yield Question((), "Can you judge by hand what could not be tried?", "; ".join(faults.untried) + ".")


_ASKED: dict[Outcome, str] = {
    "hazard open": "Each of these alone defeats the safe state: what is there besides, and is that enough?",
    "late": "With each of these the safe state comes later than is asked for: is it still in time?",
    "moves unasked": "With each of these something moves before anybody starts it: who is within reach then?",
    "requirement broken": "Each of these breaks a requirement that is not said to hold with a fault: does that matter?",
    "hidden": "Nobody sees these until something is asked of the machine: how often is it tried, and by whom?",
}


def _names(rows: tuple[FaultRow, ...]) -> tuple[str, ...]:
    return tuple(row.name for row in rows)


def _some(names: list[str]) -> str:
    shown = ", ".join(names[:MOST_NAMED])
    return shown if len(names) <= MOST_NAMED else f"{shown}, and {len(names) - MOST_NAMED} more in the table"
