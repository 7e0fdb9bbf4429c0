"""Plain sentences made from formulas alone, to stand beside the sentences that people sign.

What the author meant is in the author's sentence; what will be checked is in the formula.
A reader compares the two, so a restatement adds nothing that the formula does not say and
leaves out nothing that it does.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from rungproof.grammar.tree import (
    AfterNever,
    Always,
    Argument,
    Arithmetic,
    AtMost,
    Before,
    Between,
    Call,
    Compare,
    Edge,
    Expect,
    Expression,
    Form,
    Group,
    Interval,
    Name,
    Negate,
    Never,
    Not,
    Number,
    Parallel,
    Point,
    Requirement,
    Series,
    Stood,
    Truth,
    Whenever,
)

#: How a name reads: a tag or stage is on, a contact closed, a truth is a word (`S0.pressed`),
#: a quantity belongs to a part (`header.level`), a moment is `power_up`, a mode `scanning`.
Manner = Literal["tag", "contact", "truth", "quantity", "moment", "mode"]
Lexicon = Callable[[str], Manner]

_RELATION = {
    "<": "below",
    "<=": "at most",
    ">": "above",
    ">=": "at least",
    "=": "equal to",
    "<>": "different from",
}
_OPPOSITE = {"<": ">=", "<=": ">", ">": "<=", ">=": "<", "=": "<>", "<>": "="}


@dataclass(frozen=True, slots=True)
class _Piece:
    """A statement: `subject` with the verb as in "S0 is pressed" and as in "may S0 be pressed"."""

    subject: str
    third: str
    bare: str

    @property
    def said(self) -> str:
        return f"{self.subject} {self.third}"

    @property
    def may(self) -> str:
        return f"may {self.subject} {self.bare}"

    @property
    def must(self) -> str:
        return f"{self.subject} must {self.bare}"


def _being(subject: str, complement: str) -> _Piece:
    return _Piece(subject, f"is {complement}", f"be {complement}")


def _so_that(statement: str, holds: bool) -> _Piece:
    """For a statement too compound to carry `may` or `must` itself."""
    if holds:
        return _Piece("it", f"is so that {statement}", f"be so that {statement}")
    return _Piece("it", f"is not so that {statement}", f"not be so that {statement}")


@dataclass(frozen=True, slots=True)
class Restater:
    """Renders formulas; `manner` says how each name reads."""

    manner: Lexicon

    # ------------------------------------------------------------ statements

    def statement(self, expression: Expression) -> str:
        """A truth in the indicative: "S0 is pressed and contact K1.1 is open"."""
        expression = _open(expression)
        if isinstance(expression, Series | Parallel):
            return self._joined(expression, depth=0)
        return self._piece(expression).said

    def _joined(self, expression: Series | Parallel, depth: int) -> str:
        word = "and" if isinstance(expression, Series) else "or"
        parts, nested = [], False
        for operand in expression.operands:
            bare = _open(operand)
            if isinstance(bare, Series | Parallel):
                nested = True
                parts.append(self._nested(bare, depth + 1))
            else:
                parts.append(self._piece(bare).said)
        return f", {word} ".join(parts) if nested else _list(parts, word)

    def _nested(self, expression: Series | Parallel, depth: int) -> str:
        text = self._joined(expression, depth)
        deep = any(isinstance(_open(o), Series | Parallel) for o in expression.operands)
        if deep or depth > 1 or len(expression.operands) > 2:
            return f"({text})"
        return f"both {text}" if isinstance(expression, Series) else f"({text}, or both)"

    def _piece(self, expression: Expression, holds: bool = True) -> _Piece:
        match expression:
            case Group(inner=inner):
                return self._piece(inner, holds)
            case Not(operand=operand):
                return self._piece(operand, not holds)
            case Series() | Parallel():
                return _so_that(self._joined(expression if holds else _dual(expression), 0), True)
            case Edge():
                return self._edge(expression, holds)
            case Name(text=text):
                return self._named(text, holds)
            case Truth(value=value):
                return _being("the constant", "on" if value == holds else "off")
            case Compare():
                return self._compared(expression, holds)
            case Between(value=value, low=low, high=high):
                ends = f"{self.amount(low)} and {self.amount(high)}"
                return _being(self.amount(value), f"between {ends}" if holds else f"not between {ends}")
            case _:
                return _being(self.amount(expression), "on" if holds else "off")

    def _named(self, text: str, holds: bool) -> _Piece:
        manner = self.manner(text)
        if manner == "contact":
            return _being(f"contact {text}", "closed" if holds else "open")
        if manner == "truth":
            part, _, word = text.rpartition(".")
            if word.startswith("shows_"):
                message = f"message {word.removeprefix('shows_')}"
                told = (
                    (f"shows {message}", f"show {message}")
                    if holds
                    else (f"does not show {message}", f"not show {message}")
                )
                return _Piece(part, *told)
            word = word.replace("_", " ")
            if holds:
                return _being(part, word)
            return _Piece(part, f"is not {word}", f"not be {word}")
        if manner == "moment":
            return _being("this", "the first scan with power" if holds else "not the first scan with power")
        if manner == "mode":
            return _being("the controller", "scanning" if holds else "without power or stopped")
        return _being(text, "on" if holds else "off")

    def _edge(self, edge: Edge, holds: bool) -> _Piece:
        operand, rising = _open(edge.operand), edge.kind == "rising"
        while isinstance(operand, Not):
            operand, rising = _open(operand.operand), not rising
        if not isinstance(operand, Name):
            change = "becomes true" if rising else "ceases to be true"
            return _so_that(f"it {change} that {self.statement(operand)}", holds)
        subject, third, bare = self._change(operand.text, rising)
        if holds:
            return _Piece(subject, third, bare)
        return _Piece(subject, f"does not {bare}", f"not {bare}")

    def _change(self, text: str, rising: bool) -> tuple[str, str, str]:
        manner = self.manner(text)
        if manner == "contact":
            return (f"contact {text}", "closes", "close") if rising else (f"contact {text}", "opens", "open")
        if manner == "truth":
            part, _, word = text.rpartition(".")
            word = word.replace("_", " ")
            if rising:
                return part, f"becomes {word}", f"become {word}"
            return part, f"ceases to be {word}", f"cease to be {word}"
        if manner == "mode":
            return (
                ("the controller", "begins to scan", "begin to scan")
                if rising
                else ("the controller", "ceases to scan", "cease to scan")
            )
        return (text, "comes on", "come on") if rising else (text, "goes off", "go off")

    def _compared(self, compare: Compare, holds: bool) -> _Piece:
        operator = compare.operator if holds else _OPPOSITE[compare.operator]
        if isinstance(compare.right, Truth) and operator in ("=", "<>"):
            return self._piece(compare.left, compare.right.value == (operator == "="))
        return _being(self.amount(compare.left), f"{_RELATION[operator]} {self.amount(compare.right)}")

    # --------------------------------------------------------------- amounts

    def amount(self, expression: Expression | Interval | Point | Argument) -> str:
        """A number in words where there are words: "the level of header", "target - 5 L"."""
        match expression:
            case Number(text=text, unit=unit):
                return text if unit is None else f"{text} {unit}"
            case Truth(value=value):
                return "on" if value else "off"
            case Name(text=text):
                return self._amount_named(text)
            case Arithmetic(operator=operator, left=left, right=right):
                return f"{self.amount(left)} {operator} {self.amount(right)}"
            case Negate(operand=operand):
                return f"-{self.amount(operand)}"
            case Group(inner=inner):
                return f"({self.amount(inner)})"
            case Interval(low=low, high=high):
                return f"{self.amount(low)}..{self.amount(high)}"
            case Point(x=x, y=y):
                return f"{self.amount(x)}: {self.amount(y)}"
            case Argument(value=value, keyword=keyword):
                return self.amount(value) if keyword is None else f"{keyword} = {self.amount(value)}"
            case Call(function=function, arguments=arguments):
                return f"{function}({', '.join(self.amount(a) for a in arguments)})"
            case _:
                return f"({self.statement(expression)})"

    def _amount_named(self, text: str) -> str:
        part, dot, quantity = text.rpartition(".")
        if not dot:
            return text
        return f"the {'elapsed time' if quantity == 'elapsed' else quantity.replace('_', ' ')} of {part}"

    # ----------------------------------------------------------------- forms

    def requirement(self, requirement: Requirement) -> str:
        """One sentence, or two where the requirement has a scope line or begins late."""
        lead = ""
        if requirement.outputs_free:
            lead = "Whatever the controller's outputs do: "
        elif requirement.any_one_fault:
            lead = "Even with any one of the faults that the model knows: "
        if requirement.from_time is not None:
            lead += f"counting from {self.amount(requirement.from_time)} after the start: "
        text = self.form(requirement.form)
        return _capital(lead + (_small(text) if lead else text))

    def form(self, form: Form) -> str:
        match form:
            case Never(condition=condition):
                return f"At no instant {self._may_while(condition)}."
            case Always(condition=condition):
                return f"At every instant {self._piece(condition).must}."
            case Whenever():
                return self._whenever(form)
            case Stood(trigger=trigger, time=time, response=response):
                stood = f"{self.statement(trigger)} and this has stood for {self.amount(time)} without a break"
                return f"Whenever {stood}, {self._piece(response).must}."
            case AfterNever(trigger=trigger, forbidden=forbidden, release=release):
                must = self._piece(forbidden, holds=False).must
                return f"{self._from(trigger)}, {must} until {self.statement(release)}."
            case AtMost(count=count, event=event, time=time):
                times = "once" if count.text == "1" else f"{count.text} times"
                piece = self._piece(event)
                return f"In any stretch of {self.amount(time)}, {piece.subject} may {piece.bare} at most {times}."
            case Before(first=first, then=then):
                said = self.statement(first)
                return f"At no instant {self._may_while(then)} unless, then or earlier in the run, {said}."

    def _may_while(self, condition: Expression) -> str:
        condition = _open(condition)
        if isinstance(condition, Series):
            first, *rest = condition.operands
            if not isinstance(_open(first), Series | Parallel):
                if len(rest) == 1 and (edge := _edge_denied(rest[0])) is not None:
                    return f"{self._piece(first).may} unless {self._edge(edge, True).said} at that same instant"
                others = rest[0] if len(rest) == 1 else Series(condition.span, tuple(rest))
                return f"{self._piece(first).may} while {self.statement(others)}"
        return self._piece(condition).may

    def _from(self, trigger: Expression) -> str:
        trigger = _open(trigger)
        if isinstance(trigger, Name) and self.manner(trigger.text) == "moment":
            return "From the first scan after power comes"
        return f"From every instant at which {self.statement(trigger)}"

    def _whenever(self, form: Whenever) -> str:
        head = f"Whenever {self.statement(form.trigger)}, {self._piece(form.response).must}"
        if form.time is None or form.mode == "at once":
            return f"{head} at that same instant."
        time = self.amount(form.time)
        if form.mode == "within":
            return f"{head} then or at some instant no more than {time} later."
        return f"{head} then and at every instant until {time} later."

    def assumption(self, condition: Expression) -> str:
        return f"It is taken for granted that at every instant {self.statement(condition)}."

    def expectation(self, expect: Expect) -> str:
        must = self._piece(expect.condition).must
        if expect.time is None or expect.mode == "at end":
            return f"When the story ends, {must}."
        time = self.amount(expect.time)
        if expect.mode == "within":
            return f"At some instant no more than {time} after the last event, {must}."
        return f"From the last event until {time} later, {must}."


def _open(expression: Expression) -> Expression:
    """Without its parentheses; `not (a or b)` as the series `not a and not b` that it is."""
    while isinstance(expression, Group):
        expression = expression.inner
    if isinstance(expression, Not):
        inner = _open(expression.operand)
        if isinstance(inner, Series | Parallel):
            return _dual(inner)
    return expression


def _edge_denied(expression: Expression) -> Edge | None:
    """The edge of `not rising x`: what holds `unless` it comes."""
    expression = _open(expression)
    operand = _open(expression.operand) if isinstance(expression, Not) else None
    return operand if isinstance(operand, Edge) else None


def _dual(expression: Series | Parallel) -> Series | Parallel:
    negated = tuple(Not(o.span, o) for o in expression.operands)
    return Parallel(expression.span, negated) if isinstance(expression, Series) else Series(expression.span, negated)


def _list(parts: list[str], word: str) -> str:
    return f" {word} ".join((", ".join(parts[:-1]), parts[-1]))


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _small(text: str) -> str:
    """The sentence after a colon: its first word is always ours, never a name."""
    return text[:1].lower() + text[1:]
