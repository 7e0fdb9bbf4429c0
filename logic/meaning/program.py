"""The Program: everything the files of one project mean, ready to run.

Built by `rungproof.logic.meaning.understand`; read by the reference engine element by
element, by the lowering, the drawings and the findings. Times are whole milliseconds.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from rungproof.grammar.tree import Span, StageKind
from rungproof.logic.meaning.typed import Expression, Scalar, Type
from rungproof.logic.meaning.units import Unit
from rungproof.plant.assembly import Assembly

Role = Literal["input", "output", "memory", "parameter"]


@dataclass(frozen=True, slots=True)
class Tag:
    """A tag. `on_stop` is None for `hold`; `low..high` is 0..1 for bool."""

    name: str
    role: Role
    type: Type
    unit: Unit | None
    low: float | int
    high: float | int
    start: Scalar
    on_stop: Scalar | None
    retained: bool
    remark: str | None
    span: Span = field(compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class Condition:
    """One line of a path that is no stage: power passes while the expression is true."""

    expression: Expression
    span: Span = field(compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class Stage:
    """A timer, a counter or `rising as`. `preset` is an int expression: ms, or a count.

    `by` is the tag after `clear by` / `load by`. `slot` names its memory and is its name.
    """

    name: str
    kind: StageKind
    preset: Expression | None
    by: Expression | None
    retained: bool
    span: Span = field(compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class Output:
    """An output of a rung. In a controller `target` is a tag; in a circuit it is a drive key
    (`K1.coil`, `feed_pump.supply`) or a node, as `target_kind` says."""

    kind: Literal["coil", "negated", "set", "reset", "assign"]
    target: str
    target_kind: Literal["tag", "drive", "node"]
    value: Expression | None
    when: Expression | None
    span: Span = field(compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class Rung:
    name: str
    remark: str | None
    elements: tuple[Condition | Stage, ...]
    outputs: tuple[Output, ...]
    span: Span = field(compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class Controller:
    """`scan_low..scan_high` ms is the range of scan times; equal for a fixed scan."""

    name: str
    scan_low: int
    scan_high: int
    tags: dict[str, Tag]
    rungs: tuple[Rung, ...]
    span: Span = field(compare=False, repr=False)

    @property
    def stages(self) -> dict[str, Stage]:
        return {e.name: e for r in self.rungs for e in r.elements if isinstance(e, Stage)}


@dataclass(frozen=True, slots=True)
class Circuit:
    """A hardwired circuit. `rungs` stand in an order in which every node is driven before it
    is read (file order is kept by `drawn`). Nothing conducts while `supply` is dead."""

    name: str
    supply: str
    rungs: tuple[Rung, ...]
    drawn: tuple[Rung, ...]
    span: Span = field(compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class Channel:
    """An analog channel: `low..high` of the signal (unit V or mA) to `counts_low..counts_high`.

    `counts_*` is None where the tag is the signal itself. Input, with x the signal:
    counts = round_half_even(counts_low + ((x - low) * (counts_high - counts_low)) / (high - low)),
    then clamped to the counts; without counts, x clamped to low..high. Output: the inverse,
    low + ((c - counts_low) * (high - low)) / (counts_high - counts_low), clamped to the signal.
    """

    low: float
    high: float
    unit: Unit
    counts_low: int | None = None
    counts_high: int | None = None


@dataclass(frozen=True, slots=True)
class InputWire:
    """An input tag's terminal. `source` is a look key (`S0.2`, `LT1.signal`) or None (spare).

    Reads off (bool), or a signal of 0, while `module_supply` is dead or `<terminal>!wire_broken` is on.
    """

    tag: str
    terminal: str
    source: str | None
    channel: Channel | None
    module_supply: str | None
    span: Span = field(compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class OutputWire:
    """An output tag's terminal. `target` is a drive key or None (a circuit reads the terminal).

    Gives off (bool), or a signal of 0, while `module_supply` is dead, while the controller is
    without power, and while `<terminal>!wire_broken` is on, whoever is wired to it.
    """

    tag: str
    terminal: str
    target: str | None
    channel: Channel | None
    module_supply: str | None
    span: Span = field(compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class Plant:
    """The plant, its circuits and its wiring. `controller_supply` is a supply's name or None."""

    name: str
    tick: int
    assembly: Assembly
    circuits: tuple[Circuit, ...]
    inputs: tuple[InputWire, ...]
    outputs: tuple[OutputWire, ...]
    controller_supply: str | None
    span: Span = field(compare=False, repr=False)


# --------------------------------------------------------------- requirements


@dataclass(frozen=True, slots=True)
class Never:
    condition: Expression


@dataclass(frozen=True, slots=True)
class Always:
    condition: Expression


@dataclass(frozen=True, slots=True)
class Whenever:
    """Each instant of `trigger` opens an obligation. mode `at once`: response at that instant;
    `within`: at some instant of [t, t+time]; `for`: at every instant of [t, t+time]."""

    trigger: Expression
    response: Expression
    mode: Literal["at once", "within", "for"]
    time: Expression | None


