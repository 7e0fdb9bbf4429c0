"""Requirements on the machine with its program in the loop and any one thing failed: case by case, checked as one."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from random import Random
from typing import Any

import pytest
from rungproof.logic.meaning.program import Program, Requirement
from rungproof.logic.meaning.understand import understand, understand_texts
from rungproof.logic.proofs import by_case, system_loop
from rungproof.logic.proofs.by_case import decide_by_cases
from rungproof.logic.proofs.case_whole import AllCases
from rungproof.logic.proofs.certificate import certify, changed_since, read_certificate
from rungproof.logic.proofs.evaluate import transition
from rungproof.logic.proofs.literals import Invariant
from rungproof.logic.proofs.portfolio import Answer
from rungproof.logic.proofs.prove import prove_program
from rungproof.logic.proofs.recheck import Verified, recheck
from rungproof.logic.proofs.system import System
from rungproof.logic.proofs.system_loop import FAILS, WHICH, loop_faults, loop_system, why_not_loop
from rungproof.logic.proofs.ways import further_ways
from rungproof.logic.steps.closed_loop import closed_loop
from rungproof.logic.steps.lowered import lower_program
from rungproof.logic.steps.run_plan import Shape
from rungproof.plant.part import CONTACT_FAULTS

EXAMPLES = Path(__file__).parents[3] / "examples"

#: Two buttons that open, each with a relay; the motor is fed through both relays' contacts.
STOPS = """
plant "Drum" every 10 ms
    tank vat             rectangular, length 10 cm, width 10 cm, height 80 cm, starts at 1 L
    pump M1              into vat, 0..12 L/min, fixed speed
    push_button S1       break contact
    push_button S2       break contact
    relay K1             pulls in 20 ms, drops out 30 ms, make contact
    relay K2             pulls in 20 ms, drops out 30 ms, make contact
    supply P24           24 V

circuit "Stop" from P24
    rung one
        S1
        => K1

    rung two
        S2
        => K2

    rung motor
        K1.1
        K2.1
        run
        => M1.supply

controller "Drum" every 20 ms

tags
    spare  input   bool
    run    output  bool  on stop off

rung run
    spare or not spare
    => run

wiring
    controller  from P24
    inputs X1   from P24
    outputs X2  from P24
    spare  at X1:1
    run    at X2:1

requirement R1 "Both stops together take the supply away, whatever one thing fails"
    even with any one fault
    whenever S1.operated and S2.operated has stood for 400 ms then not M1.energised

requirement R2 "One of them alone does not"
    even with any one fault
    whenever S1.operated has stood for 400 ms then not M1.energised

requirement R3 "Without a fault it does"
    whenever S1.operated has stood for 400 ms then not M1.energised
