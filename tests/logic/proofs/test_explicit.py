"""Exhaustive exploration finds the states that print says there are."""

from __future__ import annotations

from random import Random
from typing import Any

import known_answers as known
import numpy as np
import pytest
from generated_programs import controller_text
from rungproof.logic.meaning.program import Program
from rungproof.logic.meaning.understand import understand_texts
from rungproof.logic.proofs.evaluate import transition
from rungproof.logic.proofs.explicit import Exploration, TooLargeError, explore
from rungproof.logic.proofs.system import CUT, OUTAGE_TICKS, requirement_system
from rungproof.logic.proofs.tape import evaluate
from rungproof.logic.steps.controller import ELAPSED, POWER_UP, lower_scan
from rungproof.logic.steps.node import OFF, Node, apply, constant, variable
from rungproof.logic.steps.operators import OPERATORS
from rungproof.logic.steps.step import InputVariable, StateVariable, Step


def program_of(text: str) -> Program:
    understood = understand_texts({"known.rung": text})
    assert understood.program is not None, understood.diagnoses
    return understood.program


def scans(text: str) -> Step:
    """The scan of a program that has power all the time."""
    controller = program_of(text).controller
    assert controller is not None
    return lower_scan(controller).given({POWER_UP: OFF, ELAPSED: constant(10)})


def explored(text: str, *outputs: str) -> Exploration:
    """The states of a program, as far as `outputs` depend on them."""
    return explore(scans(text).slice(outputs))


def without_cuts(text: str) -> Exploration:
    """Requirement R1 of a program that has power all the time."""
    program = program_of(text)
    system = requirement_system(program, program.requirements[0])
    return explore(system.step.slice([system.bad]), system.bad, choices={CUT: [False], OUTAGE_TICKS: [1]})


@pytest.mark.parametrize("count", [1, 4, 8, 10])
def test_a_counter_has_two_to_the_n_states(count: int) -> None:
    """An n-bit counter: 2^n states [TB]."""
    assert explored(known.counter(count), *known.bits(count)).states == 2**count


@pytest.mark.parametrize(("count", "fewest"), [(3, 7), (4, 15), (6, 63)])
def test_a_counter_is_full_after_two_to_the_n_less_one_scans(count: int, fewest: int) -> None:
    """All ones after 2^n - 1 scans and no fewer [TB]."""
    found = without_cuts(known.counter(count))
    assert found.depth is not None
    assert found.depth + 1 == fewest


@pytest.mark.parametrize(
    ("text", "count", "states"),
    [(known.RING, 4, 4), (known.JOHNSON, 4, 8), (known.FEEDBACK_4, 4, 15), (known.FEEDBACK_8, 8, 255)],
)
def test_shift_registers_go_round_their_states(text: str, count: int, states: int) -> None:
    """Ring 4, Johnson 8, maximal feedback 2^n - 1 [TB]."""
    assert explored(text, *known.bits(count)).states == states


def test_gray_code_changes_one_bit_at_a_time() -> None:
    """3 bits: 8 states, each one bit from the next [TB]."""
    step = scans(known.GRAY).slice(known.bits(3))
    found = explore(step)
    assert found.states == 8
    for state in found.table:
        after = transition(step, state, {})[0]
        assert sum(after[name] != state[name] for name in known.bits(3)) == 1


@pytest.mark.parametrize(("text", "states"), [(known.SEMAPHORE, 8), (known.GIVE_WAY, 10)])
def test_two_processes_exclude_each_other(text: str, states: int) -> None:
    """The published counts of states, and never both inside [BK]."""
    found = explored(text, "p1", "p2", "turn" if "turn" in text else "free")
    assert found.states == states
    assert not without_cuts(text).reachable


def test_an_interlock_keeps_both_directions_apart() -> None:
    """With it 3 states and never both [CP]."""
    assert explored(known.INTERLOCKED, "forward", "reverse").projected("forward", "reverse") == {
        (False, False),
        (True, False),
        (False, True),
    }
    assert not without_cuts(known.INTERLOCKED).reachable