@dataclass(frozen=True, slots=True)
class Stood:
    """`stood` is an on-delay of `time` over the instants; whenever its output is true, response."""

    trigger: Expression
    time: Expression
    response: Expression


@dataclass(frozen=True, slots=True)
class AfterNever:
    """armed = (armed or trigger) and not release; violated = armed and forbidden."""

    trigger: Expression
    forbidden: Expression
    release: Expression


@dataclass(frozen=True, slots=True)
class AtMost:
    """count+1 events within (t - time, t] violate."""

    count: int
    event: Expression
    time: Expression


@dataclass(frozen=True, slots=True)
class Before:
    """Every instant of `then` needs an instant of `first` at that instant or earlier in the run."""

    first: Expression
    then: Expression


Form = Never | Always | Whenever | Stood | AfterNever | AtMost | Before


@dataclass(frozen=True, slots=True)
class Hazard:
    name: str
    sentence: str
    safe_state: Expression | None
    span: Span = field(compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class Requirement:
    """`instants`: `scan` where only tags are read (scan ends, starts and ends of power cuts),
    else `tick` (every tick end). `looked_at` says where the verdict looks, in words.
    `horizon` is the longest run (ms, at least) that can decide it: from-time plus its times."""

    name: str
    sentence: str
    restatement: str
    against: tuple[str, ...]
    form: Form
    from_time: Expression | None
    outputs_free: bool
    any_one_fault: bool
    instants: Literal["scan", "tick"]
    looked_at: Literal["in the program", "at the terminals", "at the machine"]
    horizon: int
    span: Span = field(compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class Assumption:
    """Speaks of inputs, disturbances and plant only. A run is cut before its first breach."""

    sentence: str
    restatement: str
    condition: Expression
    instants: Literal["scan", "tick"]
    span: Span = field(compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class Exclusion:
    """A fault that is left out of account, by its knob, and the author's reason."""

    key: str
    reason: str
    span: Span = field(compare=False, repr=False)


# ---------------------------------------------------------------- environment


@dataclass(frozen=True, slots=True)
class Knob:
    """One thing of the environment that a story can set, by flat key.

    kind          keys
    tag           `start_pb`: an input tag of a program without a plant
    operator      `S0.pressed`: a person
    disturbance   `drip_lines.opening`: the world
    fault         `LT1!echo_lost`, `S0.1!welded`, `X1:3!wire_broken`
    power         `P24!lost`, `controller!cut`
    stop          `controller!stopped`
    parameter     `target`: constant in a run
    free output   `pump_enable`: only where a requirement stands `with outputs free`
    """

    key: str
    kind: Literal["tag", "operator", "disturbance", "fault", "power", "stop", "parameter", "free output"]
    type: Type
    unit: Unit | None
    low: float | int
    high: float | int
    start: Scalar
    words: str = ""


@dataclass(frozen=True, slots=True)
class Event:
    """At `at_ms`, knob `key` becomes `value`."""

    at_ms: int
    key: str
    value: Scalar


@dataclass(frozen=True, slots=True)
class Story:
    """All that makes a run: what the environment does, and when.

    `scans` are the lengths of the first scans in ms; the last goes on (empty: the
    controller's shortest). `seed` and `lane` key the noise generator. Events are sorted by
    time; of two events on one key at one time the later in the tuple wins.
    """

    duration_ms: int
    events: tuple[Event, ...] = ()
    parameters: tuple[tuple[str, Scalar], ...] = ()
    scans: tuple[int, ...] = ()
    seed: int = 0
    lane: int = 0


@dataclass(frozen=True, slots=True)
class Expectation:
    """`expect`. `from_ms` is the time of the last event. at end: at the last instant;
    within: at some instant of [from, from + time]; for: at every instant of it."""

    condition: Expression
    restatement: str
    mode: Literal["at end", "within", "for"]
    from_ms: int
    time_ms: int
    span: Span = field(compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class Scenario:
    name: str
    story: Story
    expectations: tuple[Expectation, ...]
    span: Span = field(compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class SourceText:
    """A file as it was read; `digest` is its SHA-256 in hexadecimal."""

    path: str
    text: str
    digest: str


@dataclass(frozen=True, slots=True)
class Program:
    """One project. At least one of `controller` and `plant` is there."""

    sources: tuple[SourceText, ...]
    controller: Controller | None
    plant: Plant | None
    hazards: tuple[Hazard, ...]
    requirements: tuple[Requirement, ...]
    assumptions: tuple[Assumption, ...]
    scenarios: tuple[Scenario, ...]
    knobs: dict[str, Knob]
    exclusions: tuple[Exclusion, ...] = ()

    @property
    def instant_ms(self) -> int:
        """How far apart two instants of a run are at least: a plant's tick, without one the shortest scan."""
        if self.plant is not None:
            return self.plant.tick
        return self.controller.scan_low if self.controller is not None else 1

    @property
    def excluded(self) -> frozenset[str]:
        """The knobs of the faults that are left out of account."""
        return frozenset(each.key for each in self.exclusions)
