"""Benchmarks: `python tests/benchmarks/run.py [--only NAME] [--json FILE]`.

Prints a table: name, ours, baseline, ratio, target, met. A row runs ours and its baseline
interleaved in this one process and takes medians of several rounds; what a row compares
agrees bit for bit before it is timed. Figures are this machine's, at this moment.
"""

from __future__ import annotations

import argparse
import json
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from ctypes import c_double, c_long, c_uint64, create_string_buffer
from dataclasses import asdict, dataclass
from math import log
from pathlib import Path
from random import Random

import proof_rows
import scalar_c
from rungproof.logic.engines.bits import BitStep
from rungproof.logic.engines.compiled import CompiledEngine, initial_values, run_events, shape_of
from rungproof.logic.engines.lanes import LanesEngine
from rungproof.logic.engines.reference import ReferenceEngine
from rungproof.logic.meaning.program import Event, Program, Story
from rungproof.logic.steps.lowered import lower_program
from rungproof.logic.steps.run_plan import RunPlan, plan_run
from workloads import (
    EXAMPLES,
    LIFT,
    NONE,
    filling,
    header_tank,
    interlocks,
    lift_by_hand,
    lift_story,
    program_of,
    rungs_text,
)

ROUNDS = 3
SCAN_MS = 20
LANES, LANES_MS = 8192, 60_000


@dataclass(frozen=True, slots=True)
class Row:
    """One measurement. `ratio` is ours over baseline, or the other way round where less is better, so that
    more is always better; `met` is None where nothing was asked or nothing could be measured."""

    name: str
    ours: float
    baseline: float | None
    unit: str
    ratio: float | None
    target: str
    met: bool | None


def seconds(work: Callable[[], object], clock: Callable[[], float] = time.process_time) -> float:
    """Seconds of one call: of this process's own time, so that what else runs does not count."""
    start = clock()
    work()
    return clock() - start


def interleaved(ours: Callable[[], object], baseline: Callable[[], object]) -> tuple[float, float]:
    """Median seconds of both, round by round in turn."""
    pairs = [(seconds(ours), seconds(baseline)) for _ in range(ROUNDS)]
    return statistics.median(a for a, _ in pairs), statistics.median(b for _, b in pairs)


def rated(name: str, ours: float, baseline: float | None, unit: str, least: float | None = None) -> Row:
    """A row of two rates; `least` is what the ratio should be, or ours where there is no baseline."""
    ratio = None if baseline is None else ours / baseline
    judged = ours if ratio is None else ratio
    return Row(name, ours, baseline, unit, ratio, "" if least is None else f">= {least:g}", least and judged >= least)


# --------------------------------------------------------------- closed loop


def c_loop(
    program: Program, plan: RunPlan, folder: Path, flags: tuple[str, ...]
) -> Callable[[Story], dict[str, object]]:
    """A story run in C: what it shows in the end, by name and in the types of the plan."""
    run = scalar_c.loop_in_c(plan, SCAN_MS, folder, flags)
    run.restype = None
    nodes = {**plan.tags, **plan.look}
    cast: dict[str, Callable[[float], object]] = {"bool": bool, "int": int, "real": float}

    def in_c(story: Story) -> dict[str, object]:
        environment = (c_double * len(plan.environment))(*map(float, initial_values(program, story, plan)))
        events = run_events(program, story, plan)[:-1]
        count = len(events)
        times, places = (c_long * count)(*(e[0] for e in events)), (c_long * count)(*(e[1] for e in events))
        values, shown = (c_double * count)(*(float(e[2]) for e in events)), (c_double * len(nodes))()
        key = c_uint64(story.seed), c_uint64(story.lane)
        run(c_long(story.duration_ms), *key, environment, c_long(count), times, places, values, shown)
        return {name: cast[node.type](value) for (name, node), value in zip(nodes.items(), shown, strict=True)}

    return in_c


