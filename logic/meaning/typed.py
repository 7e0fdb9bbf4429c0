"""The typed expressions: every name resolved, every type and unit known, every range bounded.

Values live in their declared unit. Where two units meet, meaning has put a `Convert`
around the right side, so that engines never see a unit; `unit` is kept for printing.
`low..high` are bounds that the value is proved to stay within (0..1 for bool).

What each class computes, exactly, is said here once; the engines and encoders follow it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from rungproof.grammar.tree import Relation, Span
from rungproof.logic.meaning.units import Unit

Type = Literal["bool", "int", "real"]
Scalar = bool | int | float


@dataclass(frozen=True, slots=True, kw_only=True)
class Typed:
    """Base: type, unit (None for bool and pure numbers), proved bounds, place."""

    type: Type
    unit: Unit | None = None
    low: float | int = 0
    high: float | int = 1
    span: Span = field(compare=False, repr=False)


# ---------------------------------------------------------------------- leaves


@dataclass(frozen=True, slots=True, kw_only=True)
class Constant(Typed):
    value: Scalar


@dataclass(frozen=True, slots=True, kw_only=True)
class TagValue(Typed):
    """The tag's value at this moment of the scan (in a requirement: as visible)."""

    tag: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StageOutput(Typed):
    """A stage's name used as a contact: its output, as of this moment of the scan."""

    stage: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StageReading(Typed):
    """`float_hold.elapsed` (int, ms) or `starts.count` (int)."""

    stage: str
    field: Literal["elapsed", "count"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PowerUp(Typed):
    """`power_up`: true on the first scan after power returns, the very first one included."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scanning(Typed):
    """`scanning`, for requirements: true at the end of a scan and until the next look, false before
    the first scan has ended, while power is away, and while the controller stands."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PartReading(Typed):
    """The plant's truth by flat key: `header.level`, `S0.1`, `feed_pump.turning`."""

    key: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NodeValue(Typed):
    """A named point of a circuit that another rung drives."""

    node: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TerminalValue(Typed):
    """In a circuit: what the controller's output terminal gives (off while its module is dead)."""

    tag: str


# ---------------------------------------------------------------------- contacts


@dataclass(frozen=True, slots=True, kw_only=True)
class Inverse(Typed):
    operand: Expression


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgeOf(Typed):
    """True when the operand went the way of `kind` since this contact's last evaluation.

    `slot` names its memory. Never true on the first scan after power-up.
    """

    kind: Literal["rising", "falling"]
    operand: Expression
    slot: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AllOf(Typed):
    operands: tuple[Expression, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class AnyOf(Typed):
    operands: tuple[Expression, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison(Typed):
    """Operands have one type (int or real, or bool for = and <>) and one unit. No = on reals."""

    operator: Relation
    left: Expression
    right: Expression


# ---------------------------------------------------------------------- numbers


@dataclass(frozen=True, slots=True, kw_only=True)
class Convert(Typed):
    """Unit conversion of a real: (x * numerator) / denominator, in that order.

    For an int the ratio is a whole number and `denominator` is 1.
    """

    operand: Expression
    numerator: int
    denominator: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ToReal(Typed):
    """An int as a real."""

    operand: Expression


@dataclass(frozen=True, slots=True, kw_only=True)
class Binary(Typed):
    """+ - * /. Reals: IEEE double, x/0 = sign(x)*1e300, 0/0 = 0, quotient clamped to +-1e300.

    Ints: exact; / truncates toward zero, x/0 = sign(x)*2^53, 0/0 = 0.
    """

    operator: Literal["+", "-", "*", "/"]
    left: Expression
    right: Expression


@dataclass(frozen=True, slots=True, kw_only=True)
class Function(Typed):
    """neg abs sqrt round trunc min max select.

    round: half to even, real to int; trunc: toward zero, real to int; sqrt(negative) = 0;
    min(a,b) = select(a<b, a, b), max(a,b) = select(b<a, a, b), folded from the left for
    more arguments; select(condition, then, otherwise).
    """

    name: Literal["neg", "abs", "sqrt", "round", "trunc", "min", "max", "select"]
    arguments: tuple[Expression, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale(Typed):
    """`scale(x, a..b, c..d)` = c + ((x - a) * (d - c)) / (b - a), in that order; extrapolates.

    x is real (an int was wrapped in ToReal) in the unit of a..b; the result has the unit of c..d.
    d - c and b - a are folded in doubles.
    """

    operand: Expression
    from_low: float
    from_high: float
    to_low: float
    to_high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Table(Typed):
    """`table(x, x0: y0, x1: y1, ...)`: piecewise linear, xs rising, two rows or more.

    Between xi and xi+1: yi + ((x - xi) * (yi+1 - yi)) / (xi+1 - xi), with differences
    folded in doubles; below x0 the first piece and above the last piece extrapolate.
    The piece is the last one whose xi <= x (the first piece if none).
    """

    operand: Expression
    points: tuple[tuple[float, float], ...]


# -------------------------------------------------------- numbers with memory


@dataclass(frozen=True, slots=True, kw_only=True)
class Filter(Typed):
    """`filter(x, T)`: y + (x - y) * (dt / (T + dt)), seconds; starts at x. See semantics, Memory."""

    operand: Expression
    time: Expression
    slot: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Rate(Typed):
    """`rate(x)`: (x - x') / dt, unit of x per second; 0 on the first powered scan and where dt is 0."""

    operand: Expression
    slot: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Ramp(Typed):
    """`ramp(x, r)`: y + max(-r*dt, min(r*dt, x - y)), r in units of x per second; starts at x."""

    operand: Expression
    rate: Expression
    slot: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Pi(Typed):
    """`pi(m, sp, gain = K, integral = Ti, direction = reverse|direct, starts from = V)`.

    All reals: `measured` and `setpoint` in one unit, `gain` in output units per that unit,
    `integral` in seconds, result in the assigned tag's unit, clamped to `low..high` of that tag.
    """

    measured: Expression
    setpoint: Expression
    gain: Expression
    integral: Expression
    reverse: bool
    starts_from: Expression | None
    slot: str


Expression = (
    Constant
    | TagValue
    | StageOutput
    | StageReading
    | PowerUp
    | Scanning
    | PartReading
    | NodeValue
    | TerminalValue
    | Inverse
    | EdgeOf
    | AllOf
    | AnyOf
    | Comparison
    | Convert
    | ToReal
    | Binary
    | Function
    | Scale
    | Table
    | Filter
    | Rate
    | Ramp
    | Pi
)
