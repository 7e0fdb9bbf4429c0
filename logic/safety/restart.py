"""For each thing that moves: does anything but a fresh, deliberate action start it again?"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Any, Literal

from rungproof.logic.checks.engine_choice import fast_engine, reference_engine
from rungproof.logic.checks.html import table
from rungproof.logic.checks.stories import tidy
from rungproof.logic.checks.story_text import story_block
from rungproof.logic.checks.verdict import EXIT_FINE, EXIT_OPEN, EXIT_VIOLATED, IN_THE_MODEL
from rungproof.logic.checks.words import many, rounded, time_parts, time_words
from rungproof.logic.meaning.program import Program, Story
from rungproof.logic.safety.restart_bases import Bases, bases_of
from rungproof.logic.safety.restart_causes import (
    RESET_MS,
    WATCH_MS,
    Group,
    Trial,
    causes_of,
    drives_by_itself,
    is_loose_contact,
    trials_of,
)
from rungproof.logic.safety.restart_parameters import changed_parameters
from rungproof.logic.safety.restart_proof import proved_after_power
from rungproof.logic.safety.restart_watch import Moving, counting, moving_of, off_name

Word = Literal[
    "restarts", "none found", "starts by itself", "back with its contact", "driven by the fault", "not stopped by it"
]

#: Called with trials done and trials planned.
Progress = Callable[[int, int], None]

#: Causes after which a thing that the process switches may come on again by itself.
BY_PROCESS = frozenset({"process back", "fault clearing"})

#: Seconds to look, if nobody says otherwise.
TIME_S = 120.0

HOW = (
    "Tried by running: each thing that moves is started, each cause comes and goes, and the machine is watched for "
    f"{time_words(WATCH_MS)}; then every other button is pressed and let go, and it is watched for "
    f"{time_words(RESET_MS)} more. Start buttons are let go before, held throughout (a jammed or taped button), or "
    "pressed meanwhile and held. What the process switches on and off by itself in an automatic run is told apart, and "
    "so is what a fault itself feeds while it stands (a short at an output), which `faults` judges. "
    "`None found` is not `proved`: a restart that comes later, or needs more than one cause, is not in it. Parameters "
    "are constant in a run, so that a change of one is tried on the rungs alone, the inputs held as they were."
)


@dataclass(frozen=True, slots=True)
class Restart:
    """One restart: what came and went, how the hands were, when it started again.

    `after`: whether it started while the cause stood, as it went, or on a reset. `story_text` is a scenario that
    expects no restart; the first restart of a row has one, and the reference engine has replayed it.
    """

    cause: str
    hands: str
    after: Literal["while it stood", "as it went", "on a reset"]
    at_ms: int
    story: Story
    story_text: str

    def to_json(self) -> dict[str, Any]:
        return {
            "cause": self.cause,
            "hands": self.hands,
            "after": self.after,
            "at_ms": self.at_ms,
            "story": self.story_text,
        }


@dataclass(frozen=True, slots=True)
class RestartRow:
    """One thing that moves and one group of causes. `causes` were tried in `runs`; `stopped` of them stopped it."""

    moving: str
    group: Group
    word: Word
    causes: int
    stopped: int
    runs: int
    restarts: tuple[Restart, ...]

    def to_json(self) -> dict[str, Any]:
        return {
            "moving": self.moving,
            "group": self.group,
            "word": self.word,
            "causes": self.causes,
            "stopped": self.stopped,
            "runs": self.runs,
            "restarts": [each.to_json() for each in self.restarts],
        }


@dataclass(frozen=True, slots=True)
class RestartResult:
    """All rows. `never_started` are things for which no start was found, so that nothing was tried.

    `starts` says by which buttons each thing starts. `cut`: the time ran out before all was tried. `proved`: output
    tags proved to stay off, after the controller's power is back, until a start input rises.
    """

    rows: tuple[RestartRow, ...]
    starts: tuple[tuple[str, tuple[str, ...]], ...]
    never_started: tuple[str, ...]
    runs: int
    planned: int
    cut: bool
    proved: tuple[str, ...] = ()

    @property
    def exit_code(self) -> int:
        if any(row.word == "restarts" for row in self.rows):
            return EXIT_VIOLATED
        return EXIT_OPEN if self.cut or self.never_started else EXIT_FINE

    def to_json(self) -> dict[str, Any]:
        return {
            "how": HOW,
            "rows": [row.to_json() for row in self.rows],
            "starts": {name: list(keys) for name, keys in self.starts},
            "never_started": list(self.never_started),
            "runs": self.runs,
            "planned": self.planned,
            "cut": self.cut,
            "proved": list(self.proved),
        }

    def _repr_html_(self) -> str:
        rows = [
            (r.moving, r.group, r.word, many(r.runs, "run"), "; ".join(x.cause for x in r.restarts)) for r in self.rows
        ]
        heads = ("What moves", "After", "Restart", "Tried", "Causes")
        return table(heads, rows, note=f"{IN_THE_MODEL} {HOW}")


class RestartDisagreementError(RuntimeError):
    """The reference engine does not show what the fast one does: a mistake of ours."""


def restart_of(
    program: Program,
    *,
    time_s: float | None = None,
    progress: Progress | None = None,
    faults: bool = True,
    prove: bool = True,
) -> RestartResult:
    """Try all causes on all that moves. Deterministic, but for the time that may run out (endless: it may not) and
    the proofs, which `prove` asks for. `faults`: faults that clear are causes, too; they are most of the work."""
    moving = moving_of(program)
    began, allowed = time.monotonic(), TIME_S if time_s is None else time_s
    # half of the time at the most, so that there is some left to try what was found
    found = bases_of(program, moving, until=began + allowed / 2, progress=progress)
    counted = counting(program, moving, 1)
    trials = [
        trial
        for base in found.bases
        for cause in causes_of(program, base)
        if faults or cause.group != "fault clearing"
        for trial in trials_of(program, base, cause)
    ]
    until = began + allowed
    # the causes that everybody thinks of first, for everything that moves; the long list of faults last
    trials.sort(key=lambda trial: trial.cause.group == "fault clearing")
    seen: list[Tried] = []
    shown: set[tuple[str, str]] = set()
    for done, trial in enumerate(trials, 1):
        if time.monotonic() > until:
            break
        seen += _tried(program, counted, trial, shown)
        if progress is not None:
            progress(done, len(trials))
    runs = len({id(each.trial) for each in seen})
    rows = [
        *_rows(program, found, seen),
        *parameter_rows(program, found, [each for each in seen if each.restart is None]),
    ]
    started = {each.key for base in found.bases for each in base.moving}
    return RestartResult(
        tuple(rows),
        tuple((each.name, base.starts) for base in found.bases for each in base.moving),
        tuple(each.name for each in moving if each.key not in started),
        runs,
        len(trials),
        found.cut or runs < len(trials),
        proved_after_power(program, found.bases) if prove else (),
    )


def parameter_rows(program: Program, found: Bases, seen: list[Tried]) -> Iterator[RestartRow]:
    """A row for each thing that a change of a parameter could start, if there is a parameter."""
    for base in found.bases:
        for moving in base.moving:
            stopped = next((t.trial for t in seen if t.moving is moving and t.stopped and t.trial.quiet), None)
            changes = changed_parameters(program, moving, stopped) if moving.is_tag and stopped is not None else []
            if changes:
                restarts = tuple(
                    Restart(f"parameter {name} to {rounded(value)}", "let go", "as it went", at, Story(at), "")
                    for name, value, at in changes
                    if at is not None
                )
                word: Word = "restarts" if restarts else "none found"
                names = {name for name, _, _ in changes}
                yield RestartRow(moving.name, "parameter change", word, len(names), len(names), len(changes), restarts)


@dataclass(frozen=True, slots=True)
class Tried:
    """What one run says of one thing that moves: whether the cause stopped it, and the restart if there is one."""

    trial: Trial
    moving: Moving
    stopped: bool
    restart: Restart | None


def _tried(program: Program, counted: Program, trial: Trial, shown: set[tuple[str, str]]) -> Iterator[Tried]:
    """Run one trial. `shown`: things and groups that have their story; each gets one, the first."""
    keys = frozenset(each for moving in trial.base.moving for each in (moving.key, off_name(moving.key)))
    outcome = fast_engine().run(counted, trial.story, watch=keys)
    for moving in trial.base.moving:
        again = outcome.judgements[moving.key].violated_at
        if again is None:
            off = outcome.judgements[off_name(moving.key)].violated_at
            yield Tried(trial, moving, off is not None and off <= trial.reset_ms, None)
        elif again <= trial.begins_ms or (trial.hands == "pressed meanwhile and held" and again < trial.gone_ms):
            yield Tried(trial, moving, True, None)  # it came on before anything came, or by a fresh press
        else:
            restart = _restart(program, trial, again)
            row = moving.key, trial.cause.group
            if row not in shown and trial.base.starts and not _word_of_wiring(program, restart):
                shown.add(row)
                _confirm(counted, restart, moving)
                restart = replace(restart, story_text=_text(program, restart, moving, trial))
            yield Tried(trial, moving, True, restart)


def _restart(program: Program, trial: Trial, again: int) -> Restart:
    """The restart with its story, cut off where it shows."""
    events = tuple(event for event in trial.story.events if event.at_ms <= again)
    story = tidy(program, replace(trial.story, events=events, duration_ms=again))
    after: Literal["while it stood", "as it went", "on a reset"] = "as it went"
    if again <= trial.gone_ms:
        after = "while it stood"
    elif again > trial.reset_ms:
        after = "on a reset"
    return Restart(trial.cause.words, trial.hands, after, again, story, "")


def _word_of_wiring(program: Program, restart: Restart) -> Word | None:
    """The word for what comes on by its own contact or wire, whatever rungs and hands do; else None."""
    if is_loose_contact(program, restart.cause):
        return "back with its contact"
    if restart.after == "while it stood" and drives_by_itself(program, restart.cause):
        return "driven by the fault"
    return None


def _confirm(counted: Program, restart: Restart, moving: Moving) -> None:
    """The reference engine must see it at the same instant."""
    outcome = reference_engine().run(counted, restart.story, watch=frozenset({moving.key}))
    seen = outcome.judgements[moving.key].violated_at
    if seen != restart.at_ms:
        raise RestartDisagreementError(
            f"{moving.name} restarts at {restart.at_ms} ms, in the reference engine at {seen}"
        )


def _text(program: Program, restart: Restart, moving: Moving, trial: Trial) -> str:
    """The story as a scenario that expects no restart: `replay` shows that it comes."""
    story = restart.story
    title = f"{moving.name} starts again: {trial.cause.words}, start {trial.hands}"
    block = story_block(program, story, title).rstrip("\n").splitlines()
    last = max((event.at_ms for event in story.events), default=0)
    number, unit = time_parts(max(story.duration_ms - last, 1))
    ends, unit_of_end = time_parts(story.duration_ms)
    block = [line for line in block if not line.strip().startswith("ends")]
    block += [f"    ends        at {ends} {unit_of_end}", f"    expect      not {moving.reading} for {number} {unit}"]
    return "\n".join(block) + "\n"


def _rows(program: Program, found: Bases, seen: list[Tried]) -> Iterator[RestartRow]:
    for base in found.bases:
        for moving in base.moving:
            tried = [each for each in seen if each.moving is moving]
            for group in dict.fromkeys(each.trial.cause.group for each in tried):
                mine = [each for each in tried if each.trial.cause.group == group]
                restarts = tuple(each.restart for each in mine if each.restart is not None)
                stopped = {each.trial.cause.words for each in mine if each.stopped}
                word: Word = "none found" if stopped else "not stopped by it"
                if restarts:
                    by_itself = not base.starts or (group in BY_PROCESS and moving.key in found.cycling)
                    word = "starts by itself" if by_itself else "restarts"
                    wiring = {_word_of_wiring(program, each) for each in restarts}
                    if word == "restarts" and None not in wiring:
                        word = "back with its contact" if "back with its contact" in wiring else "driven by the fault"
                causes = {each.trial.cause.words for each in mine}
                yield RestartRow(moving.name, group, word, len(causes), len(stopped), len(mine), restarts)
