"""What the plant's lines say of how fast its amounts change, what is proved under that, and what makes it void."""

from __future__ import annotations

import json
from fractions import Fraction
from functools import cache
from pathlib import Path
from random import Random
from typing import Any

import jsonschema
import pytest
from rungproof.logic.checks.check import check_program
from rungproof.logic.checks.verdict import CheckResult
from rungproof.logic.meaning.program import Program, Requirement, Stood, Whenever
from rungproof.logic.meaning.understand import understand, understand_texts
from rungproof.logic.proofs import envelope
from rungproof.logic.proofs.certificate import certify, changed_since, read_certificate
from rungproof.logic.proofs.evaluate import transition
from rungproof.logic.proofs.literals import Invariant
from rungproof.logic.proofs.portfolio import decide
from rungproof.logic.proofs.prove import prove_program
from rungproof.logic.proofs.recheck import Verified, recheck
from rungproof.logic.proofs.system_envelope import OFFERED
from rungproof.logic.proofs.system_plant import PLANT, plant_facts, plant_system
from rungproof.logic.proofs.ways import facts_behind, further_ways, system_of
from rungproof.logic.steps.closed_loop import closed_loop
from rungproof.logic.steps.lowered import lower_program
from rungproof.logic.steps.run_plan import Shape

EXAMPLES = Path(__file__).parents[3] / "examples"
PROVED = [("header_tank", "R6"), ("dosing", "R4")]

#: A box of 10 cm by 10 cm: 0.2 L/s lift its level by 2 cm in a second.
BOX = """
plant "Box" every 10 ms
    reservoir well       holds 2000 L, starts at 1500 L
    tank box             rectangular, length 10 cm, width 10 cm, height 80 cm, starts at 1 L
    pump P1              from well into box, 0..12 L/min, fixed speed, lag 0.05 s
    outlet tap           from box into well, orifice 8 mm, opening 0..100 %
    float_switch F1      in box, contact opens on rise at 50 cm, closes on fall at 45 cm
    relay K1             pulls in 20 ms, drops out 30 ms, make contact
    push_button S1       make contact
    supply P24           24 V

circuit "Supply" from P24
    rung cut
        F1
        => K1

    rung motor
        K1.1
        run
        => P1.supply

controller "Box" every 20 ms

tags
    go   input   bool
    run  output  bool  on stop off

rung run
    go
    => run

wiring
    controller  from P24
    inputs X1   from P24
    outputs X2  from P24
    go   at X1:1  from S1
    run  at X2:1

requirement R1 "The box stays 15 cm under its rim, whatever the program does"
    with outputs free
    always box.level < 65 cm
"""


@cache
def program_of(example: str) -> Program:
    found = understand(EXAMPLES / example).program
    assert found is not None
    return found


def box(text: str = BOX) -> Program:
    understood = understand_texts({"box.rung": text})
    assert understood.program is not None, understood.diagnoses
    return understood.program


def requirement_of(program: Program, name: str) -> Requirement:
    return next(each for each in program.requirements if each.name == name)


def checked(program: Program) -> CheckResult:
    return check_program(program, seed=1, time_s=6, runs=40, prove_s=6, unhurried=True)


# ------------------------------------------------------------------------ facts


def test_a_level_rises_no_faster_than_its_pump_can_lift_it() -> None:
    """12 L/min into a square of 10 cm: the 15 cm from the float to the mark take 7.5 s, less what rounding may do."""
    program = box()
    (travel,) = (
        each for each in plant_facts(program, requirement_of(program, "R1")) if isinstance(each.form, Whenever)
    )
    exact = Fraction(15 * 100, 1000) / Fraction(12, 60)
    assert exact == Fraction(15, 2)
    assert travel.horizon == 7490
    assert "P1 12 L/min" in travel.because
    assert travel.sentence == "box takes more than 7.49 s from below 50 cm to 65 cm"


