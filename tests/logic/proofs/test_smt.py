"""The solver's text means what the Step means: every value of the Step satisfies it, and decides it."""

from __future__ import annotations

import math
from collections.abc import Callable
from random import Random
from typing import Any

import pytest
from generated_programs import controller_text
from hypothesis import given, settings
from hypothesis import strategies as st
from rungproof.logic.meaning.understand import understand_texts
from rungproof.logic.proofs.recheck_solver import ask
from rungproof.logic.proofs.smt import Encoding, literal
from rungproof.logic.proofs.smt_pullback import Chains, value_at
from rungproof.logic.proofs.smt_ranges import Interval, intervals, shown_ranges
from rungproof.logic.proofs.system import SCAN_TICKS, requirement_system
from rungproof.logic.steps.node import Node, apply, clamp, constant, least, ordered, select, variable
from rungproof.logic.steps.operators import OPERATORS
from rungproof.logic.steps.step import InputVariable, StateVariable, Step

Values = dict[str, Any]


def plain_values(step: Step, variables: Values) -> dict[Node, Any]:
    """Every node of `step` by the operators' plain meaning."""
    found: dict[Node, Any] = {}
    for node in step.nodes:
        if node.operator == "constant":
            found[node] = node.value
        elif node.operator == "variable":
            found[node] = variables[node.name]
        else:
            found[node] = OPERATORS[node.operator].plain(*(found[each] for each in node.operands))
    return found


def value_of(random: Random, each: StateVariable | InputVariable) -> Any:
    """A value of a variable's range: often an end, often a small one."""
    if each.type == "bool":
        return random.random() < 0.5
    if each.type == "int":
        low, high = int(each.low), int(each.high)
        return random.choice([low, high, random.randint(low, high), min(max(random.randint(-9, 9), low), high)])
    low, high = max(each.low, -1e6), min(each.high, 1e6)
    return float(random.choice([low, high, random.uniform(low, high), min(max(0.0, low), high)]))


def disagreements(step: Step, samples: list[Values]) -> list[str]:
    """Where the text excludes a behaviour of `step`, or leaves open what the Step decides."""
    encoding = Encoding(step)
    lines, wanted = list(encoding.lines), 0
    types = {name: each.type for name, each in step.states.items()}
    types |= {name: each.type for name, each in step.inputs.items()}
    for variables in samples:
        found = plain_values(step, variables)
        lines.append("(push)")
        for name, term in encoding.variables.items():
            lines.append(f"(assert (= {term} {literal(variables[name], types[name])}))")
        for node in encoding.free:
            lines.append(f"(assert (= {encoding.terms[node]} {literal(found[node], node.type)}))")
        roots = [*step.next.values(), *step.outputs.values()]
        same = " ".join(f"(= {encoding.terms[node]} {literal(found[node], node.type)})" for node in roots)
        lines += ["(check-sat)", f"(assert (not (and {same} true)))", "(check-sat)", "(pop)"]
        wanted += 2
    answer = ask(lines, 30, wanted)
    assert "unknown" not in answer.words, answer.why
    wrong = [f"excluded: {each}" for each, word in zip(samples, answer.words[::2], strict=True) if word != "sat"]
    return wrong + [f"open: {v}" for v, word in zip(samples, answer.words[1::2], strict=True) if word != "unsat"]


def walk(random: Random, step: Step, length: int) -> list[Values]:
    """States that a run of `step` passes through, with the inputs it met."""
    state: Values = {name: each.start for name, each in step.states.items()}
    samples = []
    for _ in range(length):
        given_ = {name: value_of(random, each) for name, each in step.inputs.items()}
        samples.append({**state, **given_})
        found = plain_values(step, samples[-1])
        state = {**state, **{name: found[node] for name, node in step.next.items()}}
    return samples


def test_the_text_agrees_with_plain_evaluation_on_generated_programs() -> None:
    """Along runs of generated programs no behaviour is excluded, and everything but rounding is decided."""
    wrong, count, rounded = [], 0, 0
    for seed in range(40):
        random = Random(seed)
        program = understand_texts({"generated.rung": controller_text(random)}).program
        if program is None:
            continue
        for requirement in program.requirements:
            step = requirement_system(program, requirement).step.slice(["bad"])
            wrong += disagreements(step, walk(random, step, 12))
            count, rounded = count + 1, rounded + bool(Encoding(step).free)
    assert wrong == []
    assert count > 60
    assert rounded > 10


