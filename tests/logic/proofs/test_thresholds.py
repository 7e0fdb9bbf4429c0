"""Numbers as bits: thresholds are exact for doubles, and the rewritten Step shows whatever the given one shows."""

from __future__ import annotations

import math
from random import Random

import pytest
from generated_programs import controller_text
from hypothesis import given, settings
from hypothesis import strategies as st
from rungproof.logic.meaning.understand import understand_texts
from rungproof.logic.proofs.bits import Bits, above
from rungproof.logic.proofs.copies import Copy, fact, new_solver
from rungproof.logic.proofs.encode_bits import Circuit
from rungproof.logic.proofs.evaluate import transition, values_of
from rungproof.logic.proofs.literals import Literal
from rungproof.logic.proofs.run import least_inputs
from rungproof.logic.proofs.system import BAD, requirement_system
from rungproof.logic.proofs.thresholds import to_bits
from rungproof.logic.steps.node import Node, apply, constant, inverse, variable
from rungproof.logic.steps.operators import Scalar
from rungproof.logic.steps.step import InputVariable, Step
from test_system import random_run

X = variable("x", "real")


def over_x(node: Node, low: float, high: float) -> Step:
    return Step({}, {"x": InputVariable("x", "real", low, high)}, {}, {BAD: node})


def shown(bits: Bits, x: float) -> Scalar:
    """What the rewritten comparison shows where `x` has this value."""
    values = {own: x >= threshold for threshold, own in bits.thresholds.get("x", ())}
    return values_of([bits.step.outputs[BAD]], values)[bits.step.outputs[BAD]]


def chain(random: Random) -> Node:
    """A number worked out from x alone, by operators that keep its order or turn it."""
    node = X
    for _ in range(random.randint(1, 4)):
        c = constant(random.choice([0.2, -1.3, 3.0, 0.1, 7.7, -0.5]))
        node = random.choice(
            [
                lambda n, c: apply("add", n, c),
                lambda n, c: apply("sub", c, n),
                lambda n, c: apply("mul", n, c),
                lambda n, c: apply("quotient", n, c),
                lambda n, c: apply("neg", n),
                lambda n, c: apply("sqrt", n),
                lambda n, c: apply("abs", n),
                lambda n, c: apply("real", apply("round", n)),
                lambda n, c: apply("real", apply("trunc", n)),
                lambda n, c: apply("divide", n, c),
                lambda n, c: apply("select", apply("lt", n, c), n, c),
            ]
        )(node, c)
    return node


@settings(max_examples=300, deadline=None)
@given(st.randoms(use_true_random=False), st.floats(-100, 100), st.floats(-100, 100))
def test_a_threshold_is_exact(random: Random, x: float, c: float) -> None:
    """Any chain of operators over one real compares as the operators themselves do, also right at the threshold."""
    node = chain(random)
    for comparison in (apply("lt", node, constant(c)), apply("le", constant(c), node)):
        bits = to_bits(over_x(comparison, -100, 100))
        near = [t for pairs in bits.thresholds.values() for t, _ in pairs]
        near += [math.nextafter(t, -math.inf) for t in near]
        for value in [x, *(v for v in near if -100 <= v <= 100)]:
            assert shown(bits, float(value)) == values_of([comparison], {"x": float(value)})[comparison]
        assert bits.exact


@settings(max_examples=100, deadline=None)
@given(st.floats(-100, 100), st.floats(0.001, 0.1))
def test_a_divisor_away_from_0_is_exact(x: float, c: float) -> None:
    """A number over x + 250, with x from -100 to 100, compares exactly; over x itself it is left open."""
    node = apply("le", constant(c), apply("divide", constant(3.0), apply("add", X, constant(250.0))))
    bits = to_bits(over_x(node, -100, 100))
    assert bits.exact
    assert shown(bits, x) == values_of([node], {"x": x})[node]
    assert not to_bits(over_x(apply("le", constant(c), apply("divide", constant(3.0), X)), -100, 100)).exact


def test_doubles_and_not_reals_decide() -> None:
    """8358 * 0.2 > 1671.6 is true of doubles and false of real numbers (`0.2` is not one fifth)."""
    node = apply("lt", constant(1671.6), apply("mul", X, constant(0.2)))
    assert shown(to_bits(over_x(node, 0, 20000)), 8358.0) is True


def test_the_next_value() -> None:
    """Above 0.0 comes the least positive double, above 3 comes 4."""
    assert above(0.0) == 5e-324
    assert above(3) == 4


def test_an_opposite_comparison_is_the_inverse() -> None:
    """`x < c` and `x >= c` share one threshold."""
    bits = to_bits(over_x(apply("and", apply("lt", X, constant(5.0)), inverse(apply("le", constant(5.0), X))), 0, 9))
    assert len(bits.thresholds["x"]) == 1


@pytest.mark.parametrize("keep_ints", [False, True])
def test_every_transition_is_shown(keep_ints: bool) -> None:
    """On generated programs, whatever a system does in a random run its rewritten form can do as well."""
    done = 0
    for seed in range(24):
        random = Random(seed)
        program = understand_texts({"generated.rung": controller_text(random)}).program
        for requirement in program.requirements[:2] if program is not None else ():
            system = requirement_system(program, requirement)  # type: ignore[arg-type]
            step = system.step.slice([BAD])
            bits = to_bits(step, system.free_starts, keep_ints=keep_ints)
            run = random_run(random, system, program, 12)  # type: ignore[arg-type]
            state = {**{s.name: s.start for s in step.states.values()}, **run.starts}
            state = {name: value for name, value in state.items() if name in step.states}
            for given_values in run.given:
                values = {n: v for n, v in {**least_inputs(system), **given_values}.items() if n in step.inputs}
                after, outputs = transition(step, state, values)
                assert possible(bits, state, values, after, outputs[BAD]), f"seed {seed} {requirement.name}"
                state, done = after, done + 1
    assert done > 300


def possible(
    bits: Bits, state: dict[str, Scalar], given_values: dict[str, Scalar], after: dict[str, Scalar], bad: Scalar
) -> bool:
    """Whether the rewritten Step has a transition with these facts before, these inputs, these facts after."""
    with new_solver() as solver:
        circuit = Circuit(solver)
        copy = Copy(bits, circuit, [*bits.step.next.values(), bits.step.outputs[BAD]])
        asked = [copy.output(BAD) if bad else -copy.output(BAD)]
        for encoded, values in ((copy.state, state), (copy.after(), after)):
            for own in bits.step.states.values():
                meaning = bits.facts.get(own.name)
                if meaning is not None:
                    asked.append(encoded[own.name] if meaning.true_in(values) else -encoded[own.name])  # type: ignore
                elif own.type == "bool":
                    asked.append(encoded[own.name] if values[own.name] else -encoded[own.name])  # type: ignore
                else:
                    value = int(values[own.name])
                    asked += [fact(circuit, encoded[own.name], Literal(own.name, value))]
                    asked += [-fact(circuit, encoded[own.name], Literal(own.name, value - 1))]
        for name, encoded in copy.inputs.items():
            if name in given_values and isinstance(encoded, int):
                asked.append(encoded if given_values[name] else -encoded)
            elif name in given_values:
                asked += [b if int(given_values[name]) >> i & 1 else -b for i, b in enumerate(encoded)]  # type: ignore
        for name, pairs in bits.thresholds.items():
            for threshold, own_name in pairs:
                reached = given_values[name] >= threshold
                literal = copy.inputs[own_name]
                asked.append(literal if reached else -literal)  # type: ignore
                if not reached:
                    break
        return bool(solver.solve(asked))