def test_what_may_flow_at_any_time_leaves_no_moment_of_rest() -> None:
    """With a spring that always runs into the box, nothing says that it stops rising."""
    text = BOX.replace("    supply P24", "    demand spring  into box, 0..1 L/min\n    supply P24")
    program = box(text + '\nrequirement R2 "in time"\n    whenever not F1.up then box.level < 65 cm for 6 s\n')
    facts = plant_facts(program, requirement_of(program, "R2"))
    assert not any(isinstance(each.form, Stood) and each.about == "box.volume" for each in facts)
    assert any("spring 1 L/min" in each.because for each in facts)
    assert prove_program(program, time_s=60, workers=1, only={"R2"}, further=True)["R2"].word == "proved"


def test_a_tank_that_must_never_be_empty_has_an_envelope_too() -> None:
    """The least volume above 0 L is the least number there is: no pump is said to run down to a quarter of that."""
    program = box(BOX + '\nrequirement R2 "never dry"\n    with outputs free\n    always box.volume > 0 L\n')
    facts = plant_facts(program, requirement_of(program, "R2"))
    assert not any(isinstance(each.form, Stood) and each.about == "box.volume" for each in facts)


def test_nothing_is_said_of_a_vessel_of_ones_own() -> None:
    """Its own step may let rain in: only of vessels whose equations are known here is anything assumed."""
    program = box()
    assert program.plant is not None
    (vessel,) = (each for each in program.plant.assembly.parts if each.name == "box")
    assert any(each.about == "box.volume" for each in plant_facts(program, requirement_of(program, "R1")))
    vessel.__class__ = type("Rained", (type(vessel),), {"__module__": "own"})
    assert not any(each.about == "box.volume" for each in plant_facts(program, requirement_of(program, "R1")))


def test_a_requirement_on_tags_has_no_envelope() -> None:
    """No plant plays a part in it."""
    program = program_of("header_tank")
    assert further_ways(program, requirement_of(program, "R1")) == ()
    assert further_ways(program, requirement_of(program, "R6")) == ("envelope",)


# ----------------------------------------------------------------------- proofs


@pytest.mark.parametrize(("example", "name"), PROVED)
def test_how_high_a_level_comes_is_proved_under_numbered_assumptions(example: str, name: str) -> None:
    """A float that takes the supply away in time: proved, checked again, and the certificate names what it assumes."""
    program = program_of(example)
    requirement = requirement_of(program, name)
    system = system_of(program, requirement, "envelope")
    answer = decide(system, system.bad, 40.0)
    assert answer.word == "proved"
    assert isinstance(recheck(system, Invariant(answer.clauses), 40.0), Verified)
    certificate = certify(program, requirement, Invariant(answer.clauses), answer.engine, {}, way="envelope")
    facts = facts_behind(program, requirement, "envelope")
    assert certificate.assuming == tuple((each.sentence, each.because) for each in facts)
    assert read_certificate(certificate.to_text()) == certificate
    assert changed_since(certificate, program) is None
    schema = Path(envelope.__file__).with_name("certificate.schema.json").read_text(encoding="utf-8")
    jsonschema.validate(json.loads(certificate.to_text()), json.loads(schema))


def test_a_mark_too_near_the_float_is_not_proved() -> None:
    """With the limit 0.2 cm above the float, the time that relay and pump take is enough to pass it."""
    program = box(BOX.replace("box.level < 65 cm", "box.level < 50.05 cm"))
    found = prove_program(program, time_s=60, workers=1, further=True)
    assert found["R1"].word not in ("proved", "vacuous", "exhausted")


def test_a_certificate_is_stale_where_the_pump_has_become_larger() -> None:
    """Its greatest flow is in what was proved."""
    program = box()
    requirement = requirement_of(program, "R1")
    system = system_of(program, requirement, "envelope")
    answer = decide(system, system.bad, 40.0)
    assert answer.word == "proved"
    certificate = certify(program, requirement, Invariant(answer.clauses), answer.engine, {}, way="envelope")
    assert changed_since(certificate, program) is None
    assert changed_since(certificate, box(BOX.replace("0..12 L/min", "0..24 L/min"))) is not None


