"""The contract of an engine: a program and a story in, an outcome out.

Every engine gives the same outcome to the last bit; `reference` is the definition.

What happens at a boundary instant t, in this order:

    1  events with at_ms <= t are applied to the environment
    2  look: the plant's truth at t
    3  if a scan ends at t: powered, its outputs reach the terminals and its tags become
       visible; without power the terminals go off and unretained memory is lost
    4  monitors observe instant t (t = 0 is no instant)
    5  if a scan begins at t: inputs are read through the wiring, the rungs are solved
    6  circuits are solved from the look and the terminals
    7  the plant ticks to t + tick

A run ends at the first boundary t >= duration_ms that is not 0, after its monitors have looked.

A controller runs, or is off (no power), or is stopped (`controller!stopped`, with power). The
mode is sampled at scan boundaries, and at every tick (1 ms without a plant) while it does not
run. Stopped, it solves no scan, its terminals do what `on stop` says, and its memory fares as
in a power cut; resumed, it begins as after power-up. The scan that a cut or a stop ends is not
written. Hung (a fault), it ends no scan and begins none; its terminals and its memory stand, and
the scan under way is so much longer. Requirements on tags alone look at scan ends and wherever the mode changes.
Visible without a scan: outputs as the terminals are (dead: off, or 0), memory at its start
value (retained: as the last scan left it), inputs as last read, `power_up` and `scanning` false; before the
first scan ends, inputs at their start values.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Protocol

from rungproof.logic.meaning.program import Program, Story
from rungproof.logic.meaning.typed import Scalar


@dataclass(frozen=True, slots=True)
class Judgement:
    """What one run says of one requirement.

    `violated_at` is the first instant (ms) of violation, None if none. `triggers` counts the
    instants at which its trigger came (for forms without a trigger: the instants observed).
    `open` is true if an obligation was still open when the run ended. `nearest` is the least
    margin seen, where an engine was asked for it (`steps.margins`).
    """

    violated_at: int | None
    triggers: int
    open: bool
    nearest: float | None = None


@dataclass(slots=True)
class Trace:
    """What a run did, for drawings, stories and tests; one row per instant observed.

    `tags` and `plant` map a name to its column; stages stand among the tags, as `float_hold` and
    `float_hold.elapsed`. `conducting` holds, per scan solved, for each rung the power after each
    element line (index 0: the left rail) and per output. `scan_starts` are the times (ms) at which scans began.
    """

    times: list[int] = field(default_factory=list)
    tags: dict[str, list[Scalar]] = field(default_factory=dict)
    plant: dict[str, list[Scalar]] = field(default_factory=dict)
    scan_starts: list[int] = field(default_factory=list)
    conducting: list[dict[str, tuple[bool, ...]]] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Outcome:
    """The result of one run.

    `ended_at` is the last instant observed (ms). `assumption_broken` names the assumption (by
    index) and instant at which the run was cut; monitors did not observe that instant.
    `expectations` says for each expectation whether it was met (None: the run ended too early).
    `final` holds the last visible tags and plant values.
    """

    judgements: Mapping[str, Judgement]
    expectations: tuple[bool | None, ...]
    ended_at: int
    scans: int
    assumption_broken: tuple[int, int] | None
    final: Mapping[str, Scalar]
    trace: Trace | None


class Engine(Protocol):
    """`run` judges every requirement named in `watch` (all if None)."""

    def run(
        self,
        program: Program,
        story: Story,
        *,
        watch: frozenset[str] | None = None,
        scenario: int | None = None,
        record: bool = False,
        stop_at_violation: bool = False,
    ) -> Outcome: ...
