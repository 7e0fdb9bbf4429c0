"""The table of misconceptions, in the order in which they are tried: what is plain before what is broad."""

from __future__ import annotations

from rungproof.logic.teaching.misconceptions.entries_contacts import CONTACTS
from rungproof.logic.teaching.misconceptions.entries_outputs import OUTPUTS
from rungproof.logic.teaching.misconceptions.entries_values import NUMBERS, TIMES
from rungproof.logic.teaching.misconceptions.entry import Misconception

#: A mend that changes little and fits few mistakes comes before one that would mend many.
_ORDER = [
    "wrong-output",
    "never-driven",
    "two-coils-one-output",
    "no-hysteresis",
    "one-scan-late",
    "unit-slip",
    "time-not-as-asked",
    "count-off-by-one",
    "cleared-by-another",
    "forgets-in-a-power-cut",
    "survives-a-power-cut",
    "waits-instead-of-running-on",
    "runs-on-instead-of-waiting",
    "own-time-wanted",
    "ends-too-early",
    "gaps-start-it-anew",
    "limit-itself",
    "scaling-turned-round",
    "control-turned-round",
    "another-limit",
    "comparison-turned-round",
    "seal-in-round-the-stop",
    "release-not-remembered",
    "start-held-down",
    "reset-held-down",
    "edges-never-meet",
    "set-has-the-last-word",
    "reset-beats-a-live-cause",
    "reset-has-the-last-word",
    "step-left-standing",
    "nothing-holds-it",
    "stop-read-backwards",
    "upside-down",
    "must-be-off-here",
    "own-contact-backwards",
    "worked-out-for-nothing",
    "interlock-forgotten",
    "limit-forgotten",
    "lost-signal-believed",
    "both-at-once",
    "second-comes-through",
    "step-out-of-turn",
    "one-needs-the-other",
    "one-scan-only",
    "wrong-edge",
    "one-is-enough",
    "all-at-once-wanted",
    "trip-clears-itself",
    "stays-on",
    "set-for-reset",
    "nothing-takes-it-off",
    "value-left-standing",
    "wrong-contact",
    "a-way-is-missing",
    "a-line-too-many",
    "no-time-at-all",
    "no-run-on",
]

_ROWS = {entry.code: entry for entry in (*OUTPUTS, *CONTACTS, *TIMES, *NUMBERS)}
MISCONCEPTIONS: dict[str, Misconception] = {code: _ROWS[code] for code in _ORDER}
assert set(_ROWS) == set(MISCONCEPTIONS), "every row has its place in the order"
