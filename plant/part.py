"""The contract of a plant part: what it is told, what it remembers, what it shows.

A part is a plain class. It never sees the controller, the files or the other parts'
objects: it gets numbers and truths, and gives numbers and truths. Its arithmetic is
written against an operator namespace `ops` (see `rungproof.plant.operators`), so that
the same text runs with floats and, given step expressions instead, lowers to the
intermediate form of the engines.

Time: the plant moves in ticks of `dt_ms` milliseconds. Every part reads the state at the
start of the tick. What a part shows comes from its state and its contacts' faults alone,
so every loop through the plant passes through state and has exactly one solution.

Signals have flat names, the same ones the files use:

    header.volume           a state or an output of part `header`
    feed_pump.speed         an input that wiring or a circuit drives
    S0.pressed              an input that a person (a scenario, the search) sets
    drip_lines.opening      a disturbance
    LT1!echo_lost           a fault of part LT1: off or on
    S0.1!welded             a fault of contact 1 of S0
    LT1~noise               a draw of the noise generator, uniform in -1..1
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, ClassVar, Literal

from rungproof.plant.operators import Ops, Value

SignalType = Literal["bool", "int", "real"]

#: What a clause's slot can hold once meaning has read it: a number in the slot's unit, an
#: interval, a row of numbers, a part's name, texts, a flag.
Given = float | int | str | bool | tuple[float, ...] | tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Clause:
    """One clause that a part's line may have, as a pattern.

    `pattern` is literal words and slots: `{diameter:cm}` is a number of that dimension,
    given to the part in that unit; `{sees:cm..}` an interval; `{contacts:int}` a whole
    number; `{gain:1}` a number without unit; `{hourly:L/min+}` one number or more;
    `{messages:text+}` one text in quotes or more;
    `{source:part}` the name of a part, whose kind must be one of `kinds` where `kinds` is
    not empty. A pattern without a slot is a flag: it gives True under the name `flag`. A
    clause that is not `required` and not written leaves its slots out of `given`, which
    keeps the order in which the clauses stand.
    """

    pattern: str
    required: bool = False
    kinds: tuple[str, ...] = ()
    flag: str = ""


@dataclass(frozen=True, slots=True)
class Variable:
    """A state variable: kept from tick to tick. `low..high` must hold in every state."""

    name: str
    type: SignalType
    start: float | int | bool
    unit: str | None = None
    low: float | int = 0
    high: float | int = 1


@dataclass(frozen=True, slots=True)
class Input:
    """Something the part is given at every tick.

    source        who gives it
    driven        a circuit's coil or a controller's output; `start` while nothing drives it
    operator      a person: a button held, a switch turned
    disturbance   the world: an opening, a demand, a temperature
    part          another part's output: `of` names it, `header.level`
    noise         the noise generator: uniform in -1..1, one draw for every `every_ms`
    available     litres the mover's source holds at this moment of the tick
    richness      grams per litre in the mover's source at the start of the tick
    """

    name: str
    source: Literal["driven", "operator", "disturbance", "part", "noise", "available", "richness"]
    type: SignalType = "real"
    unit: str | None = None
    low: float | int = 0
    high: float | int = 1
    start: float | int | bool = 0
    of: str = ""
    every_ms: int = 0

    def __post_init__(self) -> None:
        """Make `start` a value of `type`: a part may show what it is given, and 0 is no bool."""
        as_type: Callable[[Any], Any] = {"bool": bool, "int": int, "real": float}[self.type]
        object.__setattr__(self, "start", as_type(self.start))


@dataclass(frozen=True, slots=True)
class Output:
    """Something others may read: another part, an input channel, a requirement.

    An output that bears a variable's name shows that variable; `look` gives the others. `says`: what
    people can read while it is on; empty for what says nothing.
    """

    name: str
    type: SignalType
    unit: str | None = None
    low: float | int = 0
    high: float | int = 1
    says: str = ""


@dataclass(frozen=True, slots=True)
class Contact:
    """A contact: `name` as in `K1.2`. A make contact is closed while the part is operated."""

    name: str
    kind: Literal["make", "break"]


@dataclass(frozen=True, slots=True)
class Fault:
    """A fault in plain trade words: `echo_lost`, "no echo comes back"."""

    name: str
    words: str


#: The faults that every contact has, whatever part it belongs to.
CONTACT_FAULTS = (
    Fault("welded", "the contact stays closed"),
    Fault("stays_open", "the contact no longer closes"),
)


class PartError(ValueError):
    """Raised by a part's constructor: what it was told makes no such part.

    `slot` is the clause slot at fault, so that the message can point at it; of a list, `element` (from 0) is
    the one at fault.
    """

    def __init__(self, slot: str, message: str, mend: str = "", *, element: int = 0) -> None:
        super().__init__(message)
        self.slot = slot
        self.element = element
        self.message = message
        self.mend = mend


class TickError(PartError):
    """What a part was told is no whole number of the plant's ticks: the tick may be what is wrong."""


