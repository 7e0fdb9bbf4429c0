"""The tree: what a `.rung` file says, line by line, before anyone asks what it means.

Every class is frozen and carries the `Span` of the text it came from. Spans take no part
in equality, so that two texts which say the same thing give equal trees: the formatter
relies on it.

A tree holds text, not meaning: a `Name` is not yet a tag, a `Number` is not yet a
quantity, and `a and b < 3 cm` may still turn out to be nonsense.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal


@dataclass(frozen=True, slots=True, order=True)
class Span:
    """A stretch of one line. Lines and columns count from 1; `end_column` is exclusive."""

    file: str
    line: int
    column: int
    end_column: int


@dataclass(frozen=True, slots=True)
class Node:
    """Anything that came from a place in a file."""

    span: Span = field(compare=False, repr=False)


# ------------------------------------------------------------------ expressions


@dataclass(frozen=True, slots=True)
class Number(Node):
    """A literal with its unit, as written: `2827 cm2` is `Number("2827", "cm2")`."""

    text: str
    unit: str | None = None


@dataclass(frozen=True, slots=True)
class Truth(Node):
    """`on` or `off`."""

    value: bool


@dataclass(frozen=True, slots=True)
class Name(Node):
    """A reference, dots included: `running`, `float_hold.elapsed`, `S0.1`, `header.level`."""

    text: str


@dataclass(frozen=True, slots=True)
class Not(Node):
    operand: Expression


@dataclass(frozen=True, slots=True)
class Edge(Node):
    """`rising x` or `falling x`."""

    kind: Literal["rising", "falling"]
    operand: Expression


@dataclass(frozen=True, slots=True)
class Series(Node):
    """`a and b and c`: two or more operands, in the order written."""

    operands: tuple[Expression, ...]


@dataclass(frozen=True, slots=True)
class Parallel(Node):
    """`a or b or c`: two or more operands, in the order written."""

    operands: tuple[Expression, ...]


@dataclass(frozen=True, slots=True)
class Group(Node):
    """`( ... )`: kept, because the drawing and the formatter show what was written."""

    inner: Expression


#: How two values are compared.
Relation = Literal["<", "<=", ">", ">=", "=", "<>"]


@dataclass(frozen=True, slots=True)
class Compare(Node):
    operator: Relation
    left: Expression
    right: Expression


@dataclass(frozen=True, slots=True)
class Between(Node):
    """`x between a and b`: both ends included."""

    value: Expression
    low: Expression
    high: Expression


@dataclass(frozen=True, slots=True)
class Arithmetic(Node):
    operator: Literal["+", "-", "*", "/"]
    left: Expression
    right: Expression


@dataclass(frozen=True, slots=True)
class Negate(Node):
    """`-x`."""

    operand: Expression


@dataclass(frozen=True, slots=True)
class Interval(Node):
    """`a..b`: a function argument, a range of a tag, a clause of a part."""

    low: Expression
    high: Expression


@dataclass(frozen=True, slots=True)
class Point(Node):
    """`x: y`: one row of a `table(...)`."""

    x: Expression
    y: Expression


@dataclass(frozen=True, slots=True)
class Argument(Node):
    """One argument of a call; `keyword` is `starts from` for `starts from = 3 V`."""

    value: Expression | Interval | Point
    keyword: str | None = None


@dataclass(frozen=True, slots=True)
class Call(Node):
    """`scale(x, 0..65535, 25 cm..125 cm)`, `pi(...) as level_loop`."""

    function: str
    arguments: tuple[Argument, ...]
    name: str | None = None


Expression = (
    Number | Truth | Name | Not | Edge | Series | Parallel | Group | Compare | Between | Arithmetic | Negate | Call
)


# ------------------------------------------------------------------------ rungs

StageKind = Literal[
    "on-delay",
    "off-delay",
    "pulse",
    "accumulating on-delay",
    "count-up",
    "count-down",
    "rising",
]


@dataclass(frozen=True, slots=True)
class Condition(Node):
    """One line of a path: a contact, a comparison, or branches in parallel."""

    expression: Expression


@dataclass(frozen=True, slots=True)
class Stage(Node):
    """A line that power passes through and that remembers: a timer, a counter, `rising as`.

    `preset` is a time or a count (a number or a parameter's name), None for `rising`.
    `by` is the tag after `clear by` or `load by`.
    """

    kind: StageKind
    name: str
    preset: Number | Name | None = None
    by: Name | None = None
    retained: bool = False


OutputKind = Literal["coil", "negated", "set", "reset", "assign"]


@dataclass(frozen=True, slots=True)
class Output(Node):
    """`=> tag`, `=> not tag`, `=> set tag`, `=> reset tag`, `=> tag := value`, each with `when`."""

    kind: OutputKind
    target: Name
    value: Expression | None = None
    when: Expression | None = None


@dataclass(frozen=True, slots=True)
class Rung(Node):
    name: str
    remark: str | None
    elements: tuple[Condition | Stage, ...]
    outputs: tuple[Output, ...]


# ------------------------------------------------------------------- controller


@dataclass(frozen=True, slots=True)
class TagLine(Node):
    """`level_counts input int 0..65535 "Echo distance, raw counts"`.

    `on_stop` is an expression, or the word `hold` as a `Name`.
    """

    name: str
    role: Literal["input", "output", "memory", "parameter"]
    type: Literal["bool", "int", "real"]
    unit: str | None = None
    range: Interval | None = None
    start: Expression | None = None
    on_stop: Expression | None = None
    retained: bool = False
    remark: str | None = None


@dataclass(frozen=True, slots=True)
class Controller(Node):
    """`controller "Header tank" every 20 ms`, or `every 10..50 ms`."""

    name: str
    every: Number | Interval


@dataclass(frozen=True, slots=True)
class Tags(Node):
    lines: tuple[TagLine, ...]


# ------------------------------------------------ plant, circuits and wiring


@dataclass(frozen=True, slots=True)
class Word(Node):
    """A bare word or dotted name inside a clause: `from`, `header`, `K1.2`."""

    text: str


@dataclass(frozen=True, slots=True)
class Clause(Node):
    """One clause of a part's line: `contact opens on rise at 95 cm`.

    Neither grammar nor tree knows which clauses a part has: the part's class says so,
    and meaning matches them.
    """

    items: tuple[Word | Number | Interval | Text, ...]


@dataclass(frozen=True, slots=True)
class Text(Node):
    """A quoted string inside a clause."""

    text: str


@dataclass(frozen=True, slots=True)
class PartLine(Node):
    """`float_switch LS1 in header, contact opens on rise at 95 cm, closes on fall at 92 cm`."""

    kind: str
    name: str
    clauses: tuple[Clause, ...]


@dataclass(frozen=True, slots=True)
class Plant(Node):
    """`parts_from` names the user's own Python file of parts: `plant "Yard" every 5 ms parts from "own.py"`."""

    name: str
    every: Number
    parts: tuple[PartLine, ...]
    parts_from: str | None = None


@dataclass(frozen=True, slots=True)
class Circuit(Node):
    name: str
    supply: Name
    rungs: tuple[Rung, ...]


@dataclass(frozen=True, slots=True)
class FeedLine(Node):
    """`controller from P24`, `inputs X1 from P24`, `outputs X4 from P24`."""

    what: Literal["controller", "inputs", "outputs"]
    module: str | None
    supply: Name


@dataclass(frozen=True, slots=True)
class WireLine(Node):
    """`level_counts at X2:1 0..10 V as 0..65535 from LT1`."""

    tag: Name
    terminal: str
    signal: Interval | None = None
    counts: Interval | None = None
    source: Name | None = None
    target: Name | None = None


@dataclass(frozen=True, slots=True)
class Wiring(Node):
    lines: tuple[FeedLine | WireLine, ...]


# ----------------------------------------- hazards, requirements, assumptions


@dataclass(frozen=True, slots=True)
class Hazard(Node):
    """`hazard H1 "The tank overflows" safe state not feed_pump.energised`."""

    name: str
    sentence: str
    safe_state: Expression | None = None


@dataclass(frozen=True, slots=True)
class Never(Node):
    condition: Expression


@dataclass(frozen=True, slots=True)
class Always(Node):
    condition: Expression


@dataclass(frozen=True, slots=True)
class Whenever(Node):
    """`whenever A then B`, `... within T`, `... for T`."""

    trigger: Expression
    response: Expression
    mode: Literal["at once", "within", "for"]
    time: Number | Name | None = None


@dataclass(frozen=True, slots=True)
class Stood(Node):
    """`whenever A has stood for T then B`."""

    trigger: Expression
    time: Number | Name
    response: Expression


@dataclass(frozen=True, slots=True)
class AfterNever(Node):
    """`after A never B until C`."""

    trigger: Expression
    forbidden: Expression
    release: Expression


@dataclass(frozen=True, slots=True)
class AtMost(Node):
    """`at most N rising x in any T`."""

    count: Number
    event: Expression
    time: Number | Name


@dataclass(frozen=True, slots=True)
class Before(Node):
    """`A before B`."""

    first: Expression
    then: Expression


Form = Never | Always | Whenever | Stood | AfterNever | AtMost | Before


@dataclass(frozen=True, slots=True)
class Requirement(Node):
    """`from_time` is T of a form that begins `from T`. `sentence` is what people sign."""

    name: str
    sentence: str
    against: tuple[Name, ...]
    form: Form
    from_time: Number | Name | None = None
    outputs_free: bool = False
    any_one_fault: bool = False


@dataclass(frozen=True, slots=True)
class Assume(Node):
    sentence: str
    condition: Expression


@dataclass(frozen=True, slots=True)
class ExcludedFault(Node):
    """`fault X2:1 range_wrong`; `target` is None in `fault any range_wrong`."""

    target: Name | None
    fault: Word


@dataclass(frozen=True, slots=True)
class Exclude(Node):
    """`exclude "The jumpers are sealed"`: faults that are left out of account, and why."""

    sentence: str
    lines: tuple[ExcludedFault, ...]


# -------------------------------------------------------------------- scenarios


@dataclass(frozen=True, slots=True)
class At(Node):
    """One event of a scenario.

    action      target               argument                 for
    set         tag or part quantity value                    -
    press       button or bool input -                        optional
    release     button or bool input -                        -
    fault       part, contact, terminal  fault's name (Word)  optional
    clear       part, contact, terminal  fault's name (Word)  -
    cut         supply, or `controller`  -                    optional
    restore     supply, or `controller`  -                    -
    stop        `controller`         -                        optional
    resume      `controller`         -                        -
    """

    time: Number
    action: Literal["set", "press", "release", "fault", "clear", "cut", "restore", "stop", "resume"]
    target: Name
    argument: Expression | Word | None = None
    duration: Number | None = None


@dataclass(frozen=True, slots=True)
class ParameterLine(Node):
    """`parameter target = 120 L`."""

    tag: Name
    value: Expression


@dataclass(frozen=True, slots=True)
class ScansLine(Node):
    """`scans 10 ms, 50 ms`: the lengths of the first scans; the last one goes on."""

    lengths: tuple[Number, ...]


@dataclass(frozen=True, slots=True)
class NoiseLine(Node):
    """`noise seed 7 lane 3`: which draw of the counter-based generator this story used."""

    seed: int
    lane: int


@dataclass(frozen=True, slots=True)
class EndsLine(Node):
    """`ends at 12 s`."""

    time: Number


@dataclass(frozen=True, slots=True)
class Expect(Node):
    """`expect C within T`, `expect C for T`, or `expect C` (when the scenario ends).

    Times count from the last event.
    """

    condition: Expression
    mode: Literal["at end", "within", "for"]
    time: Number | None = None


@dataclass(frozen=True, slots=True)
class Scenario(Node):
    sentence: str
    lines: tuple[At | ParameterLine | ScansLine | NoiseLine | EndsLine | Expect, ...]


@dataclass(frozen=True, slots=True)
class Use(Node):
    """`use "plant.rung"`: joins another file of the same folder."""

    file: str


Block = Use | Controller | Tags | Rung | Plant | Circuit | Wiring | Hazard | Requirement | Assume | Exclude | Scenario


@dataclass(frozen=True, slots=True)
class SourceFile:
    """One file's blocks, in the order written.

    `unread_names` are the names on lines that could not be read: whoever looks for names
    that nobody gives, reads or writes keeps quiet about these.
    """

    path: str
    blocks: tuple[Block, ...]
    unread_names: frozenset[str] = field(default=frozenset(), compare=False, repr=False)
