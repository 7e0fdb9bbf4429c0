"""Runs with a plant: wiring, circuits, supplies, ticks and scans, noise."""

from __future__ import annotations

from pathlib import Path

import pytest
from rigs import ENGINE, bits, program_of, run, trace_of
from rungproof.logic.engines.chance import stream_of, uniform
from rungproof.logic.engines.contract import Judgement, Outcome
from rungproof.logic.engines.reference_environment import Environment
from rungproof.logic.meaning.program import Event, Story
from rungproof.logic.meaning.understand import understand

EXAMPLES = sorted(path for path in (Path(__file__).parents[3] / "examples").iterdir() if path.is_dir())

YARD = """
controller "Yard" every 20 ms

tags
    start_pb  input  bool
    spare     input  bool
    run       output bool on stop on
    lamp      output bool on stop off

rung run
    start_pb or spare
    => run

rung lamp
    start_pb
    => lamp

plant "Yard" every 5 ms
    push_button S1  make contact
    push_button S2  break contact
    relay K1  pulls in 20 ms, drops out 30 ms, make contacts 2
    lamp P1
    lamp P2
    supply P24  24 V
    supply P25  24 V
    supply P26  24 V

circuit "Relay" from P25
    rung chain
        S2
        => healthy
        => P2 when K1.1

    rung relay
        healthy
        run
        => K1

wiring
    controller  from P24
    inputs X1   from P24
    outputs X2  from P26
    start_pb  at X1:1  from S1
    spare     at X1:2
    run       at X2:1
    lamp      at X2:2  to P1

requirement terminal "Seen at scan ends"
    never run

requirement machine "Seen at every tick"
    never K1.pulled_in

requirement both "Tags are held between scan ends"
    never run and not K1.1
"""


def pressed(duration: int, *events: tuple[int, str, bool], **more: object) -> Outcome:
    """A run in which S1 is held from the start."""
    return run(YARD, duration, (0, "S1.pressed", True), *events, **more)


def column(outcome: Outcome, name: str, every: int = 1) -> str:
    trace = trace_of(outcome)
    return bits({**trace.tags, **trace.plant}[name][::every])


def test_from_button_to_relay_contact() -> None:
    """Tick by tick: the button closes in the first tick and is read by the second scan, whose output comes at its end.

    By hand: S1 is pressed at 0 and closed from 5 ms; the scan of 20..40 ms reads it; the terminal
    is on at 40 ms; the coil is driven from the tick of 40..45 ms on; the armature has pulled in at 60 ms.
    """
    outcome = pressed(100)
    times = trace_of(outcome).times
    assert times == list(range(5, 101, 5))
    first = {name: times[column(outcome, name).index("1")] for name in ("S1.1", "run", "K1.1", "P1.lit")}
    assert first == {"S1.1": 5, "run": 40, "K1.1": 60, "P1.lit": 45}


def test_requirements_look_where_they_read() -> None:
    """Tags alone: at scan ends; anything of the machine: at every tick, with tags held."""
    found = pressed(100).judgements
    assert (found["terminal"].violated_at, found["terminal"].triggers) == (40, 5)
    assert (found["machine"].violated_at, found["machine"].triggers) == (60, 20)
    assert (found["both"].violated_at, found["both"].triggers) == (40, 20)


@pytest.mark.parametrize(
    ("key", "run_tag", "relay", "lamp"),
    [
        ("P24!lost", False, False, False),
        ("P25!lost", True, False, True),
        ("P26!lost", True, False, False),
        ("controller!cut", False, False, False),
        ("controller!stopped", True, True, False),
        ("X1:1!wire_broken", False, False, False),
        ("X2:1!wire_broken", True, False, True),
        ("X2:2!wire_broken", True, True, False),
        ("S2.pressed", True, False, True),
        ("S1.1!stays_open", False, False, False),
    ],
)
def test_what_goes_when_one_thing_goes(key: str, run_tag: bool, relay: bool, lamp: bool) -> None:
    """Each supply, wire, contact and mode takes with it what hangs on it, and nothing else."""
    final = pressed(400, (200, key, True)).final
    assert (final["run"], final["K1.pulled_in"], final["P1.lit"]) == (run_tag, relay, lamp)


def test_a_spare_input_reads_off() -> None:
    """A terminal with nothing on it reads off."""
    assert pressed(100).final["spare"] is False


def test_an_output_branch_of_a_circuit() -> None:
    """`when` narrows one output of a circuit's rung."""
    outcome = pressed(300, (200, "S2.pressed", True))
    seen = dict(zip(trace_of(outcome).times, trace_of(outcome).plant["P2.lit"], strict=True))
    assert (seen[50], seen[150], seen[295]) == (False, True, False)


