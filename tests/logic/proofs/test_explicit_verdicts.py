"""Provers and exhaustive exploration say the same of generated programs; mistaken encodings are found out."""

from __future__ import annotations

from collections.abc import Callable
from random import Random
from typing import Any

import pytest
from agreement_of_verdicts import Tally, compare, outages
from rungproof.logic.meaning.understand import understand_texts
from rungproof.logic.proofs import explicit, smt, smt_pullback, tape
from rungproof.logic.proofs.explicit import explore
from rungproof.logic.proofs.system import OUTAGE_TICKS, requirement_system
from rungproof.logic.steps.node import apply, constant, variable
from rungproof.logic.steps.step import InputVariable, StateVariable, Step
from small_controllers import small_text
from test_explicit import plain_exploration, random_step
from test_smt import BOOL, INPUTS, INT, REAL, disagreements


def test_no_verdict_differs_from_trying_everything() -> None:
    """Proved: out of reach, verified again, true of every state. Refuted: reached, in the fewest scans."""
    tally = Tally()
    for seed in range(20):
        compare(seed, tally)
    assert tally.wrong == []
    assert tally.counts["proved, not"] > 20
    assert tally.counts["refuted, reachable"] > 30
    assert tally.counts["too large"] < 10


@pytest.mark.slow
def test_no_verdict_differs_on_many_programs() -> None:
    """The same on other seeds, more of them."""
    tally = Tally()
    for seed in range(10_000, 10_400):
        compare(seed, tally)
    assert tally.wrong == []


def test_longer_outages_show_nothing_new() -> None:
    """The outages tried are all that differ: the same states and depth with longer ones besides."""
    compared = 0
    for seed in range(40):
        program = understand_texts({"small.rung": small_text(Random(seed))}).program
        if program is None or "tally" in small_text(Random(seed)):
            continue
        for requirement in program.requirements:
            system = requirement_system(program, requirement)
            cone = system.step.slice([system.bad])
            free, few = system.free_starts, outages(system)
            if OUTAGE_TICKS not in cone.inputs:
                continue
            found = [
                explore(cone, system.bad, choices={OUTAGE_TICKS: tried}, free_starts=free)
                for tried in (few, [*few, few[-1] + 1, few[-1] + 7, 2**31])
            ]
            assert found[0].depth == found[1].depth
            assert found[0].states == found[1].states
            compared += 1
    assert compared > 10


# ------------------------------------------------------------ mistaken encodings


Write = Callable[[Any, list[str]], str]

#: A wrong way to write an operator for the solver.
WRITTEN: dict[str, tuple[str, Write]] = {
    "le as lt": ("le", lambda node, o: f"(< {o[0]} {o[1]})"),
    "lt as le": ("lt", lambda node, o: f"(<= {o[0]} {o[1]})"),
    "operands of lt swapped": ("lt", lambda node, o: f"(< {o[1]} {o[0]})"),
    "or as and": ("or", lambda node, o: f"(and {o[0]} {o[1]})"),
    "arms of select swapped": ("select", lambda node, o: f"(ite {o[0]} {o[2]} {o[1]})"),
    "div rounding down": ("div", lambda node, o: f"(div {o[0]} {node.operands[1].value})"),
    "round half up": ("round", lambda node, o: f"(to_int (+ {o[0]} 0.5))"),
    "trunc rounding down": ("trunc", lambda node, o: f"(to_int {o[0]})"),
    "abs forgotten": ("abs", lambda node, o: o[0]),
    "neg forgotten": ("neg", lambda node, o: o[0]),
    "a difference the other way": ("sub", lambda node, o: f"(- {o[1]} {o[0]})"),
}


def one_of_each() -> list[Step]:
    """Steps of one operator each, on which its likeliest mistakes show."""
    a, b = INT[:2]
    half = apply("select", apply("lt", a, b), constant(2.5), constant(-2.5))
    nodes = [apply(name, a, b) for name in ("lt", "le", "eq", "add", "sub")]
    nodes += [apply(name, BOOL[0], BOOL[1]) for name in ("and", "or")]
    nodes += [apply("div", a, constant(2)), apply("div", a, constant(-3)), apply("mul", a, constant(-3))]
    nodes += [apply("round", half), apply("trunc", half), apply("abs", a), apply("neg", a)]
    nodes += [apply("select", BOOL[0], a, b), apply("mul", apply("real", a), constant(0.1))]
    return [Step({}, INPUTS, {}, {"o": node}) for node in nodes]


