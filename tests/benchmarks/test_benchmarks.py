"""The benchmarks measure what they say: C gives the engines' bits, and the JSON has its shape."""

from __future__ import annotations

import json
import subprocess
import sys
from ctypes import create_string_buffer
from pathlib import Path
from random import Random

import pytest
from rungproof.logic.engines.bits import BitStep
from rungproof.logic.engines.compiled import CompiledEngine, shape_of
from rungproof.logic.meaning.program import Event, Story
from rungproof.logic.steps.lowered import lower_program
from rungproof.logic.steps.run_plan import plan_run

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE))

import run as benchmarks  # noqa: E402
import scalar_c  # noqa: E402
import workloads  # noqa: E402

needs_gcc = pytest.mark.skipif(not scalar_c.has_gcc(), reason="no gcc")


@needs_gcc
@pytest.mark.parametrize("flags", [scalar_c.O2, scalar_c.NATIVE])
def test_the_closed_loop_in_c_gives_the_same_bits(tmp_path: Path, flags: tuple[str, ...]) -> None:
    """Every tag and every value of the plant after five minutes of presses and draw-off, noise included."""
    program = workloads.header_tank()
    random = Random(1)
    keys = ("S0.pressed", "S1.pressed", "S2.pressed", "S3.pressed")
    events = [Event(at, random.choice(keys), random.random() < 0.5) for at in range(0, 300_000, 700)]
    story = Story(300_000, (*workloads.filling(5, 1).events, *events), lane=5, seed=3)
    plan = plan_run(lower_program(program), shape_of(program, story, workloads.NONE))
    in_c = benchmarks.c_loop(program, plan, tmp_path, flags)
    outcome = CompiledEngine().run(program, story, watch=workloads.NONE)
    assert repr(in_c(story)) == repr(dict(outcome.final))


@needs_gcc
def test_boolean_rungs_in_c_give_the_same_bits(tmp_path: Path) -> None:
    """One lane of the bit engine is what C gives for its inputs."""
    step = workloads.interlocks(44)
    random, bits = Random(2), BitStep(step, 64)
    pool = [{each: random.getrandbits(64) for each in step.inputs} for _ in range(256)]
    state = create_string_buffer(bytes(bool(each.start) for each in step.states.values()), len(step.states))
    scalar_c.scan_in_c(step, tmp_path)(256, bytes(w >> 9 & 1 for row in pool for w in row.values()), state)
    words = bits.start()
    for row in pool:
        words, _ = bits.advance(words, row)
    assert state.raw == bytes(word >> 9 & 1 for word in words)


def test_the_function_by_hand_does_what_the_rungs_do() -> None:
    """The baseline of the single run ends with the tags of the compiled engine."""
    story = workloads.lift_story(20_000)
    final = CompiledEngine().run(workloads.program_of(workloads.LIFT), story).final
    by_hand = workloads.lift_by_hand(story.duration_ms, story.events)
    assert {name: final[name] for name in by_hand} == by_hand


def test_the_json_has_the_declared_shape(tmp_path: Path) -> None:
    """A row has its seven fields; a file is written beside the table."""
    told = tmp_path / "rows.json"
    command = [sys.executable, str(HERE / "run.py"), "--only", "help", "--json", str(told)]
    shown = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    (row,) = json.loads(told.read_text())["rows"]
    assert set(row) == {"name", "ours", "baseline", "unit", "ratio", "target", "met"}
    assert row["name"] == "--help" and row["name"] in shown
    assert row["met"] is (row["ours"] < 0.2)
