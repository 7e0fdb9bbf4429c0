"""Numbers on the reference engine, against exact fractions and hand-worked values."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rigs import bench_of
from rungproof.grammar.tree import Span
from rungproof.logic.engines.reference_expressions import Moment, evaluate
from rungproof.logic.engines.reference_numbers import int_quotient, quotient, root
from rungproof.logic.meaning.typed import (
    Binary,
    Comparison,
    Constant,
    Convert,
    Expression,
    Function,
    Scale,
    Table,
    ToReal,
)

HERE = Span("", 0, 0, 0)
INTS = st.integers(-(2**53), 2**53)
REALS = st.floats(-1e6, 1e6)


def real(value: float) -> Constant:
    return Constant(type="real", span=HERE, value=value)


def whole(value: int) -> Constant:
    return Constant(type="int", span=HERE, value=value)


def truth(value: bool) -> Constant:
    return Constant(type="bool", span=HERE, value=value)


def call(name: Any, *arguments: Expression, kind: Any = "real") -> Any:
    return evaluate(Function(type=kind, span=HERE, name=name, arguments=arguments), Moment())


def test_a_constant_has_its_types_value() -> None:
    """A whole number written for a real is a real."""
    assert isinstance(evaluate(real(3), Moment()), float)


@given(INTS, INTS)
def test_int_quotient_is_cut_toward_zero(a: int, b: int) -> None:
    """a/b of ints is the exact quotient cut toward zero; x/0 is sign(x)*2^53, 0/0 is 0."""
    expected = math.trunc(Fraction(a, b)) if b else (2**53 if a > 0 else -(2**53) if a < 0 else 0)
    assert int_quotient(a, b) == expected
    assert evaluate(Binary(type="int", span=HERE, operator="/", left=whole(a), right=whole(b)), Moment()) == expected


@pytest.mark.parametrize(
    ("a", "b", "expected"),
    [
        (1.0, 0.0, 1e300),
        (-2.0, 0.0, -1e300),
        (0.0, 0.0, 0.0),
        (1e300, 1e-10, 1e300),
        (-1e300, 1e-10, -1e300),
        (7.0, 2.0, 3.5),
    ],
)
def test_real_quotient_is_guarded_and_clamped(a: float, b: float, expected: float) -> None:
    """x/0 is sign(x)*1e300, 0/0 is 0, and quotients stay within 1e300."""
    assert quotient(a, b) == expected
    assert evaluate(Binary(type="real", span=HERE, operator="/", left=real(a), right=real(b)), Moment()) == expected


@given(REALS, REALS)
def test_sums_and_products_are_single_ieee_operations(a: float, b: float) -> None:
    """+ - * of reals are correctly rounded: the double nearest to the exact result."""
    for operator, exact in (
        ("+", Fraction(a) + Fraction(b)),
        ("-", Fraction(a) - Fraction(b)),
        ("*", Fraction(a) * Fraction(b)),
    ):
        got = evaluate(Binary(type="real", span=HERE, operator=operator, left=real(a), right=real(b)), Moment())
        assert got == float(exact)


@pytest.mark.parametrize(("value", "expected"), [(0.5, 0), (1.5, 2), (2.5, 2), (-0.5, 0), (-1.5, -2), (2.4, 2)])
def test_round_goes_to_even_on_halves(value: float, expected: int) -> None:
    """`round` gives the nearest int, on a half the even one."""
    assert call("round", real(value), kind="int") == expected


@given(st.floats(-1e9, 1e9))
def test_trunc_cuts_toward_zero(value: float) -> None:
    """`trunc` cuts the fraction off."""
    assert call("trunc", real(value), kind="int") == math.trunc(Fraction(value))


def test_root_of_a_negative_number_is_zero() -> None:
    """`sqrt` of a negative number is 0."""
    assert (root(-1.0), root(2.25), call("sqrt", real(-4))) == (0.0, 1.5, 0.0)


def test_least_and_greatest_choose_as_select_does() -> None:
    """min(a, b) = select(a < b, a, b), max(a, b) = select(b < a, a, b), folded from the left: seen on signed zeros."""
    assert math.copysign(1, call("min", real(0.0), real(-0.0))) == -1
    assert math.copysign(1, call("min", real(-0.0), real(0.0))) == 1
    assert math.copysign(1, call("max", real(-0.0), real(0.0))) == 1
    assert call("min", real(3), real(1), real(2)) == 1
    assert call("max", real(3), real(1), real(4), real(2)) == 4


def test_the_other_functions() -> None:
    """neg, abs and select do what their names say."""
    assert (call("neg", real(2)), call("abs", real(-2)), call("abs", real(2))) == (-2, 2, 2)
    assert [call("select", truth(c), whole(1), whole(2), kind="int") for c in (True, False)] == [1, 2]


@pytest.mark.parametrize(
    ("operator", "expected"),
    [("<", "100"), ("<=", "110"), (">", "001"), (">=", "011"), ("=", "010"), ("<>", "101")],
)
def test_comparisons(operator: Any, expected: str) -> None:
    """The six comparisons of 1, 2 and 3 with 2."""
    found = [
        evaluate(Comparison(type="bool", span=HERE, operator=operator, left=whole(x), right=whole(2)), Moment())
        for x in (1, 2, 3)
    ]
    assert found == [each == "1" for each in expected]


@given(REALS, st.integers(1, 10**6), st.integers(1, 10**6))
def test_conversion_multiplies_then_divides(x: float, numerator: int, denominator: int) -> None:
    """A conversion is x * numerator, rounded, then / denominator, rounded."""
    got = evaluate(
        Convert(type="real", span=HERE, operand=real(x), numerator=numerator, denominator=denominator), Moment()
    )
    assert got == float(Fraction(float(Fraction(x) * numerator)) / denominator)


def test_conversion_of_an_int_is_exact() -> None:
    """Ints convert by a whole number, without rounding."""
    got = evaluate(Convert(type="int", span=HERE, operand=whole(2**40 + 1), numerator=60_000, denominator=1), Moment())
    assert got == (2**40 + 1) * 60_000


def test_an_int_becomes_a_real() -> None:
    """`ToReal` changes the type and nothing else."""
    got = evaluate(ToReal(type="real", span=HERE, operand=whole(7)), Moment())
    assert (got, type(got)) == (7.0, float)


@pytest.mark.parametrize(
    ("counts", "expected"), [(0, 25.0), (65535, 125.0), (13107, 45.0), (-65535, -75.0), (131070, 225.0)]
)
def test_scale_extrapolates(counts: int, expected: float) -> None:
    """`scale` goes on beyond both ends: clamping would hide a broken wire."""
    scale = Scale(type="real", span=HERE, operand=whole(counts), from_low=0, from_high=65535, to_low=25, to_high=125)
    assert evaluate(scale, Moment()) == expected


@given(st.floats(-100, 200))
def test_scale_is_done_in_the_declared_order(x: float) -> None:
    """scale = c + ((x - a) * (d - c)) / (b - a), rounded after each operation."""
    scale = Scale(type="real", span=HERE, operand=real(x), from_low=0.1, from_high=0.7, to_low=-3, to_high=11)
    step = float(Fraction(x) - Fraction(0.1))
    product = float(Fraction(step) * 14)
    share = float(Fraction(product) / Fraction(0.7 - 0.1))
    assert evaluate(scale, Moment()) == float(Fraction(-3) + Fraction(share))


@pytest.mark.parametrize(
    ("x", "expected"), [(-10.0, -31.0), (0.0, 0.0), (5.0, 15.5), (10.0, 31.0), (15.0, 40.0), (20.0, 49.0), (30.0, 67.0)]
)
def test_table_is_linear_between_its_rows(x: float, expected: float) -> None:
    """A strapping table is linear between rows, and its end pieces go on beyond them."""
    points = ((0.0, 0.0), (10.0, 31.0), (20.0, 49.0))
    assert evaluate(Table(type="real", span=HERE, operand=real(x), points=points), Moment()) == expected


@given(st.lists(st.tuples(st.floats(0.01, 10), REALS), min_size=2, max_size=6))
def test_a_tables_rows_are_met_exactly(rows: list[tuple[float, float]]) -> None:
    """At every row but the last a table gives that row's value to the last bit: its piece begins there."""
    points = tuple((sum(step for step, _ in rows[: k + 1]), y) for k, (_, y) in enumerate(rows))
    found = [evaluate(Table(type="real", span=HERE, operand=real(x), points=points), Moment()) for x, _ in points[:-1]]
    assert found == [y for _, y in points[:-1]]