def test_without_the_interlock_the_first_scan_has_both() -> None:
    """Without it both are on after one scan [CP]."""
    assert without_cuts(known.NOT_INTERLOCKED).depth == 0


def test_forward_wins_a_tie() -> None:
    """Both buttons at once: the rung that is solved first [CP]."""
    step = scans(known.INTERLOCKED)
    after = transition(
        step, {"forward": False, "reverse": False}, {"forward_pb": True, "reverse_pb": True, "stop_ok": True}
    )[0]
    assert (after["forward"], after["reverse"]) == (True, False)


def test_two_out_of_three_votes_for_half() -> None:
    """4 of 8 assignments [TB]."""
    found = explored(known.VOTE, "vote", "a_seen", "b_seen", "c_seen")
    seen = explore(
        Step(
            {n: StateVariable(n, "bool", False) for n in ("vote", "a_seen", "b_seen", "c_seen")},
            scans(known.VOTE).inputs,
            scans(known.VOTE).next,
            {},
        )
    ).projected("a_seen", "b_seen", "c_seen", "vote")
    assert len([row for row in seen if row[3]]) == 4
    assert len(seen) == 8
    assert found.states == 1, "nothing is remembered: every tag is written before it is read"


def test_an_alternator_has_four_states() -> None:
    """Which pump leads, and whether it runs: 4 [CP]."""
    assert explored(known.ALTERNATOR, "lead", "running").projected("lead", "running") == {
        (a, b) for a in (False, True) for b in (False, True)
    }


def test_a_stairway_lamp_shows_parity() -> None:
    """On where exactly one switch is [TB]."""
    step = scans(known.STAIRWAY)
    for s1 in (False, True):
        for s2 in (False, True):
            assert transition(step, {"lamp": False}, {"s1": s1, "s2": s2})[1]["lamp"] is (s1 != s2)


def test_a_seal_in_is_a_bistable_with_dominant_reset() -> None:
    """All 8 rows of the truth table: (set or before) and not reset [IEC 61131-3, RS; from memory]."""
    step = scans(known.SEAL_IN)
    for row in range(8):
        start, stop, running = bool(row & 1), bool(row & 2), bool(row & 4)
        after = transition(step, {"running": running}, {"start": start, "stop": stop})[0]["running"]
        assert after is ((start or running) and not stop)


# ------------------------------------------------------------- against plain evaluation


def plain_exploration(step: Step) -> tuple[set[tuple[Any, ...]], int | None]:
    """The same, state by state in plain Python: the states and the depth of `bad`."""
    rows: list[dict[str, Any]] = [{}]
    for each in step.inputs.values():
        values = [False, True] if each.type == "bool" else range(int(each.low), int(each.high) + 1)
        rows = [{**row, each.name: value} for row in rows for value in values]
    layer = [{name: each.start for name, each in step.states.items()}]
    seen, depth, layers = {tuple(layer[0].values())}, None, 0
    while layer:
        fresh = []
        for state in layer:
            for row in rows:
                after, shown = transition(step, state, row)
                if shown["bad"] and depth is None:
                    depth = layers
                if tuple(after.values()) not in seen:
                    seen.add(tuple(after.values()))
                    fresh.append(after)
        layer, layers = fresh, layers + 1
    return seen, depth