INT, REAL, BOOL = (
    [variable(f"{stem}{i}", type_) for i in range(3)] for stem, type_ in (("i", "int"), ("r", "real"), ("b", "bool"))
)
SPANS: dict[str, Interval] = {n.name: (-40, 40) for n in INT} | {n.name: (-55.5, 1000.0) for n in REAL}
INPUTS = {n.name: InputVariable(n.name, n.type, *SPANS.get(n.name, (0, 1))) for n in (*BOOL, *INT, *REAL)}


@st.composite
def operations(draw: st.DrawFn) -> Node:
    """A node of any operator over variables and constants."""
    pool: dict[str, list[Node]] = {"bool": [*BOOL], "int": [*INT], "real": [*REAL]}
    pool["int"] += [constant(draw(st.integers(-7, 7))) for _ in range(3)]
    pool["real"] += [constant(draw(st.sampled_from([-2.5, -1.0, -0.0, 0.0, 0.1, 1.0, 3.7, 1e5]))) for _ in range(3)]
    node = BOOL[0]
    for _ in range(draw(st.integers(1, 9))):
        operator = draw(st.sampled_from(sorted(OPERATORS)))
        signature = draw(st.sampled_from(OPERATORS[operator].signatures))[0]
        operands = [draw(st.sampled_from(pool[type_])) for type_ in signature]
        if operator == "quotient" and (operands[1].operator != "constant" or operands[1].value == 0):
            operands[1] = constant(0.3)
        node = apply(operator, *operands)
        pool[node.type].append(node)
    return node


@settings(max_examples=150, deadline=None)
@given(operations(), st.integers(0, 2**32))
def test_every_operator_is_written_as_it_means(node: Node, seed: int) -> None:
    """Random nests of all operators, on random values and on the ends of ranges."""
    step = Step({}, INPUTS, {}, {"o": node})
    random = Random(seed)
    samples = [{name: value_of(random, each) for name, each in INPUTS.items()} for _ in range(8)]
    assert disagreements(step, samples) == []


@settings(max_examples=200, deadline=None)
@given(operations(), st.integers(0, 2**32))
def test_intervals_hold_every_value(node: Node, seed: int) -> None:
    """No value of a node lies outside its interval."""
    random = Random(seed)
    step = Step({}, INPUTS, {}, {"o": node})
    found = intervals([node], SPANS)
    for _ in range(20):
        plain = plain_values(step, {name: value_of(random, each) for name, each in INPUTS.items()})
        for each in ordered([node]):
            assert found[each][0] <= plain[each] <= found[each][1]


def at_most(node: Node, variable_: Node, place: Any) -> Callable[[Any], bool]:
    return lambda x: bool(value_at(node, variable_, x) <= place)


@settings(max_examples=200, deadline=None)
@given(operations(), st.integers(0, 2**32))
def test_a_chain_is_monotone_and_crosses_where_it_says(node: Node, seed: int) -> None:
    """Where a chain is found, larger values never give smaller ones (or larger, if it falls)."""
    chains = Chains(SPANS)
    random = Random(seed)
    for each in ordered([node]):
        chain = chains.of(each)
        if chain is None or each.type == "bool":
            continue
        low, high = SPANS[chain.variable.name]
        drawn = [
            random.randint(int(low), int(high)) if chain.variable.type == "int" else random.uniform(low, high)
            for _ in range(12)
        ]
        points = sorted([low, high, *drawn])
        values = [value_at(each, chain.variable, x) for x in points]
        assert values == sorted(values, reverse=not chain.rising)
        place = random.choice(values)
        edge = chains.edge(
            chain.variable,
            at_most(each, chain.variable, place),
            below=chain.rising,
        )
        for x, value in zip(points, values, strict=True):
            where = edge.always if edge.at is None else (x <= edge.at if edge.below else x >= edge.at)
            assert where is (value <= place)


def test_a_threshold_is_the_doubles_own() -> None:
    """8358 x 0.2 is just above 1671.6 in doubles, and not in real numbers: the text has the doubles' answer.

    The pair is from a count of our own over doubles, no published source.
    """
    count = variable("count", "int")
    flow = apply("mul", apply("real", count), constant(0.2))
    over = apply("lt", constant(1671.6), flow)
    step = Step({}, {"count": InputVariable("count", "int", 0, 65535)}, {}, {"over": over})
    encoding = Encoding(step)
    least_over = next(n for n in range(65536) if n * 0.2 > 1671.6)
    lines = [*encoding.lines, f"(assert {encoding.terms[over]})"]
    lines += [f"(assert (< {encoding.variables['count']} {least_over}))", "(check-sat)"]
    assert least_over == 8358
    assert ask(lines, 10).words == ("unsat",)