class Part:
    """Base of all parts.

    A subclass sets `kind`, `clauses`, `faults`, and in `__init__` fills `variables`,
    `inputs`, `outputs` and `contacts` (which may depend on what the clauses said).
    """

    #: the word that begins the part's line
    kind: ClassVar[str]
    clauses: ClassVar[tuple[Clause, ...]] = ()
    faults: ClassVar[tuple[Fault, ...]] = ()

    variables: tuple[Variable, ...] = ()
    inputs: tuple[Input, ...] = ()
    outputs: tuple[Output, ...] = ()
    contacts: tuple[Contact, ...] = ()

    #: the level (cm) at which a part that watches one acts as it rises; None for every other part
    acts_at: float | None = None

    def __init__(self, name: str, given: Mapping[str, Given], dt_ms: int) -> None:
        """`given` maps slot names to values; `dt_ms` is the plant's tick, in milliseconds.

        Raises `PartError` where the values make no such part.
        """
        self.name = name
        self.given = given
        self.dt_ms = dt_ms
        self.dt_s = dt_ms / 1000

    def operated(self, ops: Ops, state: Mapping[str, Value]) -> Any:
        """Whether the contacts stand in their operated position: relay armature, pressed button."""
        raise NotImplementedError(f"{self.kind} has no contacts")

    def closed(self, ops: Ops, state: Mapping[str, Value], contact: Contact) -> Any:
        """Whether a healthy contact is closed. Only a part whose contacts differ overrides this."""
        operated = self.operated(ops, state)
        return operated if contact.kind == "make" else ops.inverse(operated)

    def look(self, ops: Ops, state: Mapping[str, Value], faults: Mapping[str, Value]) -> dict[str, Any]:
        """What the part shows at this instant, by output name; outputs named as variables apart."""
        return {}

    def settle(self, state: Mapping[str, Any], inputs: Mapping[str, Any]) -> dict[str, Any]:
        """The start state, once the other parts' outputs at time 0 are known. Plain numbers.

        A float that starts in a full tank starts up: a part that only follows what another
        part shows overrides this. `inputs` holds the start values of all other inputs.
        """
        return dict(state)

    def step(
        self, ops: Ops, state: Mapping[str, Value], inputs: Mapping[str, Value], faults: Mapping[str, Value]
    ) -> dict[str, Any]:
        """The state after one tick, by variable name; all variables, each exactly once."""
        return {}


@dataclass(frozen=True, slots=True)
class GoesOff:
    """`shown` is off once `drive` has been off for so many `ticks` in a row. Both are names of truths that a part
    shows; `shown` comes from the part's real variable `amount`."""

    shown: str
    drive: str
    ticks: int
    amount: str


class Vessel(Part):
    """A part that holds liquid: variable `volume` (L), and `additive` (g) where it carries one.

    Its inputs beside those it declares: `gained`, `drawn` (L in this tick) and
    `gained_additive`, `drawn_additive` (g in this tick). It must account for all of it:
    what does not fit is added to its variable `spilled` (L).
    """


class Mover(Part):
    """A part that carries liquid from one vessel to another.

    `source` and `destination` are vessels' names, or None for the world outside. Its
    variable `moved` (L, never negative, never more than input `available`) is what it
    carried in the tick. Movers of one source are served in the order of their lines.
    """

    source: str | None = None
    destination: str | None = None

    def runs_down(self, litres: float, *, healthy: bool) -> tuple[str, int] | None:
        """(output, ticks): once that output has been off for so many ticks in a row, it carries less than `litres`
        in each further tick; None where nothing of its own stops it. `healthy`: as far as no fault of it stands.
        """
        return None

    def goes_off(self, *, healthy: bool) -> tuple[GoesOff, ...]:
        """What it shows that is off once something else that it shows has been off for long enough."""
        return ()