# ------------------------------------------------------------------ in files


def test_units_convert_to_the_left_side() -> None:
    """A sum of cm and m is in cm; a comparison converts its right side too."""
    bench = bench_of(
        "near input real cm 0..100\nfar input real m 0..10\nsum memory real cm 0..2000\nbigger output bool",
        "sum: => sum := near + far\nbigger: near > far; => bigger",
    )
    seen = bench.scan(near=50.0, far=0.25)
    assert (seen["sum"], seen.bigger) == (75.0, True)


@pytest.mark.parametrize(("value", "expected"), [(50.0, 10.0), (-50.0, 0.0), (4.0, 8.0)])
def test_a_store_saturates(value: float, expected: float) -> None:
    """A value beyond the tag's range is stored as the end of the range."""
    bench = bench_of("x input real -100..100\ny memory real 0..10", "y: => y := x * 2")
    assert bench.scan(x=value).y == expected


def test_an_int_store_saturates() -> None:
    """Ints saturate at both ends too."""
    bench = bench_of("n input int -9..9\nm memory int -5..5", "m: => m := n")
    assert [bench.scan(n=n).m for n in (9, -9, 3)] == [5, -5, 3]


def test_no_negative_zero_is_stored() -> None:
    """A real store turns -0.0 into 0.0."""
    bench = bench_of("x input real -1..1\ny memory real -1..1", "y: => y := x * 0")
    assert math.copysign(1, float(bench.scan(x=-1.0).y)) == 1
