"""The Step form itself: operators, folding, tracing, text, slices."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rungproof.logic.steps.interpret import advance, start
from rungproof.logic.steps.node import ON, Node, apply, clamp, constant, least, most, ordered, select, variable
from rungproof.logic.steps.operators import OPERATORS, assert_exhaustive
from rungproof.logic.steps.step import InputVariable, StateVariable, Step
from rungproof.logic.steps.symbol import NotSymbolicError, Symbol, SymbolicOps
from rungproof.logic.steps.text import StepTextError, parse_step, print_step
from rungproof.plant.operators import PLAIN

REALS = st.floats(-1e6, 1e6) | st.sampled_from([0.0, -0.0, 1.0, -1.0, 0.5])
INTS = st.integers(-1000, 1000)
DRAW = {"bool": st.booleans(), "int": INTS, "real": REALS}
SIGNATURES = [(each.name, operands) for each in OPERATORS.values() for operands, _ in each.signatures]


def _bits(value: object) -> object:
    return value.hex() if isinstance(value, float) else (type(value), value)


def _value(node: Node, values: dict[str, object]) -> object:
    """What a node computes, by a Step with one output."""
    inputs = {n.name: InputVariable(n.name, n.type) for n in ordered([node]) if n.operator == "variable"}
    _, outputs = advance(Step({}, inputs, {}, {"out": node}), {}, values)  # type: ignore[arg-type]
    return outputs["out"]


@pytest.mark.parametrize(("name", "operands"), SIGNATURES)
@given(st.data())
def test_folding_never_changes_a_bit(name: str, operands: tuple[str, ...], data: st.DataObject) -> None:
    """An operator with some operands constant gives the bits that it gives with none constant."""
    values = [data.draw(DRAW[each]) for each in operands]
    if name == "quotient" and values[1] == 0:
        values[1] = 2.0
    plain = OPERATORS[name].plain(*values)
    nodes = []
    for index, (value, type_) in enumerate(zip(values, operands, strict=True)):
        known = data.draw(st.booleans())
        nodes.append(constant(value) if known else variable(f"v{index}", type_))  # type: ignore[arg-type]
    assert _bits(_value(apply(name, *nodes), {f"v{i}": v for i, v in enumerate(values)})) == _bits(plain)


def test_equal_expressions_are_one_node() -> None:
    """Hash-consing: the same operator over the same operands is the same object."""
    a, b = variable("a", "int"), variable("b", "int")
    assert apply("add", a, b) is apply("add", a, b)
    assert constant(0.0) is not constant(-0.0)
    assert constant(1) is not constant(True)


def test_adding_zero_to_a_real_is_kept() -> None:
    """-0.0 + 0.0 is 0.0, so x + 0.0 must not fold to x."""
    x = variable("x", "real")
    assert apply("add", x, constant(0.0)) is not x
    assert apply("add", variable("n", "int"), constant(0)) is variable("n", "int")


def test_an_operator_refuses_wrong_types() -> None:
    """Types are checked where a node is made, with the operator's name in the message."""
    with pytest.raises(TypeError, match="`and` does not take int, bool"):
        apply("and", constant(1), variable("a", "bool"))


def test_the_operator_set_is_closed() -> None:
    """An engine that lacks an operator, or has one more, is told at import."""
    assert_exhaustive("this test", OPERATORS)
    with pytest.raises(AssertionError, match="lacks"):
        assert_exhaustive("a half engine", list(OPERATORS)[1:])


@pytest.mark.parametrize(
    "misuse",
    [bool, float, int, round, math.floor, lambda x: x == 1, lambda x: x / 2, lambda x: x**2, lambda x: [1][x]],
)
def test_a_symbol_refuses_to_be_a_number(misuse: object) -> None:
    """A part that branches on a value, or leaves `ops`, raises instead of lowering to half of itself."""
    with pytest.raises((NotSymbolicError, TypeError)):
        misuse(Symbol(variable("x", "real")))  # type: ignore[operator]


