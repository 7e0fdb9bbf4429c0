"""Requirements on circuits and relays: the system can do all that the closed loop can, and what it proves stands."""

from __future__ import annotations

from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from pathlib import Path
from random import Random
from typing import Any

import pytest
from rungproof.logic.meaning.program import Program, Requirement
from rungproof.logic.meaning.understand import understand
from rungproof.logic.proofs import system_plant
from rungproof.logic.proofs.certificate import certify, changed_since, read_certificate
from rungproof.logic.proofs.evaluate import transition
from rungproof.logic.proofs.literals import Invariant
from rungproof.logic.proofs.portfolio import decide
from rungproof.logic.proofs.prove import prove_program
from rungproof.logic.proofs.recheck import Verified, recheck
from rungproof.logic.proofs.system import UnprovableError, requirement_system
from rungproof.logic.proofs.system_plant import BEGUN, plant_system
from rungproof.logic.steps.closed_loop import closed_loop
from rungproof.logic.steps.lowered import lower_program
from rungproof.logic.steps.run_plan import Shape
from rungproof.logic.steps.step import InputVariable

EXAMPLES = Path(__file__).parents[3] / "examples"
PROVED = [
    ("header_tank", "R2"),
    ("header_tank", "R15"),
    ("press_guard", "R6"),
    ("press_guard", "R7"),
    ("ventilation_fan", "R7"),
    ("dosing", "R10"),
]


@cache
def program_of(example: str) -> Program:
    found = understand(EXAMPLES / example).program
    assert found is not None
    return found


def requirement_of(program: Program, name: str) -> Requirement:
    return next(each for each in program.requirements if each.name == name)


@pytest.mark.parametrize(("example", "name"), PROVED)
def test_what_circuits_and_relays_do_is_proved(example: str, name: str) -> None:
    """An emergency stop and a float that take the supply away in time: proved, with a certificate that stands."""
    program = program_of(example)
    requirement = requirement_of(program, name)
    system = requirement_system(program, requirement)
    answer = decide(system, system.bad, 20.0)
    assert answer.word == "proved"
    invariant = Invariant(answer.clauses)
    assert isinstance(recheck(system, invariant, 20.0), Verified)
    certificate = certify(program, requirement, invariant, answer.engine, {})
    assert read_certificate(certificate.to_text()).rests_on[0].kind == "plant"
    assert changed_since(certificate, program) is None


def test_a_relay_that_drops_out_too_late_is_not_proved(tmp_path: Path) -> None:
    """With 30 ms of drop-out, a motor without supply within 20 ms is not what the relays do."""
    for path in (EXAMPLES / "header_tank").glob("*.rung"):
        text = path.read_text(encoding="utf-8").replace("stood for 100 ms", "stood for 20 ms")
        (tmp_path / path.name).write_text(text, encoding="utf-8")
    quick = understand(tmp_path).program
    assert quick is not None
    system = requirement_system(quick, requirement_of(quick, "R2"))
    answer = decide(system, system.bad, 20.0)
    assert answer.word == "refuted"
    assert answer.shortest


def test_any_one_fault_is_left_to_the_search() -> None:
    """The system has no fault in it, so it says nothing of requirements that ask for them."""
    program = program_of("header_tank")
    with pytest.raises(UnprovableError, match="any one thing failed"):
        requirement_system(program, requirement_of(program, "R17"))
    with pytest.raises(UnprovableError, match="amounts"):
        requirement_system(program, requirement_of(program, "R4"))


# ------------------------------------------------------------------ differential


def drawn(random: Random, each: InputVariable, before: Any) -> Any:
    if before is not None and random.random() < 0.9:
        return before
    if each.type == "bool":
        return random.random() < (0.3 if each.name in ("controller!cut", "P24!lost") else 0.4)
    if each.type == "int":
        return random.randint(int(each.low), int(each.high))
    return random.choice([each.low, each.high, random.uniform(each.low, each.high)])


def differences(example: str, name: str, seed: int, ticks: int) -> list[str]:
    """The closed loop run at random; the plant's system given its amounts and outputs must do the same."""
    program = program_of(example)
    requirement = requirement_of(program, name)
    moving = frozenset(key for key, knob in program.knobs.items() if knob.kind not in ("fault", "stop", "free output"))
    loop = closed_loop(lower_program(program), Shape(frozenset({name}), None, moving, frozenset(), False, False))
    system = plant_system(program, requirement)
    random, wrong = Random(seed), []
    state: dict[str, Any] = {each.name: each.start for each in loop.states.values()}
    own: dict[str, Any] = system.starts()
    given: dict[str, Any] = {}
    for tick in range(ticks):
        given = {each.name: drawn(random, each, given.get(each.name)) for each in loop.inputs.values()}
        after, shown = transition(loop, state, given)
        # a part meets what the terminals give after the boundary, and amounts as they were before it
        seen = {key: value for key, value in after.items() if key.startswith("seen:")}
        at_hand = {**given, **state, **seen}
        own, said = transition(system.step, own, {key: at_hand.get(key, False) for key in system.step.inputs})
        if bool(said[system.bad]) != bool(shown[f"{name}/violated"]):
            wrong.append(f"{example} {name}, tick {tick}: bad is {said[system.bad]}")
        wrong += [
            f"{example} {name}, tick {tick}: {key} is {own[key]}, not {after[key]}"
            for key in own
            if key in after and key != BEGUN and own[key] != after[key]
        ]
        state = after
    return wrong


@pytest.mark.parametrize(("example", "name"), PROVED)
def test_the_system_can_do_what_the_closed_loop_does(example: str, name: str) -> None:
    """Tick by tick, with the same amounts and outputs: the same relays, contacts, monitors and verdict."""
    assert differences(example, name, 3, 400) == []


def test_a_system_whose_supply_is_never_lost_is_caught(monkeypatch: pytest.MonkeyPatch) -> None:
    """A seeded mistake: power never goes."""
    still = ("fault", "stop", "free output", "power")
    monkeypatch.setattr(system_plant._PlantBuilder, "_moves", staticmethod(lambda kind: kind not in still))
    assert differences("header_tank", "R2", 3, 400)


def test_a_declared_range_that_does_not_hold_is_bad(monkeypatch: pytest.MonkeyPatch) -> None:
    """A seeded mistake: a relay's waiting is said to end at once. No proof rests on that."""
    whole = system_plant._PlantBuilder._state

    def narrow(self: Any, node: Any) -> Any:
        state = whole(self, node)
        return type(state)(state.name, state.type, state.start, state.low, 0) if state.type == "int" else state

    monkeypatch.setattr(system_plant._PlantBuilder, "_state", narrow)
    program = program_of("header_tank")
    system = plant_system(program, requirement_of(program, "R2"))
    assert decide(system, system.bad, 20.0).word == "refuted"


@pytest.mark.slow
def test_most_of_the_header_tank_is_proved() -> None:
    """At least twelve requirements of the example, none broken; what stays open says what stands in the way."""
    program = program_of("header_tank")
    with ThreadPoolExecutor(1) as executor:
        found = prove_program(program, time_s=6, executor=executor)
    words = Counter(each.word for each in found.values())
    assert words["proved"] >= 12
    assert not words["violated"]
    assert all(each.why for each in found.values() if each.word not in ("proved", "vacuous", "exhausted"))