def closed_loop(flags: tuple[str, ...], least: float | None) -> Row:
    """Lane-scans a second of the header tank's closed loop on one core, nothing watched, against scalar C."""
    program, lanes = header_tank(), LanesEngine()
    stories = [filling(lane, LANES_MS) for lane in range(LANES)]
    few = [filling(lane, 300_000) for lane in (1, 2, 3)]
    lanes.run_many(program, stories[:1], watch=NONE)
    scans = LANES_MS / SCAN_MS
    name = f"closed loop, header tank, C {' '.join(flags)}"
    if not scalar_c.has_gcc():
        took = seconds(lambda: lanes.run_many(program, stories, watch=NONE))
        return Row(f"{name} (no gcc)", LANES * scans / took, None, "lane-scans/s", None, "", None)
    with tempfile.TemporaryDirectory() as folder:
        plan = plan_run(lower_program(program), shape_of(program, few[0], NONE))
        in_c = c_loop(program, plan, Path(folder), flags)
        for story, outcome in zip(few, lanes.run_many(program, few, watch=NONE), strict=True):
            assert repr(in_c(story)) == repr(dict(outcome.final)), "C and lanes differ"
        mine, theirs = interleaved(
            lambda: lanes.run_many(program, stories, watch=NONE), lambda: [in_c(story) for story in few]
        )
    return rated(name, LANES * scans / mine, len(few) * 300_000 / SCAN_MS / theirs, "lane-scans/s", least)


def _chunk(first: int) -> float:
    """Seconds of its own that a process takes for a chunk of lanes, which it was ready for."""
    program, lanes = header_tank(), LanesEngine()
    stories = [filling(lane, LANES_MS) for lane in range(first, first + LANES)]
    lanes.run_many(program, stories[:1], watch=NONE)
    return seconds(lambda: lanes.run_many(program, stories, watch=NONE))


def _together(processes: int) -> float:
    """Lane-scans a second of so many processes at once, each by its own time: what else runs does not count."""
    with ProcessPoolExecutor(processes) as pool:
        took = [list(pool.map(_chunk, range(0, processes * LANES, LANES))) for _ in range(ROUNDS)]
    return statistics.median(sum(LANES * LANES_MS / SCAN_MS / each for each in round_) for round_ in took)


def two_cores() -> Row:
    """Lane-scans a second on two processes at once, against one alone."""
    return rated("closed loop on two cores, against one", _together(2), _together(1), "lane-scans/s", 1.8)


def plant_hours() -> Row:
    """Plant-hours a second on two processes, nothing watched; start of the processes not counted."""
    return rated("plant-hours a second, two cores", _together(2) * SCAN_MS / 3.6e6, None, "h/s", 200)


# --------------------------------------------------------------- single runs


def single_run() -> Row:
    """Scans a second of one compiled run, against a function written by hand for the same rungs."""
    program, compiled, story = program_of(LIFT), CompiledEngine(), lift_story(200_000)
    final = compiled.run(program, story, watch=NONE).final
    by_hand = lift_by_hand(story.duration_ms, story.events)
    assert {name: final[name] for name in by_hand} == by_hand
    ours, baseline = interleaved(
        lambda: compiled.run(program, story, watch=NONE), lambda: lift_by_hand(story.duration_ms, story.events)
    )
    scans = story.duration_ms / 10
    return rated("single run, compiled, against Python by hand", scans / ours, scans / baseline, "scans/s", 0.9)


def compiled_against_reference() -> Row:
    """Ticks a second of the whole header tank, all requirements watched."""
    program, compiled, reference = header_tank(), CompiledEngine(), ReferenceEngine()
    story = filling(1, 20_000)
    assert compiled.run(program, story) == reference.run(program, story)
    ours, baseline = interleaved(lambda: compiled.run(program, story), lambda: reference.run(program, story))
    return rated("compiled, header tank, against the reference", 2000 / ours, 2000 / baseline, "ticks/s")


def boolean_rungs(count: int, least: float) -> Row:
    """Scans a second of boolean rungs over bits, against the same Step in scalar C, gcc -O2."""
    name = f"boolean rungs, {count}"
    step, lanes, scans = interlocks(count), 32_768, 256
    random, bits = Random(1), BitStep(step, 32_768)
    pool = [{each: random.getrandbits(lanes) for each in step.inputs} for _ in range(256)]

    def ours() -> tuple[int, ...]:
        words = bits.start()
        for k in range(scans):
            words, _ = bits.advance(words, pool[k & 255])
        return words

    if not scalar_c.has_gcc():
        return Row(f"{name} (no gcc)", lanes * scans / seconds(ours), None, "scans/s", None, f">= {least:g}", None)
    with tempfile.TemporaryDirectory() as folder:
        run = scalar_c.scan_in_c(step, Path(folder))
        inputs = bytes(word >> 7 & 1 for values in pool for word in values.values())
        first = bytes(bool(each.start) for each in step.states.values())
        state = create_string_buffer(first, len(first))
        run(scans, inputs, state)
        assert state.raw == bytes(word >> 7 & 1 for word in ours()), "C and bits differ"
        many = 2_000_000
        mine, theirs = interleaved(ours, lambda: run(many, inputs, state))
    return rated(name, lanes * scans / mine, many / theirs, "scans/s", least)