@given(REALS, REALS, st.booleans())
def test_symbolic_ops_compute_what_plain_ops_do(a: float, b: float, c: bool) -> None:
    """Every entry of the operator namespace, traced and run, gives the plain bits."""
    ops, x, y, z = SymbolicOps(), *(Symbol(variable(n, t)) for n, t in (("x", "real"), ("y", "real"), ("z", "bool")))  # type: ignore[arg-type]
    pairs = [
        (ops.select(z, x, y), PLAIN.select(c, a, b)),
        (ops.min(x, y), PLAIN.min(a, b)),
        (ops.max(x, y), PLAIN.max(a, b)),
        (ops.abs(x), PLAIN.abs(a)),
        (ops.sqrt(x), PLAIN.sqrt(a)),
        (ops.divide(x, y), PLAIN.divide(a, b)),
        (ops.both(z, x < y), PLAIN.both(c, a < b)),
        (ops.either(z, x >= y), PLAIN.either(c, a >= b)),
        (ops.inverse(z), PLAIN.inverse(c)),
        (ops.same(z, x <= y), PLAIN.same(c, a <= b)),
        (ops.real(z), PLAIN.real(c)),
        (2.0 * x - y + 1, 2.0 * a - b + 1),
        (-(x * y), -(a * b)),
    ]
    for traced, plain in pairs:
        assert _bits(_value(traced.node, {"x": a, "y": b, "z": c})) == _bits(plain)


def _counter() -> Step:
    """Counts rises of `press` up to 3; `spare` is of no consequence to `full`."""
    press, before, count = variable("press", "bool"), variable("before", "bool"), variable("count", "int")
    rise = apply("and", press, apply("not", before))
    grown = least(apply("add", count, constant(1)), constant(3))
    return Step(
        {
            "before": StateVariable("before", "bool", False),
            "count": StateVariable("count", "int", 0, 0, 3),
            "spare": StateVariable("spare", "real", -0.0, -1.0, 1.0),
        },
        {"press": InputVariable("press", "bool"), "gain": InputVariable("gain", "real", 0.5, 2.0, constant=True)},
        {"before": press, "count": select(rise, grown, count), "spare": clamp(variable("gain", "real"), -1.0, 1.0)},
        {"full": apply("eq", count, constant(3)), "spare": variable("spare", "real")},
        {"the press": rise},
    )


def test_a_step_prints_readably() -> None:
    """One assignment a line, operands first, labels as names."""
    assert print_step(_counter().slice(["full"])) == (
        "state before bool off\n"
        "state count int 0 0..3\n"
        "input press bool\n"
        "let %1 = not before\n"
        'let "the press" = and press %1\n'
        "let %3 = add count 1\n"
        "let %4 = lt %3 3\n"
        "let %5 = select %4 %3 3\n"
        'let %6 = select "the press" %5 count\n'
        "let %7 = eq count 3\n"
        "next before = press\n"
        "next count = %6\n"
        "output full = %7\n"
    )


def test_a_step_comes_back_from_its_text() -> None:
    """Text and Step say the same thing, signs of zero and constants of a run included."""
    step = _counter()
    again = parse_step(print_step(step))
    assert again == step
    assert print_step(again) == print_step(step)


@pytest.mark.parametrize("line", ["let x = and", "state a bool", "next a = nothing", "hello", "let x = power 1 2"])
def test_a_wrong_line_is_named(line: str) -> None:
    """A text that is no Step is refused with the line's number and words."""
    with pytest.raises(StepTextError, match="line 2"):
        parse_step(f"input ok bool\n{line}\n")


def test_a_slice_keeps_the_cone_only() -> None:
    """What an output does not need is gone: states, inputs and assignments."""
    cone = _counter().slice(["full"])
    assert set(cone.states) == {"before", "count"}
    assert set(cone.inputs) == {"press"}


def test_an_unknown_variable_is_refused() -> None:
    """A Step that reads what is neither state nor input cannot be made."""
    with pytest.raises(ValueError, match="`ghost` \\(bool\\) is neither a state variable nor an input"):
        Step({}, {}, {}, {"out": apply("not", variable("ghost", "bool"))})


def test_inputs_can_be_given() -> None:
    """An input replaced by a constant folds away."""
    fixed = _counter().given({"press": ON})
    assert "press" not in fixed.inputs
    state = start(fixed)
    for _ in range(3):
        state, _ = advance(fixed, state, {"gain": 1.0})
    assert state["count"] == 1


@given(REALS, REALS)
def test_min_and_max_are_selects(a: float, b: float) -> None:
    """min(a, b) = select(a < b, a, b) and max(a, b) = select(b < a, a, b), for -0.0 too."""
    x, y = variable("x", "real"), variable("y", "real")
    assert _bits(_value(least(x, y), {"x": a, "y": b})) == _bits(a if a < b else b)
    assert _bits(_value(most(x, y), {"x": a, "y": b})) == _bits(a if b < a else b)