def test_power_is_looked_for_at_every_tick() -> None:
    """While the controller is dead it is sampled at ticks; cut and return are instants for requirements on tags."""
    outcome = pressed(200, (50, "P24!lost", True), (83, "P24!lost", False))
    assert trace_of(outcome).scan_starts == [0, 20, 40, 85, 105, 125, 145, 165, 185]
    found = outcome.judgements["terminal"]
    assert found.triggers == len([20, 40, 60, 85, 105, 125, 145, 165, 185])


def test_faults_are_seen_at_once() -> None:
    """An event at t is in the plant's truth at t: a welded contact is closed at that instant."""
    outcome = run(YARD, 100, (50, "S1.1!welded", True))
    seen = dict(zip(trace_of(outcome).times, trace_of(outcome).plant["S1.1"], strict=True))
    assert (seen[45], seen[50]) == (False, True)


def test_free_outputs_drive_the_machine() -> None:
    """A free output moves the machine at the next scan end, whatever the program says."""
    outcome = run(YARD, 200, (30, "run", True))
    assert outcome.final["K1.pulled_in"] is True
    assert outcome.judgements["terminal"].violated_at == 40


def test_scans_are_whole_ticks() -> None:
    """A scan that is no whole number of ticks is refused."""
    with pytest.raises(ValueError, match="in steps of 5 ms"):
        ENGINE.run(program_of(YARD.replace("every 20 ms", "every 20..40 ms")), Story(100, scans=(23,)))


def test_a_plant_alone_runs() -> None:
    """Without a controller, circuits and requirements run all the same; there are no scans."""
    text = (
        'plant "Shed" every 5 ms\n    push_button S1  make contact\n    lamp P1\n    supply P24  24 V\n\n'
        'circuit "Light" from P24\n    rung light\n        S1\n        => P1\n\n'
        'requirement R1 "It stays dark"\n    never P1.lit\n'
    )
    outcome = run(text, 50, (20, "S1.pressed", True))
    assert outcome.judgements["R1"] == Judgement(30, 10, False)
    assert (outcome.scans, trace_of(outcome).tags, outcome.final["P1.lit"]) == (0, {}, True)


# ----------------------------------------------------------------------- noise

TANK = """
plant "Tank" every 10 ms
    tank T1  upright cylinder, diameter 60 cm, height 110 cm, starts at 60 L
    level_transmitter LT1  above T1 at 135 cm, sees 25 cm..125 cm as 0..10 V, noise 20 mm, every 30 ms

requirement R1 "In range"
    always LT1.signal <= 10 V
"""


def test_noise_comes_from_the_generator_by_seed_and_lane() -> None:
    """Draw k of a stream holds from k * every on: each measurement is the level plus that draw."""
    program = program_of(TANK)
    quiet = ENGINE.run(program_of(TANK.replace(" noise 20 mm,", "")), Story(300), record=True)
    noisy = ENGINE.run(program, Story(300, seed=4, lane=9), record=True)
    level = trace_of(quiet).plant["LT1.signal"][0]
    for t, signal in zip(trace_of(noisy).times, trace_of(noisy).plant["LT1.signal"], strict=True):
        draw = uniform(4, 9, stream_of("LT1~noise"), (t - 10) // 30)
        assert signal == pytest.approx(level + draw * 2.0 * 10 / 100, rel=1e-12)
    assert ENGINE.run(program, Story(300, seed=5, lane=9)).final != noisy.final


def test_noise_is_no_knob_of_a_story() -> None:
    """Noise is drawn, whatever a story says first."""
    program = program_of(TANK)
    story = Story(0, (Event(0, "LT1~noise", 0.5),))
    environment = Environment(program, story)
    environment.advance(0)
    assert environment.values["LT1~noise"] == uniform(0, 0, stream_of("LT1~noise"), 0)


# -------------------------------------------------------------------- examples


@pytest.mark.parametrize("folder", EXAMPLES, ids=lambda path: path.name)
def test_the_environment_is_what_the_knobs_say(folder: Path) -> None:
    """Every knob of an example can be set in a run and starts where the knob says."""
    programs = [
        understand(path).program for path in ([folder] if folder.name != "mistakes" else sorted(folder.glob("*.rung")))
    ]
    for program in programs:
        if program is None:
            continue
        values = Environment(program, Story(0)).values
        for knob in program.knobs.values():
            if knob.kind not in ("parameter", "free output"):
                assert values[knob.key] == knob.start, knob.key
        beyond = {key for key in values if key not in program.knobs}
        assert all("~" in key or key.endswith("!wire_broken") for key in beyond)