def found_out() -> bool:
    """Whether lockstep of the solver's text with plain evaluation shows anything wrong."""
    rest = {each.name: 0.0 for each in REAL} | {INT[2].name: 0, BOOL[2].name: False}
    samples = [
        {**rest, INT[0].name: a, INT[1].name: b, BOOL[0].name: a > 0, BOOL[1].name: b > 0}
        for a in (-5, -2, 0, 2, 3)
        for b in (-2, 2)
    ]
    return any(disagreements(step, samples) for step in one_of_each())


def test_the_right_encoding_shows_nothing_wrong() -> None:
    """Without a mistake the same lockstep is silent."""
    assert not found_out()


@pytest.mark.parametrize("name", WRITTEN)
def test_a_mistaken_operator_is_found_out(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """An operator written wrongly for the solver disagrees with plain evaluation."""
    operator, write = WRITTEN[name]
    monkeypatch.setitem(smt._WRITE, operator, write)
    assert found_out()


def test_rounded_arithmetic_taken_for_real_is_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """Arithmetic on doubles written as arithmetic on Real excludes behaviours."""
    monkeypatch.setattr(smt, "_ROUNDED", {"divide", "sqrt"})
    assert found_out()


def test_a_threshold_beside_the_true_one_is_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """A pulled-back threshold one value off excludes behaviours."""
    count = variable("count", "int")
    flow = apply("lt", constant(1671.6), apply("mul", apply("real", count), constant(0.2)))
    step = Step({}, {"count": InputVariable("count", "int", 0, 65535)}, {}, {"o": flow})
    samples = [{"count": value} for value in (8356, 8357, 8358, 8359)]
    assert disagreements(step, samples) == []
    right = smt_pullback.Chains.edge

    def beside(self: Any, variable_: Any, holds: Any, *, below: bool) -> Any:
        crossing = right(self, variable_, holds, below=below)
        return smt_pullback.Crossing(None if crossing.at is None else crossing.at + 1, below, crossing.always)

    monkeypatch.setattr(smt_pullback.Chains, "edge", beside)
    assert disagreements(step, samples)


def test_a_range_believed_unseen_is_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """Declared ranges taken for granted exclude the states of a Step that leaves them."""
    n = variable("n", "int")
    step = Step({"n": StateVariable("n", "int", 0, 0, 3)}, {}, {"n": apply("add", n, constant(1))}, {"o": n})
    samples = [{"n": value} for value in range(8)]
    assert disagreements(step, samples) == []
    monkeypatch.setattr(smt, "shown_ranges", lambda step: {"n": (0, 3)})
    assert disagreements(step, samples)


#: A wrong way to compute an operator in the exploration.
COMPUTED: dict[str, tuple[str, Callable[..., Any]]] = {
    "lt as le": ("lt", explicit.np.less_equal),
    "le as lt": ("le", explicit.np.less),
    "or as and": ("or", explicit.np.logical_and),
    "div rounding down": ("div", lambda a, b: a // explicit.np.where(b == 0, 1, b)),
    "arms of select swapped": ("select", lambda a, b, c: explicit.np.where(a, c, b)),
}


@pytest.mark.parametrize("name", COMPUTED)
def test_a_mistaken_exploration_is_found_out(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """An operator computed wrongly gives other states than plain search, or leaves the ranges."""
    operator, compute = COMPUTED[name]
    monkeypatch.setitem(tape._NUMPY, operator, compute)
    for seed in range(60):
        step = random_step(Random(seed))
        try:
            found = explore(step, "bad")
        except AssertionError:
            return
        states, depth = plain_exploration(step)
        if found.depth != depth or {tuple(row.values()) for row in found.table} != states:
            return
    pytest.fail("nobody noticed")
