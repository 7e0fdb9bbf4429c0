"""Comparisons spread out say the same as before, double for double, numbers that are none included."""

from __future__ import annotations

import math
from collections.abc import Callable
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rungproof.logic.proofs import spread as module
from rungproof.logic.proofs.evaluate import values_of
from rungproof.logic.proofs.literals import Invariant
from rungproof.logic.proofs.portfolio import decide
from rungproof.logic.proofs.recheck import Failed, Verified, recheck
from rungproof.logic.proofs.spread import spread
from rungproof.logic.proofs.system import System
from rungproof.logic.steps.node import OFF, Node, apply, constant, either, select, variable
from rungproof.logic.steps.operators import Scalar
from rungproof.logic.steps.step import InputVariable, StateVariable, Step

X, Y = variable("x", "real"), variable("y", "real")
CHOICE, OTHER = variable("choice", "bool"), variable("other", "bool")
#: `y` grows without bounds, so it may be no number; `x` lies within 180.
WILD = 1e308


def lesser(a: Node, b: Node) -> Node:
    return select(apply("lt", a, b), a, b)


def greater(a: Node, b: Node) -> Node:
    return select(apply("lt", a, b), b, a)


def drawn_number(random: Random, depth: int) -> Node:
    """A number of x, y and constants: sums, scalings, choices, the lesser and the greater of two."""
    if depth == 0:
        return random.choice([X, X, Y, constant(0.0), constant(random.choice([0.1, -3.0, 10.0]))])
    one, other = (drawn_number(random, depth - 1) for _ in range(2))
    makes: list[Callable[[], Node]] = [
        lambda: lesser(one, other),
        lambda: greater(one, other),
        lambda: select(random.choice([CHOICE, OTHER]), one, other),
        lambda: apply("add", one, select(CHOICE, other, constant(0.0))),
        lambda: apply("sub", one, select(OTHER, constant(0.0), other)),
        lambda: apply(random.choice(["add", "sub"]), one, constant(random.choice([0.01, -2.5, 0.0]))),
        lambda: apply("mul", one, constant(random.choice([2.0, -0.3]))),
    ]
    return random.choice(makes)()


def step_of(bad: Node) -> Step:
    inputs = {name: InputVariable(name, "bool") for name in ("choice", "other")}
    inputs["x"] = InputVariable("x", "real", -180.0, 180.0)
    states = {"y": StateVariable("y", "real", 0.0, -WILD, WILD)}
    return Step(states, inputs, {"y": apply("add", Y, Y)}, {"bad": bad, "triggered": OFF})


NUMBERS = st.one_of(
    st.floats(-180.0, 180.0), st.sampled_from([0.0, -0.0, 0.01, 9.99, 10.0, math.nextafter(10.0, 0.0), -2.5])
)


@settings(max_examples=300, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    operator=st.sampled_from(["lt", "le"]),
    x=NUMBERS,
    y=st.one_of(NUMBERS, st.sampled_from([math.inf, -math.inf, math.nan])),
    truths=st.tuples(st.booleans(), st.booleans()),
)
def test_spread_out_it_says_the_same(seed: int, operator: str, x: float, y: float, truths: tuple[bool, bool]) -> None:
    """Whatever the numbers are: every output is what it was."""
    random = Random(seed)
    bad = apply(operator, drawn_number(random, 2), drawn_number(random, 2))
    step = step_of(either(bad, apply("lt", drawn_number(random, 1), constant(-500.0))))
    wide = spread(step)
    values: dict[str, Scalar] = {"x": x, "y": y, "choice": truths[0], "other": truths[1]}
    before, after = step.outputs["bad"], wide.outputs["bad"]
    assert values_of([before], values)[before] == values_of([after], values)[after]


def too_much(sum_of_both: Node) -> System:
    """Bad where a number held between 0 and 10 is more than a hundredth above the greater of it and 0."""
    held = greater(constant(0.0), lesser(constant(10.0), sum_of_both))
    limit = apply("add", greater(constant(0.0), X), constant(0.01))
    return System(step_of(apply("lt", limit, held)), "R1", 1)


def test_a_number_held_within_bounds_is_no_more_than_itself() -> None:
    """Nothing is known of the number but that it is the same one on both sides; the other solver agrees."""
    system = too_much(apply("add", X, constant(0.0)))
    answer = decide(system, "bad", 10.0)
    assert answer.word == "proved"
    assert isinstance(recheck(system, Invariant(answer.clauses), 20.0), Verified)


def test_what_is_added_under_a_truth_counts_while_it_is_on() -> None:
    """With a nought added nothing is bad; with something, it is, and neither solver says otherwise."""
    system = too_much(apply("add", X, select(CHOICE, constant(1.0), constant(0.0))))
    assert decide(system, "bad", 10.0).word == "refuted"
    assert isinstance(recheck(system, Invariant(()), 20.0), Failed)


def test_a_nought_taken_for_a_one_is_caught(monkeypatch: pytest.MonkeyPatch) -> None:
    """A seeded mistake: a one that is added is left out like a nought. The second solver objects."""
    monkeypatch.setattr(module, "_is_nought", lambda node: node.operator == "constant" and node.value in (0, 1))
    system = too_much(apply("add", X, select(CHOICE, constant(1.0), constant(0.0))))
    answer = decide(system, "bad", 10.0)
    assert answer.word == "proved"
    assert not isinstance(recheck(system, Invariant(answer.clauses), 20.0), Verified)