def test_only_whoever_watches_the_plant_gets_such_a_proof() -> None:
    """Without `further` the word is what holds with nothing assumed."""
    found = prove_program(box(), time_s=60, workers=1)
    assert (found["R1"].word, found["R1"].facts) == ("breakable", ())


# ----------------------------------------------------------------------- runs


def test_a_check_watches_what_its_proofs_assume() -> None:
    """Every run keeps to it: the word is `proved`, and the assumptions stand below with their runs."""
    result = checked(box())
    verdict = result.verdict("R1")
    assert verdict.word == "proved"
    assert "assumptions 1 and 2" in verdict.reason
    assert [each.number for each in result.envelope] == [1, 2]
    assert all(each.broken_at is None and each.runs > 0 and each.requirements == ("R1",) for each in result.envelope)


def test_a_rate_that_is_too_small_makes_the_proof_void(monkeypatch: pytest.MonkeyPatch) -> None:
    """A seeded mistake: the pump is taken for half of what it is. Some run fills the box faster."""
    most = envelope._Deriver._most
    monkeypatch.setattr(envelope._Deriver, "_most", staticmethod(lambda mover: most(mover) / 2))
    assert_void(checked(box()), "takes more than")


def test_a_pump_that_runs_down_more_slowly_makes_the_proof_void(monkeypatch: pytest.MonkeyPatch) -> None:
    """A seeded mistake: the pump is taken to stand at once when its supply goes."""
    pump = type(next(each for each in box().plant.assembly.parts if each.name == "P1"))  # type: ignore[union-attr]
    monkeypatch.setattr(pump, "runs_down", lambda self, litres, *, healthy: ("energised", 1))
    assert_void(checked(box()), "without supply")


def test_a_second_way_in_that_was_forgotten_makes_the_proof_void(monkeypatch: pytest.MonkeyPatch) -> None:
    """A seeded mistake: only the first of the movers into a vessel is counted."""
    program = box(BOX.replace("    supply P24", "    demand spring  into box, 0..30 L/min\n    supply P24"))
    movers = envelope._Deriver._movers
    monkeypatch.setattr(envelope._Deriver, "_movers", lambda self, part, *, into: movers(self, part, into=into)[:1])
    assert_void(checked(program), "takes more than")


#: Carries what it declares for nine seconds, and then a hundred times as much.
LIAR = """
from rungproof.plant.part import Clause, Input, Mover, Output, Variable


class Surge(Mover):
    kind = "surge"
    clauses = (Clause("into {destination:part}"),)

    def __init__(self, name, given, dt_ms):
        super().__init__(name, given, dt_ms)
        self.destination = given["destination"]
        self.inputs = (Input("supply", "driven", "bool"), Input("available", "available", "real", "L", 0.0, 1e9))
        self.variables = (
            Variable("energised", "bool", False),
            Variable("ticks", "int", 0, None, 0, 1000),
            Variable("moved", "real", 0.0, "L", 0.0, 0.001),
        )
        self.outputs = (Output("energised", "bool"), Output("flow", "real", "L/min", 0.0, 6.0))

    def step(self, ops, state, inputs, faults):
        ticks = ops.select(inputs["supply"], ops.min(state["ticks"] + 1, 1000), 0)
        moved = ops.select(ticks > 900, 0.1, ops.select(inputs["supply"], 0.001, 0.0))
        return {"energised": inputs["supply"], "ticks": ticks, "moved": moved}

    def look(self, ops, state, faults):
        return {"flow": ops.min(state["moved"] * 6000, 6.0)}

    def runs_down(self, litres, *, healthy):
        return "energised", 1
"""


def test_a_part_of_ones_own_that_lies_late_makes_the_proof_void(tmp_path: Path) -> None:
    """Chance hardly leaves a pump on for nine seconds: so that is run in any case, whatever the clock allows."""
    pump = "    pump P1              from well into box, 0..12 L/min, fixed speed, lag 0.05 s\n"
    text = BOX.replace("every 10 ms\n    res", 'every 10 ms parts from "own.py"\n    res')
    (tmp_path / "box.rung").write_text(text.replace(pump, "    surge P1  into box\n"), encoding="utf-8")
    (tmp_path / "own.py").write_text(LIAR, encoding="utf-8")
    program = understand(tmp_path).program
    assert program is not None
    result = check_program(program, seed=1, time_s=0.1, runs=1, prove_s=10)
    assert all(each.runs > 0 for each in result.envelope)
    assert_void(result, "takes more than")