def random_step(random: Random) -> Step:
    """A Step of a few small states over integer and logic operators."""
    bools = [variable(f"b{i}", "bool") for i in range(3)] + [variable("in0", "bool")]
    ints = [variable("n0", "int"), variable("n1", "int"), variable("in1", "int"), constant(1), constant(2)]
    pool: dict[str, list[Node]] = {"bool": list(bools), "int": list(ints), "real": [constant(1.5)]}
    for _ in range(random.randint(5, 25)):
        operator = random.choice([name for name in OPERATORS if name not in ("quotient", "divide", "sqrt")])
        types = random.choice(OPERATORS[operator].signatures)[0]
        node = apply(operator, *(random.choice(pool[type_]) for type_ in types))
        pool[node.type].append(node)

    def held(node: Node, most: int) -> Node:
        low = apply("select", apply("lt", node, constant(most)), node, constant(most))
        return apply("select", apply("lt", constant(0), low), low, constant(0))

    states = {f"b{i}": StateVariable(f"b{i}", "bool", False) for i in range(3)}
    states |= {f"n{i}": StateVariable(f"n{i}", "int", 0, 0, 5) for i in range(2)}
    inputs = {"in0": InputVariable("in0", "bool"), "in1": InputVariable("in1", "int", -1, 2)}
    nexts = {f"b{i}": random.choice(pool["bool"][-8:]) for i in range(3)}
    nexts |= {f"n{i}": held(random.choice(pool["int"][-8:]), 5) for i in range(2)}
    return Step(states, inputs, nexts, {"bad": apply("and", random.choice(pool["bool"]), random.choice(pool["bool"]))})


def test_exploration_agrees_with_plain_search() -> None:
    """On random Steps: the same states and the same least depth as state-by-state search."""
    reached = 0
    for seed in range(120):
        step = random_step(Random(seed))
        found = explore(step, "bad")
        states, depth = plain_exploration(step)
        assert found.depth == depth
        assert {tuple(row.values()) for row in found.table} == states
        reached += depth is not None
    assert 20 < reached < 120


def test_numpy_operators_agree_with_plain_ones() -> None:
    """On generated programs, columns of random values give what each value gives alone, to the last bit."""
    compared = 0
    for seed in range(30):
        random = Random(seed)
        understood = understand_texts({"generated.rung": controller_text(random)})
        if understood.program is None:
            continue
        step = requirement_system(understood.program, understood.program.requirements[0]).step
        rows = [{n: _value(random, e) for n, e in {**step.states, **step.inputs}.items()} for _ in range(20)]
        kinds = {
            n: {"bool": bool, "int": np.int64, "real": float}[e.type] for n, e in {**step.states, **step.inputs}.items()
        }
        columns = {name: np.array([row[name] for row in rows], kind) for name, kind in kinds.items()}
        found = evaluate([*step.next.values(), *step.outputs.values()], columns)
        for place, row in enumerate(rows):
            after, shown = transition(step, row, row)
            for name, node in step.next.items():
                assert _same(np.broadcast_to(found[node], 20)[place], after[name])
            for name, node in step.outputs.items():
                assert _same(np.broadcast_to(found[node], 20)[place], shown[name])
            compared += 1
    assert compared > 300


def _value(random: Random, each: StateVariable | InputVariable) -> Any:
    if each.type == "bool":
        return random.random() < 0.5
    if each.type == "int":
        return random.choice([int(each.low), int(each.high), random.randint(int(each.low), int(each.high))])
    low, high = max(each.low, -1e6), min(each.high, 1e6)
    return random.choice([float(low), float(high), random.uniform(low, high)])


def _same(a: Any, b: Any) -> bool:
    return bool(a == b) and repr(float(a)) == repr(float(b))


# ----------------------------------------------------------------- what is refused


def test_what_cannot_be_tried_is_refused() -> None:
    """Reals, wide ranges and too many combinations are named, not sampled."""
    o = {"o": OFF}
    for each in (InputVariable("x", "real", 0.0, 1.0), InputVariable("x", "int", 0, 10**6)):
        with pytest.raises(TooLargeError, match="`x`"):
            explore(Step({}, {"x": each}, {}, o))
    many = {f"i{n}": InputVariable(f"i{n}", "bool") for n in range(17)}
    with pytest.raises(TooLargeError, match="131072 combinations"):
        explore(Step({}, many, {}, o))


def test_a_state_beyond_its_declared_range_is_an_error() -> None:
    """A Step that leaves its own ranges is found out, not wrapped round."""
    n = variable("n", "int")
    step = Step({"n": StateVariable("n", "int", 0, 0, 3)}, {}, {"n": apply("add", n, constant(1))}, {})
    with pytest.raises(AssertionError, match="left its declared range"):
        explore(step)
