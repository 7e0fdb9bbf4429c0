"""Static bounds: whatever values the tags take, every number stays within what was proved of it.

The reference engine's evaluator gives the values.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import fields
from itertools import product
from typing import cast

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from rungproof.grammar import CATALOGUE, Reporter, parse_text
from rungproof.logic.engines.reference_expressions import Moment, evaluate
from rungproof.logic.meaning import ranges
from rungproof.logic.meaning.controller import type_controller
from rungproof.logic.meaning.findings.intervals import Bounded, narrowed
from rungproof.logic.meaning.program import Condition, Controller
from rungproof.logic.meaning.typed import Expression, Pi, Scalar, Typed

Value = Callable[[str, str, str], Expression]

TAGS = """
    x  memory  real -50..80
    y  memory  real 0..3
    n  memory  int -7..9
    k  memory  int 1..5
    wide  memory  real -1e9..1e9
"""

_LEAVES = st.sampled_from(["x", "y", "n", "k", "2", "0.5", "3", "-4"])


def _grown(inner: st.SearchStrategy[str]) -> st.SearchStrategy[str]:
    pairs = st.tuples(inner, inner)
    return st.one_of(
        st.tuples(inner, st.sampled_from("+-*/"), inner).map(lambda t: f"({t[0]} {t[1]} {t[2]})"),
        pairs.map(lambda t: f"min({t[0]}, {t[1]})"),
        pairs.map(lambda t: f"max({t[0]}, {t[1]})"),
        inner.map(lambda a: f"abs({a})"),
        inner.map(lambda a: f"sqrt({a})"),
        inner.map(lambda a: f"round({a} * 1.0)"),
        inner.map(lambda a: f"trunc({a} * 1.0)"),
        st.tuples(inner, inner, inner).map(lambda t: f"select({t[0]} < {t[1]}, {t[2]}, {t[0]})"),
        inner.map(lambda a: f"scale({a}, -3..5, 10..-2)"),
        inner.map(lambda a: f"table({a}, -2: 4, 0: 1, 1.5: 9, 40: -7)"),
    )


expressions = st.recursive(_LEAVES, _grown, max_leaves=8)
values = st.fixed_dictionaries(
    {
        "x": st.sampled_from([-50.0, 80.0, 0.0]) | st.floats(-50, 80),
        "y": st.sampled_from([0.0, 3.0]) | st.floats(0, 3),
        "n": st.integers(-7, 9),
        "k": st.integers(1, 5),
    }
)


def _controller(rung: str, tags: str = TAGS) -> Controller | None:
    reporter = Reporter(CATALOGUE)
    text = f'controller "Test" every 10 ms\n\ntags\n{tags}\n{rung}'
    return type_controller(parse_text(text, "t.rung", reporter).blocks, reporter).controller


def _numbers(node: object) -> Iterator[Expression]:
    """Every number in an expression."""
    if isinstance(node, tuple):
        for part in node:
            yield from _numbers(part)
    elif isinstance(node, Typed):
        if node.type != "bool":
            yield cast("Expression", node)
        for field in fields(node):
            yield from _numbers(getattr(node, field.name))


_GRID: dict[str, list[Scalar]] = {
    "x": [-50.0, -3.0, 0.0, 5.0, 80.0],
    "y": [0.0, 1.5, 3.0],
    "n": [-7, -1, 0, 2, 9],
    "k": [1, 2, 5],
}


@pytest.mark.parametrize(
    "text",
    [
        *(f"{a} {operator} {b}" for operator in "+-*" for a in ("x", "n") for b in ("x", "y", "n", "k") if a != b),
        "x / k",
        "n / k",
        "k / -2",
        "x * x",
        "min(x, y)",
        "max(n, k)",
        "abs(x)",
        "-x",
        "sqrt(x)",
        "round(x * 1.0)",
        "select(x > 0, y, n)",
        "scale(x, -3..5, 10..-2)",
        "table(x, -50: 4, 0: 1, 5: 90, 80: -7)",
    ],
)
def test_bounds_are_reached(text: str) -> None:
    """Bounds of one operation on tags are its least and greatest value: no wider than they must be."""
    controller = _controller(f"rung r\n    => wide := 1.0 * ({text})\n")
    assert controller is not None
    value = controller.rungs[0].outputs[0].value
    assert value is not None
    rows = [dict(zip(_GRID, row, strict=True)) for row in product(*_GRID.values())]
    found = [evaluate(value, Moment(tags=row)) for row in rows]
    assert (value.low, value.high) == (min(found), max(found))


@settings(max_examples=300, deadline=None)
@given(expressions, values)
def test_every_number_within_an_expression_stays_within_its_bounds(text: str, tags: dict[str, Scalar]) -> None:
    """low <= value <= high for the whole and for each part, and all are below the limit of their type."""
    controller = _controller(f"rung r\n    => wide := 1.0 * {text}\n")
    assume(controller is not None)
    assert controller is not None
    value = controller.rungs[0].outputs[0].value
    for part in _numbers(value):
        found = evaluate(part, Moment(tags=tags))
        assert part.low <= found <= part.high
        assert isinstance(found, int if part.type == "int" else float)
        assert ranges.within_limit((part.low, part.high), part.type)


_conditions = st.lists(
    st.sampled_from(
        ["x > 0", "x >= 12.5", "x < y", "y > 0", "y <= n", "n <> 9", "n = k", "not k > 3", "x between -1 and 2"]
    ),
    min_size=1,
    max_size=3,
)


@settings(max_examples=300, deadline=None)
@given(_conditions, expressions, values)
def test_bounds_narrowed_by_a_condition_hold_where_it_holds(
    lines: list[str], text: str, tags: dict[str, Scalar]
) -> None:
    """Where lines are true, or false, tags and numbers stay within the bounds narrowed by that."""
    path = "".join(f"    {line}\n" for line in lines)
    controller = _controller(f"rung r\n{path}    => wide := 1.0 * {text}\n")
    assume(controller is not None)
    assert controller is not None
    known: dict[str, ranges.Bounds] = {}
    for element in controller.rungs[0].elements:
        assert isinstance(element, Condition)
        known = narrowed(element.expression, known, bool(evaluate(element.expression, Moment(tags=tags))))
    for name, (low, high) in known.items():
        assert low <= tags[name] <= high
    value = controller.rungs[0].outputs[0].value
    assert value is not None
    low, high = Bounded(known).of(value)
    assert low <= evaluate(value, Moment(tags=tags)) <= high


_XS = st.sampled_from([-50.0, 80.0]) | st.floats(-50, 80)
_REMEMBERING = ["wide := filter(x, 300 ms)", "wide := ramp(x, y / 1 s)", "speed := rate(x)"]


@settings(max_examples=100, deadline=None)
@given(st.sampled_from(_REMEMBERING), st.lists(_XS, max_size=20), st.data())
def test_numbers_with_memory_stay_within_their_bounds(text: str, xs: list[float], data: st.DataObject) -> None:
    """filter and ramp stay within what they follow, rate within the range by the shortest scan."""
    controller = _controller(f"rung r\n    => {text}\n", TAGS + "    speed  memory  real Hz -1e6..1e6\n")
    assert controller is not None
    value = controller.rungs[0].outputs[0].value
    assert value is not None
    memory: dict[str, object] = {}
    for x in xs:
        dt = data.draw(st.integers(10, 500))
        moment = Moment(tags={"x": x, "y": 2.5}, memory=memory, dt_ms=dt)
        found = evaluate(value, moment)
        assert value.low <= found <= value.high


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.floats(-50, 80), st.floats(0, 3), st.integers(10, 500)), max_size=30))
def test_pi_stays_within_its_tags_range(steps: list[tuple[float, float, int]]) -> None:
    """The output of pi is within the range of its tag at every scan."""
    tags = TAGS + "    out  memory  real V 0..10\n"
    controller = _controller("rung r\n    => out := pi(x, y, gain = 3 V, integral = 2 s, direction = reverse)\n", tags)
    assert controller is not None
    value = controller.rungs[0].outputs[0].value
    assert isinstance(value, Pi)
    memory: dict[str, object] = {}
    for x, y, dt in steps:
        found = evaluate(value, Moment(tags={"x": x, "y": y}, memory=memory, dt_ms=dt))
        assert 0 <= found <= 10


@given(st.floats(-1e6, 1e6), st.floats(-1e6, 1e6))
def test_real_division_is_total(a: float, b: float) -> None:
    """x/0 is the limit with x's sign, 0/0 is 0, and quotients stay within the limit."""
    found = ranges.quotient_real(a, b)
    assert abs(found) <= ranges.REAL_LIMIT
    if b == 0:
        assert found == (0 if a == 0 else ranges.REAL_LIMIT if a > 0 else -ranges.REAL_LIMIT)


@pytest.mark.parametrize(
    ("a", "b", "expected"), [(7, 2, 3), (-7, 2, -3), (7, -2, -3), (-7, -2, 3), (0, 0, 0), (5, 0, 2**53)]
)
def test_int_division_truncates_toward_zero(a: int, b: int, expected: int) -> None:
    """As IEC 61131-3 has it for integers (from memory), with x/0 declared by us."""
    assert ranges.quotient_int(a, b) == expected


def test_the_square_of_a_tag_is_never_negative(value: Value) -> None:
    """x * x is known to be one number twice, so its root is no finding."""
    found = value(TAGS, "wide", "x * x")
    assert (found.low, found.high) == (0, 6400.0)


def test_what_could_leave_the_doubles_is_refused() -> None:
    """A chain of products is refused where it could pass 1e300, at the product that does."""
    reporter = Reporter(CATALOGUE)
    chain = " * ".join(["wide"] * 40)
    text = f'controller "T" every 10 ms\n\ntags\n{TAGS}\nrung r\n    => wide := {chain}\n'
    assert type_controller(parse_text(text, "t.rung", reporter).blocks, reporter).controller is None
    assert [d.code for d in reporter.found] == ["number-too-large"]