def test_a_pump_that_rests_by_an_amount_of_its_own_gives_no_time_of_rest(tmp_path: Path) -> None:
    """Whether it turns is known only with its speed, at the same instant as the level that it may have lifted: what
    was taken from the instant before refused the first tick of a pump that starts just below the mark."""
    turning = LIAR.replace('return "energised", 1', 'return "turning", 1').replace("ticks > 900", "ticks > 9000")
    turning = turning.replace(
        'Output("energised", "bool"), ', 'Output("energised", "bool"), Output("turning", "bool"), '
    )
    turning = turning.replace('return {"flow"', 'return {"turning": state["moved"] > 0.0, "flow"')
    pump = "    pump P1              from well into box, 0..12 L/min, fixed speed, lag 0.05 s\n"
    text = BOX.replace("every 10 ms\n    res", 'every 10 ms parts from "own.py"\n    res')
    text = text.replace(pump, "    surge P1  into box\n").replace("starts at 1 L", "starts at 4.9995 L")
    (tmp_path / "box.rung").write_text(text.replace("level < 65 cm", "level < 50 cm"), encoding="utf-8")
    (tmp_path / "own.py").write_text(turning, encoding="utf-8")
    program = understand(tmp_path).program
    assert program is not None
    facts = plant_facts(program, requirement_of(program, "R1"))
    assert not any(isinstance(each.form, Stood) for each in facts)
    assert all(differences(program, "R1", seed, 400) == [] for seed in range(6))


@pytest.mark.parametrize(
    ("was", "becomes", "says"),
    [
        (', Output("flow", "real", "L/min", 0.0, 6.0)', ", ", "once P1 has been without supply for 10 ms"),
        ("energised", "carrying", "once P1.carrying has been off for 10 ms"),
    ],
    ids=["shows no flow", "has a word of its own"],
)
def test_a_part_of_ones_own_may_show_what_it_likes(tmp_path: Path, was: str, becomes: str, says: str) -> None:
    """What it says of itself is taken where it can be, and in its own words."""
    pump = "    pump P1              from well into box, 0..12 L/min, fixed speed, lag 0.05 s\n"
    text = BOX.replace("every 10 ms\n    res", 'every 10 ms parts from "own.py"\n    res')
    (tmp_path / "box.rung").write_text(text.replace(pump, "    surge P1  into box\n"), encoding="utf-8")
    own = LIAR.replace(was, becomes)
    if "flow" in was:
        own = own.replace('return {"flow": ops.min(state["moved"] * 6000, 6.0)}', "return {}")
    (tmp_path / "own.py").write_text(own, encoding="utf-8")
    program = understand(tmp_path).program
    assert program is not None
    rests = [
        each.sentence for each in plant_facts(program, requirement_of(program, "R1")) if isinstance(each.form, Stood)
    ]
    assert rests == [f"{says}, box does not rise to 65 cm"]


def assert_void(result: CheckResult, about: str) -> None:
    """No verdict of R1 rests on what a run breaks; the run is shown."""
    broken = [each for each in result.envelope if each.broken_at is not None]
    assert any(about in each.sentence for each in broken)
    assert all(each.story_text and "scenario" in each.story_text for each in broken)
    verdict = result.verdict("R1")
    assert verdict.word in ("simulated", "undecided", "violated")
    assert verdict.certificate is None
    assert "void" in verdict.reason or verdict.word == "violated"


# ------------------------------------------------------------------ differential


def drawn(random: Random, each: Any, before: Any, calm: float) -> Any:
    if before is not None and random.random() < calm:
        return before
    if each.type == "bool":
        return random.random() < (0.02 if each.name in ("controller!cut", "P24!lost") else 0.6)
    if each.type == "int":
        return random.randint(int(each.low), int(each.high))
    return random.choice([each.low, each.high, random.uniform(each.low, each.high)])