# -------------------------------------------------------------------- growth


def growth(engine: str) -> Row:
    """How time per scan grows from 10 to 10,000 rungs."""
    times = {}
    for count in (10, 10_000):
        program, compiled, lanes = program_of(rungs_text(count)), CompiledEngine(), LanesEngine()
        scans = 2000 if count == 10 else 20
        story = Story(20 * scans, (Event(0, "start", True), Event(0, "stop_ok", True)))
        work = {
            "compiled": lambda e=compiled, p=program, s=story: e.run(p, s),
            "lanes": lambda e=lanes, p=program, s=story: e.run_many(p, [s] * 256),
        }[engine]
        work()
        times[count] = statistics.median(seconds(work) for _ in range(ROUNDS)) / scans
    exponent = log(times[10_000] / times[10]) / log(1000)
    return Row(f"growth of {engine}, 10 to 10,000 rungs", exponent, None, "exponent", None, "<= 1.1", exponent <= 1.1)


def parse_and_lower() -> Row:
    """Seconds from text to Steps for 10,000 rungs, and how it grows from 1,000 on."""
    took = {}
    for count in (1000, 10_000):
        text = rungs_text(count)
        took[count] = seconds(lambda text=text: lower_program(program_of(text)))
    exponent = log(took[10_000] / took[1000]) / log(10)
    met = took[10_000] <= 5 and exponent <= 1.1
    name = f"parse, meaning, lowering: 10,000 rungs (exponent {exponent:.2f})"
    return Row(name, took[10_000], None, "s", None, "<= 5, 1.1", met)


# ----------------------------------------------------------- the command line


COMMAND = [sys.executable, "-c", "from rungproof.logic.commands.main import entry; entry()"]


def help_time() -> Row:
    """Seconds until `--help` stands on the screen."""
    command = [*COMMAND, "--help"]
    assert "check" in subprocess.run(command, capture_output=True, text=True, check=True).stdout
    took = statistics.median(
        seconds(lambda: subprocess.run(command, capture_output=True, check=False), time.perf_counter) for _ in range(5)
    )
    return Row("--help", took, None, "s", None, "< 0.2", took < 0.2)


def whole_check() -> Row:
    """Seconds of `check examples/header_tank`, by the clock on the wall, and its plant-hours."""
    with tempfile.TemporaryDirectory() as folder:
        told = Path(folder) / "check.json"
        run = [*COMMAND, "check", str(EXAMPLES / "header_tank"), "--json", str(told)]
        took = seconds(lambda: subprocess.run(run, capture_output=True, check=False), time.perf_counter)
        hours = json.loads(told.read_text(encoding="utf-8"))["searched"]["simulated_ms"] / 3.6e6
    name = f"check of the header tank, {hours:,.0f} plant-hours"
    return Row(name, took, None, "s", None, "< 15, 1,000 h", took < 15 and hours >= 1000)


ROWS: dict[str, Callable[[], Row]] = {
    "closed-loop": lambda: closed_loop(scalar_c.O2, 1.0),
    "closed-loop-native": lambda: closed_loop(scalar_c.NATIVE, None),
    "two-cores": two_cores,
    "plant-hours": plant_hours,
    "single-run": single_run,
    "compiled": compiled_against_reference,
    "boolean-44": lambda: boolean_rungs(44, 5),
    "boolean-500": lambda: boolean_rungs(500, 2),
    "growth-compiled": lambda: growth("compiled"),
    "growth-lanes": lambda: growth("lanes"),
    "lower": parse_and_lower,
    "help": help_time,
    "check": whole_check,
    **{name: (lambda measure=measure: Row(*measure())) for name, measure in proof_rows.ROWS.items()},
}


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--only", choices=sorted(ROWS))
    parser.add_argument("--json", type=Path)
    asked = parser.parse_args()
    rows = []
    print(f"{'name':64} {'ours':>12} {'baseline':>12} {'ratio':>7}  {'unit':13} {'target':14} met")
    for name, measure in ROWS.items():
        if asked.only in (None, name):
            row = measure()
            rows.append(row)
            baseline = "-" if row.baseline is None else f"{row.baseline:,.4g}"
            ratio = "-" if row.ratio is None else f"{row.ratio:.3g}"
            met = {True: "yes", False: "no", None: "-"}[row.met]
            cells = f"{row.name:64} {row.ours:12,.4g} {baseline:>12} {ratio:>7}  {row.unit:13} {row.target:14} {met}"
            print(cells, flush=True)
    if asked.json:
        asked.json.write_text(json.dumps({"rows": [asdict(row) for row in rows]}, indent=2), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