def test_between_two_doubles_there_is_nothing() -> None:
    """A real that is not above the double before a threshold, nor at or above it, is no value."""
    x = variable("x", "real")
    below = apply("lt", x, constant(6.3))
    step = Step({}, {"x": InputVariable("x", "real", 0.0, 9.0)}, {}, {"below": below})
    encoding = Encoding(step)
    term, before = encoding.variables["x"], literal(math.nextafter(6.3, 0), "real")
    lines = [
        *encoding.lines,
        f"(assert {encoding.terms[below]})",
        f"(assert (not (<= {term} {before})))",
        "(check-sat)",
    ]
    assert ask(lines, 10).words == ("unsat",)


def test_a_declared_range_that_a_step_leaves_is_not_believed() -> None:
    """A range counts only if the start lies in it and every step keeps it."""
    n, kept = variable("n", "int"), variable("kept", "int")
    states = {"n": StateVariable("n", "int", 0, 0, 9), "kept": StateVariable("kept", "int", 0, 0, 9)}
    grown = apply("add", n, constant(1))
    step = Step(states, {}, {"n": grown, "kept": clamp(apply("add", kept, constant(1)), 0, 9)}, {"n": grown})
    assert shown_ranges(step) == {"kept": (0, 9)}


def test_rounded_arithmetic_on_two_variables_is_left_open() -> None:
    """What is no function of one variable may be anything within its bounds: sound, and weaker."""
    a, b = REAL[:2]
    over = apply("lt", constant(3.0), apply("add", a, b))
    inputs = {each.name: InputVariable(each.name, "real", 0.0, 2.0) for each in (a, b)}
    encoding = Encoding(Step({}, inputs, {}, {"over": over}))
    at_zero = [f"(assert (= {term} 0.0))" for term in encoding.variables.values()]
    assert ask([*encoding.lines, *at_zero, f"(assert {encoding.terms[over]})", "(check-sat)"], 10).words == ("sat",)
    beyond = apply("lt", constant(4.5), apply("add", a, b))
    encoding = Encoding(Step({}, inputs, {}, {"over": beyond}))
    assert ask([*encoding.lines, f"(assert {encoding.terms[beyond]})", "(check-sat)"], 10).words == ("unsat",)


def test_a_strapping_table_is_a_chain() -> None:
    """A table whose pieces meet in order is monotone, so its comparisons are exact."""
    x = variable("x", "real")
    low = apply("mul", x, constant(3.1))
    high = apply("add", constant(31.0), apply("mul", apply("sub", x, constant(10.0)), constant(4.7)))
    table = select(apply("le", constant(10.0), x), high, low)
    chain = Chains({"x": (0.0, 50.0)}).of(table)
    assert chain is not None
    assert chain.rising
    falling = select(apply("le", constant(10.0), x), apply("neg", high), low)
    assert Chains({"x": (0.0, 50.0)}).of(falling) is None


@pytest.mark.parametrize("lines", [["(assert nothing)", "(check-sat)"], ["(check-sat", ""], ["(exit)"], []])
def test_a_solver_that_does_not_answer_is_unknown(lines: list[str]) -> None:
    """Errors and silence are never taken for an answer."""
    answer = ask(lines, 10)
    assert answer.words == ("unknown",)
    assert answer.why


def test_a_deadline_ends_the_solver() -> None:
    """A question too hard for the time is unknown, and the solver's process is gone."""
    hard = ["(declare-const x Int)", "(declare-const y Int)", "(declare-const z Int)"]
    hard.append("(assert (and (> x 1) (> y 1) (= (+ (* x x x x x) (* y y y y y)) (* z z z z z)) (> z 100000)))")
    answer = ask([*hard, "(check-sat)"], 0.5)
    assert answer.words == ("unknown",)
    assert answer.why


def test_min_keeps_its_bounds() -> None:
    """`least` and `most` are known to the intervals as what they are, so saturating ages stay in range."""
    age = variable("age", "int")
    grown = least(constant(50), apply("add", age, constant(7)))
    assert intervals([grown], {"age": (0, 50)})[grown] == (7, 50)


def test_scan_time_is_an_input_with_its_range() -> None:
    """The varying scan time stays free within its declared range."""
    text = controller_text(Random(3)).replace("every 10 ms", "every 5..40 ms").replace("every 20 ms", "every 5..40 ms")
    program = understand_texts({"generated.rung": text}).program
    assert program is not None
    step = requirement_system(program, program.requirements[0]).step
    assert shown_ranges(step)[SCAN_TICKS] == (5, 40)