def differences(program: Program, name: str, seed: int, ticks: int) -> list[str]:
    """The closed loop run at random; the system in its envelope, offered its amounts, must take and do the same."""
    requirement = requirement_of(program, name)
    moving = frozenset(key for key, knob in program.knobs.items() if knob.kind not in ("fault", "stop", "free output"))
    loop = closed_loop(lower_program(program), Shape(frozenset({name}), None, moving, frozenset(), False, False))
    system = plant_system(program, requirement, plant_facts(program, requirement))
    random, wrong = Random(seed), []
    state: dict[str, Any] = {each.name: each.start for each in loop.states.values()}
    own: dict[str, Any] = system.starts()
    given: dict[str, Any] = {}
    for tick in range(ticks):
        given = {each.name: drawn(random, each, given.get(each.name), 0.99) for each in loop.inputs.values()}
        after, shown = transition(loop, state, given)
        seen = {key: value for key, value in after.items() if key.startswith("seen:")}
        offered = {f"{OFFERED}{key}": value for key, value in state.items()}
        at_hand = {**given, **state, **seen, **offered}
        own, said = transition(system.step, own, {key: at_hand.get(key, False) for key in system.step.inputs})
        if bool(said[system.bad]) != bool(shown[f"{name}/violated"]):
            wrong.append(f"tick {tick}: bad is {said[system.bad]}")
        for key in own:
            if key.startswith(PLANT):
                # an amount is what was offered in this tick, the rest what becomes of it
                expected = state[key] if f"{OFFERED}{key}" in system.step.inputs else after[key]
                if own[key] != expected:
                    wrong.append(f"tick {tick}: {key} is {own[key]}, not {expected}")
        state = after
    return wrong


@pytest.mark.parametrize("seed", range(3))
def test_the_system_takes_whatever_the_plant_does(seed: int) -> None:
    """Tick by tick, level by level: nothing that the plant does is refused by the envelope."""
    assert differences(box(), "R1", seed, 3000) == []


@pytest.mark.parametrize(("example", "name"), PROVED)
def test_the_system_takes_whatever_an_example_does(example: str, name: str) -> None:
    """The same for the examples."""
    assert differences(program_of(example), name, 5, 1500) == []


def test_an_envelope_that_is_too_tight_is_caught(monkeypatch: pytest.MonkeyPatch) -> None:
    """A seeded mistake: a rate far too small refuses what the plant does."""
    most = envelope._Deriver._most
    monkeypatch.setattr(envelope._Deriver, "_most", staticmethod(lambda mover: most(mover) / 100))
    low = BOX.replace(
        "opens on rise at 50 cm, closes on fall at 45 cm", "opens on rise at 20 cm, closes on fall at 15 cm"
    )
    program = box(low.replace("box.level < 65 cm", "box.level < 20.1 cm"))
    assert any(differences(program, "R1", seed, 3000) for seed in range(3))


# ----------------------------------------------------------------- order of floats


FLOATS = BOX.replace(
    "    relay K1",
    "    float_switch F2      in box, contact opens on rise at 60 cm, closes on fall at 55 cm\n    relay K1",
)


def test_the_order_of_floats_needs_no_assumption() -> None:
    """A higher float is never up while a lower one is down, hysteresis and all: proved of the floats' own lines."""
    program = box(FLOATS + '\nrequirement R2 "in order"\n    never F2.up and not F1.up\n')
    assert prove_program(program, time_s=60, workers=1, only={"R2"})["R2"].word == "proved"


def test_a_wrong_order_of_floats_is_not_proved() -> None:
    """The other way round it is broken by any filling."""
    program = box(FLOATS + '\nrequirement R2 "not in order"\n    never F1.up and not F2.up\n')
    found = prove_program(program, time_s=60, workers=1, only={"R2"}, further=True)["R2"]
    assert found.word == "breakable"