"""


@cache
def stops() -> Program:
    understood = understand_texts({"drum.rung": STOPS})
    assert understood.program is not None, understood.diagnoses
    return understood.program


@cache
def header_tank() -> Program:
    found = understand(EXAMPLES / "header_tank").program
    assert found is not None
    return found


def requirement_of(program: Program, name: str) -> Requirement:
    return next(each for each in program.requirements if each.name == name)


def decided(program: Program, name: str) -> tuple[System, Answer]:
    system = loop_system(program, requirement_of(program, name))
    return system, decide_by_cases(system, system.bad, 60.0)


# ----------------------------------------------------------------------- words


def test_two_ways_to_stop_are_proved_with_any_one_fault() -> None:
    """Whatever one thing fails, the other way stops: proved of the whole, with a certificate that stands."""
    program = stops()
    system, answer = decided(program, "R1")
    assert answer.word == "proved"
    invariant = Invariant(answer.clauses)
    assert isinstance(recheck(system, invariant, 40.0), Verified)
    certificate = certify(program, requirement_of(program, "R1"), invariant, answer.engine, {}, way="loop")
    assert read_certificate(certificate.to_text()) == certificate
    assert {each.kind for each in certificate.rests_on} >= {"plant", "rung"}
    assert changed_since(certificate, program) is None


def test_one_way_to_stop_is_broken_by_one_fault() -> None:
    """A contact that is welded is enough; the run that was found names it."""
    _, answer = decided(stops(), "R2")
    assert answer.word == "refuted"
    assert answer.run is not None
    assert answer.run.starts[WHICH] > 0
    assert any(given.get(FAILS) for given in answer.run.given)


def test_without_a_fault_one_way_is_enough() -> None:
    """The same requirement of a sound machine is proved."""
    system, answer = decided(stops(), "R3")
    assert answer.word == "proved"
    assert FAILS not in system.step.inputs


def test_a_check_of_all_ways_gives_the_best_word() -> None:
    """What is declined as it stands is proved in the loop; nobody who did not ask for that gets it."""
    program = stops()
    found = prove_program(program, time_s=60, workers=1, further=True)
    assert (found["R1"].word, found["R1"].way, found["R1"].facts) == ("proved", "loop", ())
    assert found["R2"].word not in ("proved", "exhausted", "vacuous")
    assert prove_program(program, time_s=60, workers=1, only={"R1"})["R1"].word == "declined"


@pytest.mark.slow
def test_the_stop_of_the_header_tank_holds_with_any_one_of_its_faults() -> None:
    """104 faults of buttons, floats, relays, wires, cards and of the program itself: hung, overrun, stopped."""
    system, answer = decided(header_tank(), "R17")
    assert answer.word == "proved"
    assert system.step.states[WHICH].high == 104
    assert isinstance(recheck(system, Invariant(answer.clauses), 60.0), Verified)


def test_what_has_free_outputs_or_no_plant_has_no_loop() -> None:
    """There the program plays no part, or there is nothing to close the loop."""
    program = header_tank()
    assert why_not_loop(program, requirement_of(program, "R6")) is not None
    assert why_not_loop(program, requirement_of(program, "R1")) is not None
    assert "loop" in further_ways(program, requirement_of(program, "R17"))


# ------------------------------------------------------------------ differential


def drawn(random: Random, each: Any, before: Any) -> Any:
    if before is not None and random.random() < 0.9:
        return before
    if each.type == "bool":
        return random.random() < (0.05 if each.name in ("controller!cut", "P24!lost") else 0.4)
    if each.type == "int":
        return random.randint(int(each.low), int(each.high))
    return random.choice([each.low, each.high, random.uniform(each.low, each.high)])


def differences(program: Program, name: str, seed: int, ticks: int) -> list[str]:
    """The closed loop run at random with one fault that comes and goes; the system, told which, must do the same."""
    requirement = requirement_of(program, name)
    kinds = ("operator", "disturbance", "power", "parameter", "fault", "stop")
    moving = frozenset(key for key, knob in program.knobs.items() if knob.kind in kinds)
    loop = closed_loop(lower_program(program), Shape(frozenset({name}), None, moving, frozenset(), False, False))
    system = loop_system(program, requirement)
    random = Random(seed)
    failing = sorted(key for key in faults_in(program, name))
    number = random.randint(1, len(failing))
    fault, wrong = failing[number - 1], []
    state: dict[str, Any] = {each.name: each.start for each in loop.states.values()}
    own: dict[str, Any] = {**{each.name: each.start for each in system.step.states.values()}, WHICH: number}
    given: dict[str, Any] = {}
    for tick in range(ticks):
        for each in loop.inputs.values():
            knob = program.knobs.get(each.name)
            still = each.name != fault and knob is not None and knob.kind in ("fault", "stop")
            given[each.name] = False if still else drawn(random, each, given.get(each.name))
        after, shown = transition(loop, state, given)
        at_hand = {**given, **state, FAILS: given[fault]}
        own, said = transition(system.step, own, {key: at_hand[key] for key in system.step.inputs})
        if bool(said[system.bad]) != bool(shown[f"{name}/violated"]):
            wrong.append(f"{fault}, tick {tick}: bad is {said[system.bad]}")
        wrong += [
            f"{fault}, tick {tick}: {key} is {own[key]}, not {after[key]}"
            for key in own
            if key in after and own[key] != after[key]
        ]
        state = after
    return wrong


def faults_in(program: Program, name: str) -> list[str]:
    return list(loop_faults(program, requirement_of(program, name)))


@pytest.mark.parametrize("seed", range(12))
def test_the_system_with_a_fault_does_what_the_closed_loop_does(seed: int) -> None:
    """Tick by tick, with the same amounts: the same memory, relays, contacts, monitors and verdict."""
    assert differences(stops(), "R1", seed, 300) == []
    assert differences(header_tank(), "R17", seed, 150) == []


def test_every_fault_of_what_matters_is_a_case() -> None:
    """Relays' contacts, buttons, cards, wires, and the program's own: all are in the list."""
    names = set(faults_in(stops(), "R1"))
    wanted = {f"{contact}!{fault.name}" for contact in ("K1.1", "K2.1", "S1.1", "S2.1") for fault in CONTACT_FAULTS}
    assert wanted | {"X2:1!stays_on", "K1!slow"} <= names
    hung = {"controller!hung", "controller!overrun", "controller!stopped"}
    assert hung <= set(faults_in(header_tank(), "R17"))


# --------------------------------------------------------------- seeded mistakes


def test_a_fault_that_was_forgotten_is_caught(monkeypatch: pytest.MonkeyPatch) -> None:
    """A seeded mistake: faults never come. The system no longer does what the loop does."""
    monkeypatch.setattr(system_loop, "apply", lambda operator, *operands: system_loop.constant(False))
    program = stops()
    assert any(differences_with_all(program, "R1", seed) for seed in range(6))


def differences_with_all(program: Program, name: str, seed: int) -> list[str]:
    try:
        return differences(program, name, seed, 300)
    except KeyError as error:
        return [str(error)]


def test_a_clause_taken_from_one_case_to_all_is_caught(monkeypatch: pytest.MonkeyPatch) -> None:
    """A seeded mistake: what was proved of a machine without a fault is said of all. The second solver objects."""

    def unguarded(self: Any, low: int, high: int) -> Any:
        return iter(self.found)

    monkeypatch.setattr(by_case._Cases, "_guarded", unguarded)
    system, answer = decided(stops(), "R1")
    assert answer.word == "proved"
    assert not isinstance(recheck(system, Invariant(answer.clauses), 40.0), Verified)


def test_a_case_that_was_left_out_is_caught(monkeypatch: pytest.MonkeyPatch) -> None:
    """A seeded mistake: the case that breaks it is never looked at. The second solver objects to the rest."""
    whole = by_case._Cases._decided

    def blind(self: Any, step: Any, time_s: float) -> Answer:
        answer = whole(self, step, time_s)
        return Answer("proved", "nobody", 0.0, 0) if answer.word == "refuted" else answer

    monkeypatch.setattr(by_case._Cases, "_decided", blind)
    system, answer = decided(stops(), "R2")
    assert answer.word == "proved"
    assert not isinstance(recheck(system, Invariant(answer.clauses), 40.0), Verified)


def test_a_proof_taken_for_cases_that_it_is_none_of_is_caught(monkeypatch: pytest.MonkeyPatch) -> None:
    """A seeded mistake: what proved one case is said to prove the next, unasked. The second solver objects."""
    monkeypatch.setattr(AllCases, "_serves", lambda self, clauses, case: True)
    system, answer = decided(stops(), "R2")
    assert answer.word == "proved"
    assert not isinstance(recheck(system, Invariant(answer.clauses), 40.0), Verified)
