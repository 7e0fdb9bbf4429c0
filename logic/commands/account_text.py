"""The account of a run as lines: one per instant, time first, events marked."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from rungproof.logic.checks.words import many, rounded
from rungproof.logic.commands.screen import Screen
from rungproof.logic.evidence.account import Account, Moment

#: Column at which the account of an instant begins; an event is marked in the two before it.
COLUMN = 16

#: Instants told before an account becomes a list that nobody reads.
MOST_MOMENTS = 400

#: Numbers nearer to 0 than this are rounding noise to a reader.
NOTHING = 1e-9


def print_account(screen: Screen, account: Account, *, most: int = MOST_MOMENTS) -> None:
    """Times in seconds on the left; `>` before what people, the world or a fault did."""
    for moment in account.moments[:most]:
        _print_moment(screen, account, moment)
    left = len(account.moments) - most
    if left > 0:
        words = f"and {left:,} more instants; a shorter `--for`, `--only NAMES`, or `--json FILE` for all of them"
        _tell(screen, None, " ", words)


def print_ending(screen: Screen, account: Account, spoken_of: Iterable[str], *, most: int) -> None:
    """The last instants at which something happened, and how what is `spoken_of` stood at the end."""
    moments = [replace(moment, numbers=()) for moment in account.moments if moment.events or moment.changes]
    left = len(moments) - most
    if left > 0:
        _tell(screen, None, " ", f"... {many(left, 'earlier instant')}: `rungproof replay` tells all")
    for moment in moments[-most:]:
        _print_moment(screen, account, moment)
    stood = [_value_words(account, name) for name in spoken_of if name in account.at_last]
    if stood:
        _tell(screen, account.last_ms, "!", screen.strong("violated") + ": " + ", ".join(stood))


def _value_words(account: Account, name: str) -> str:
    value = account.at_last[name]
    if isinstance(value, bool):
        return f"{name} {'on' if value else 'off'}"
    return f"{name} {figure_words(value, account.units.get(name))}"


def _print_moment(screen: Screen, account: Account, moment: Moment) -> None:
    time: int | None = moment.at_ms
    if moment.at_ms == account.first_ms and account.on_at_first:
        _tell(screen, time, " ", "on: " + ", ".join(account.on_at_first))
    for event in moment.events:
        _tell(screen, time, ">", screen.strong(event))
        time = None
    if moment.changes:
        _tell(screen, time, " ", ", ".join(_change_words(account, name, value) for name, value in moment.changes))
        time = None
    if moment.numbers:
        figures = [f"{name} {figure_words(value, account.units.get(name))}" for name, value in moment.numbers]
        _tell(screen, time, " ", ", ".join(figures))


def _change_words(account: Account, name: str, value: bool) -> str:
    """`P1.lit on`, `D1 shows "Pump has failed"`."""
    if name in account.says:
        part = name.partition(".")[0]
        return f'{part} {"shows" if value else "no longer shows"} "{account.says[name]}"'
    return f"{name} {'on' if value else 'off'}"


def figure_words(value: float | int, unit: str | None) -> str:
    """`60.3 L`, `65535`: as many places as one can read off; what is next to nothing is 0."""
    text = str(value) if isinstance(value, int) else "0" if abs(value) < NOTHING else rounded(value, 5)
    return text if unit is None else f"{text} {unit}"


def _tell(screen: Screen, at_ms: int | None, mark: str, words: str) -> None:
    time = "" if at_ms is None else f"{at_ms // 1000}.{at_ms % 1000:03d} s"
    first, *rest = screen.rows(words, COLUMN)
    screen.line(f"{time:>{COLUMN - 3}} {mark} {first[COLUMN:]}")
    for row in rest:
        screen.line(row)
