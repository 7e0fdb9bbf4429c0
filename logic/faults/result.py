"""The table of faults as data: what `rungproof.logic.faults_of` gives back.

"At once", "hidden" and the other words are defined here, once, and printed below every table.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from rungproof.logic.checks.html import table
from rungproof.logic.checks.verdict import EXIT_FINE, EXIT_OPEN, EXIT_VIOLATED, IN_THE_MODEL

#: What stands on every table.
ONLY_THESE = "Faults in this list only."

#: What is said where the machine was never seen at work.
NOTHING_TRIED = (
    "no fault was tried: nothing was found that takes the machine out of a declared safe state. A hazard with "
    "`safe state CONDITION` and a scenario that starts the machine would help"
)

Outcome = Literal[
    "hazard open", "late", "moves unasked", "requirement broken", "hidden", "shown", "goes safe", "no effect"
]
Shows = Literal["at once", "later", "on demand", "never"]

#: The worst first. A row's outcome is the worst of all its situations.
OUTCOMES: Mapping[Outcome, str] = {
    "hazard open": "what a person, a cut or a stop demands does not bring the declared safe state, or a requirement "
    "about the machine that stands against a hazard is violated",
    "late": "every demand brings the safe state, but later than a requirement against a hazard allows",
    "moves unasked": "the machine leaves its safe state before anybody has started it",
    "requirement broken": "a requirement is violated that stands against no hazard, or looks into the program only",
    "hidden": "nothing anybody can see changes until something is asked of the machine, or until another thing fails; "
    "every demand here still brings the safe state, if only by one layer where there were two "
    "(`rungproof independence` says which are left)",
    "shown": "the machine goes on, every demand brings the safe state, and somebody can see the fault",
    "goes safe": "the machine goes to its declared safe state by itself, or cannot be started",
    "no effect": "nothing in the model that moves, judges or is seen depends on it",
}

#: How a fault shows, in the run with it beside the same run without it.
SHOWS: Mapping[Shows, str] = {
    "at once": "within a second of its coming, with nothing asked of the machine",
    "later": "after more than a second, with nothing asked of the machine",
    "on demand": "only once something is asked of the machine; until then it is latent",
    "never": "in no situation here: it is latent until another thing fails",
}

DETECTED = (
    "Detected means: for 0.3 s a lamp or a horn stands otherwise than without the fault, or the machine stands where "
    "it would go, or goes where it would stand; or a tag of the program takes a value that it never takes without the "
    "fault (seen only by whoever looks into the program, and marked `tag`)."
)


@dataclass(frozen=True, slots=True)
class SafeState:
    """What becomes of one declared safe state in the row's worst demand.

    `reached_ms`: time from the demand (or, without one, from the fault) until the safe state stands
    and stays; None if it is not reached while the run lasts. `healthy_ms`: the same without the fault.
    """

    hazards: tuple[str, ...]
    demand: str
    reached_ms: int | None
    healthy_ms: int | None

    def to_json(self) -> dict[str, Any]:
        return {
            "hazards": list(self.hazards),
            "demand": self.demand,
            "reached_ms": self.reached_ms,
            "healthy_ms": self.healthy_ms,
        }


@dataclass(frozen=True, slots=True)
class FaultRow:
    """One fault, or one ordered pair of them (`first` is then the one that came before, hidden).

    `part`, `fault`: as a scenario names them; `words`: what it is, in the trade's words; `comes`:
    `for good`, `on and off` or `for a moment`. `shows`, `outcome`: see `SHOWS`, `OUTCOMES`.
    `detected`: by what, None if by nothing; `detected_ms`: how long after the fault came. `safe`:
    the worst of each safe state. `broken`: requirements that this fault breaks (none of them is
    violated without it), `claimed` those of them that say `even with any one fault`. `hazards`:
    those that open. `situation`: where `story` shows what the row says; the story is a `scenario`
    block for `rungproof replay`. `replayed`: the reference engine has run it to the same end in
    this very run of the command; False where that was left out for its length.
    """

    part: str
    fault: str
    words: str
    comes: str
    outcome: Outcome
    shows: Shows
    detected: str | None
    detected_ms: int | None
    safe: tuple[SafeState, ...]
    broken: tuple[str, ...]
    claimed: tuple[str, ...]
    hazards: tuple[str, ...]
    does: str
    situation: str
    story: str
    replayed: bool
    first: tuple[str, str] | None = None

    @property
    def name(self) -> str:
        """`K1.2 welded`."""
        return f"{self.part} {self.fault}"

    @property
    def time_to_safe_ms(self) -> int | None:
        """The longest time to a safe state; None where one is not reached, or none is declared."""
        times = [each.reached_ms for each in self.safe]
        return None if not times or None in times else max(time for time in times if time is not None)

    def to_json(self) -> dict[str, Any]:
        found: dict[str, Any] = {
            "part": self.part,
            "fault": self.fault,
            "words": self.words,
            "comes": self.comes,
            "outcome": self.outcome,
            "shows": self.shows,
            "detected": self.detected,
            "detected_ms": self.detected_ms,
            "time_to_safe_ms": self.time_to_safe_ms,
            "safe": [each.to_json() for each in self.safe],
            "broken": list(self.broken),
            "claimed": list(self.claimed),
            "hazards": list(self.hazards),
            "does": self.does,
            "situation": self.situation,
            "story": self.story,
            "replayed": self.replayed,
        }
        if self.first is not None:
            found["first"] = {"part": self.first[0], "fault": self.first[1]}
        return found


@dataclass(frozen=True, slots=True)
class Excluded:
    """A fault that the file leaves out of account, and the reason that it gives.

    `outcome`, `does`: what came of it when it was tried all the same; None where nothing could be tried.
    """

    part: str
    fault: str
    reason: str
    outcome: Outcome | None = None
    does: str = ""

    def to_json(self) -> dict[str, Any]:
        told = {} if self.outcome is None else {"outcome": self.outcome, "does": self.does}
        return {"part": self.part, "fault": self.fault, "reason": self.reason, **told}


@dataclass(frozen=True, slots=True)
class SignalLoss:
    """One analog input, lost in one way: `how` is `0 V`, `full scale`, `frozen`, `floating`.

    `reads`: the counts or the value at the terminal; `believes`: what the program's numbers then
    say. `goes`: which way the plant goes; `noticed`: who notices, None if nobody; `mends`: what
    would make the loss tell itself apart from a reading.
    """

    tag: str
    terminal: str
    signal: str
    how: str
    fault: str
    reads: str
    believes: str
    goes: str
    noticed: str | None
    noticed_ms: int | None
    mends: str
    story: str

    def to_json(self) -> dict[str, Any]:
        return {
            "tag": self.tag,
            "terminal": self.terminal,
            "signal": self.signal,
            "how": self.how,
            "fault": self.fault,
            "reads": self.reads,
            "believes": self.believes,
            "goes": self.goes,
            "noticed": self.noticed,
            "noticed_ms": self.noticed_ms,
            "mends": self.mends,
            "story": self.story,
        }


@dataclass(frozen=True, slots=True)
class FaultTable:
    """All rows. `situations`: in which the machine was tried; `untried`: why some could not be;
    `pairs`: rows of two faults, None if nobody asked; `pairs_tried`, `pairs_left_out`: how many
    ordered pairs were run, and how many left out because nothing that is watched depends on one
    of them. `signals`: the loss of each analog input. `watched_ms`: for how long at most a machine that runs
    on was watched after a fault, beyond the seconds in which it is asked. `known`: how many of the faults are
    those that `even with any one fault` means; the rows hold each way of coming, and power that fails, too."""

    rows: tuple[FaultRow, ...]
    excluded: tuple[Excluded, ...] = ()
    signals: tuple[SignalLoss, ...] = ()
    situations: tuple[str, ...] = ()
    untried: tuple[str, ...] = ()
    pairs: tuple[FaultRow, ...] | None = None
    pairs_tried: int = 0
    pairs_left_out: int = 0
    watched_ms: int = 0
    known: int = 0
    seed: int = 0
    runs: int = 0
    simulated_ms: int = 0
    elapsed_s: float = field(default=0.0, compare=False)

    @property
    def exit_code(self) -> int:
        """1 where a requirement that says `even with any one fault` is violated by one, 3 where no fault was tried."""
        if not self.rows and self.untried:
            return EXIT_OPEN
        return EXIT_VIOLATED if any(row.claimed for row in self.rows) else EXIT_FINE

    @property
    def counted(self) -> str:
        """How many rows there are, and how many faults they are about, in words."""
        others = sum(row.comes != "for good" for row in self.rows)
        words = f"{len(self.rows)} rows: {self.known} faults of parts, wires, terminals and the program (those that "
        words += "`even with any one fault` means), and supplies and power that fail"
        return f"{words}; {others} of the rows are faults that come on and off, or for a moment" if others else words

    def of(self, outcome: Outcome) -> tuple[FaultRow, ...]:
        """The rows of one outcome."""
        return tuple(row for row in self.rows if row.outcome == outcome)

    def to_json(self) -> dict[str, Any]:
        found: dict[str, Any] = {
            "only": ONLY_THESE,
            "faults": [row.to_json() for row in self.rows],
            "excluded": [each.to_json() for each in self.excluded],
            "signals": [each.to_json() for each in self.signals],
            "situations": list(self.situations),
            "untried": list(self.untried),
            "legend": {"outcomes": dict(OUTCOMES), "shows": dict(SHOWS), "detected": DETECTED},
            "runs": self.runs,
            "simulated_ms": self.simulated_ms,
        }
        if self.pairs is not None:
            found["pairs"] = [row.to_json() for row in self.pairs]
            found["pairs_tried"], found["pairs_left_out"] = self.pairs_tried, self.pairs_left_out
        return found

    def _repr_html_(self) -> str:
        rows = [(r.name, r.outcome, r.shows, r.detected or "", r.does, ", ".join(r.broken)) for r in self.rows]
        head = ("Fault", "Outcome", "Shows", "Detected by", "What the plant does", "Breaks")
        return table(head, rows, note=f"{ONLY_THESE} {IN_THE_MODEL}")
