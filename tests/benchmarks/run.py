"""Benchmarks: `python tests/benchmarks/run.py [--only NAME] [--json FILE]`.

Prints a table: name, ours, baseline, ratio, target, met. A row runs ours and its baseline
interleaved in this one process and takes medians of several rounds; what a row compares
agrees bit for bit before it is timed. Figures are this machine's, at this moment.
"""

from __future__ import annotations

import argparse
import ctypes
import json
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass
from math import log
from pathlib import Path
from random import Random

from rungproof.logic.engines.bits import BitStep
from rungproof.logic.engines.compiled import CompiledEngine
from rungproof.logic.engines.lanes import LanesEngine
from rungproof.logic.engines.reference import ReferenceEngine
from rungproof.logic.meaning.program import Event, Program, Story
from rungproof.logic.meaning.understand import understand, understand_texts
from rungproof.logic.steps.controller import lower_scan
from rungproof.logic.steps.lowered import lower_program
from rungproof.logic.steps.step import Step

EXAMPLES = Path(__file__).parents[2] / "examples"
ROUNDS = 3


@dataclass(frozen=True, slots=True)
class Row:
    """One measurement. `ratio` is ours over baseline where there is one; `met` is None where nothing was asked."""

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


def header_tank() -> Program:
    program = understand(EXAMPLES / "header_tank").program
    assert program is not None
    return program


def filling(lane: int, duration_ms: int) -> Story:
    """Somebody resets and starts the header tank's pump; how much is drawn depends on the lane."""
    events = [(0, "drip_lines.opening", float(lane * 37 % 90))]
    events += [(1000, "S3.pressed", True), (1200, "S3.pressed", False)]
    events += [(245_000, "S1.pressed", True), (245_200, "S1.pressed", False)]
    return Story(duration_ms, tuple(Event(*each) for each in events), lane=lane)


NONE: frozenset[str] = frozenset()


def compiled_against_reference() -> Row:
    """Ticks a second of the whole header tank, all requirements watched."""
    program, compiled, reference = header_tank(), CompiledEngine(), ReferenceEngine()
    story = filling(1, 20_000)
    assert compiled.run(program, story) == reference.run(program, story)
    ours, baseline = interleaved(lambda: compiled.run(program, story), lambda: reference.run(program, story))
    ticks = story.duration_ms / 5
    return Row(
        "compiled, header tank",
        ticks / ours,
        ticks / baseline,
        "ticks/s",
        baseline / ours,
        ">= 100,000",
        ticks / ours >= 1e5,
    )


def compiled_unwatched() -> Row:
    """The same with no requirement watched."""
    program, compiled = header_tank(), CompiledEngine()
    story = filling(1, 100_000)
    compiled.run(program, story, watch=NONE)
    ours = statistics.median(seconds(lambda: compiled.run(program, story, watch=NONE)) for _ in range(ROUNDS))
    ticks = story.duration_ms / 5
    return Row(
        "compiled, header tank, nothing watched", ticks / ours, None, "ticks/s", None, ">= 100,000", ticks / ours >= 1e5
    )


def lanes_against_compiled() -> Row:
    """Lane-scans a second on one core, against one compiled run after another."""
    program, lanes, compiled = header_tank(), LanesEngine(), CompiledEngine()
    stories = [filling(lane, 5_000) for lane in range(8192)]
    some = stories[:50]
    assert lanes.run_many(program, some) == [compiled.run(program, story) for story in some]
    lanes.run_many(program, stories[:1])
    ours, baseline = interleaved(
        lambda: lanes.run_many(program, stories), lambda: [compiled.run(program, story) for story in some]
    )
    scans, few = len(stories) * 250, len(some) * 250
    ratio = (scans / ours) / (few / baseline)
    return Row("lanes, header tank, one core", scans / ours, few / baseline, "lane-scans/s", ratio, "", None)


def _chunk(first: int) -> int:
    program = header_tank()
    LanesEngine().run_many(program, [filling(lane, 5_000) for lane in range(first, first + 8192)], watch=NONE)
    return first


def plant_hours() -> Row:
    """Plant-hours a second on two processes, nothing watched; start of the processes not counted."""
    with ProcessPoolExecutor(2) as pool:
        list(pool.map(_chunk, [0, 8192]))
        took = seconds(lambda: list(pool.map(_chunk, range(0, 8 * 8192, 8192))), time.perf_counter)
    hours = 8 * 8192 * 5 / 3600 / took
    return Row("plant-hours a second, two cores", hours, None, "h/s", None, ">= 200", hours >= 200)


def rungs_text(count: int) -> str:
    """`count` rungs of seal-ins, timers and latches, each leaning on the one before."""
    tags = ["    start input bool", "    stop_ok input bool"]
    tags += [f"    m{i} memory bool" for i in range(count)]
    lines = []
    for i in range(count):
        before = f"m{i - 1}" if i else "start"
        stage = f"    on-delay {20 * (i % 7 + 1)} ms as d{i}\n" if i % 5 == 0 else ""
        lines.append(f"rung r{i}\n    {before} or m{i}\n    stop_ok\n{stage}    => m{i}\n")
    return 'controller "Many" every 20 ms\n\ntags\n' + "\n".join(tags) + "\n\n" + "\n".join(lines)


def _understood(count: int) -> Program:
    program = understand_texts({"many.rung": rungs_text(count)}).program
    assert program is not None
    return program


def growth_of_compiled() -> Row:
    """How time per scan grows from 10 to 3,000 rungs."""
    times = {}
    for count in (10, 3000):
        program, engine = _understood(count), CompiledEngine()
        story = Story(20 * max(20, 60_000 // count), (Event(0, "start", True), Event(0, "stop_ok", True)))
        engine.run(program, story)
        times[count] = statistics.median(
            seconds(lambda e=engine, p=program, s=story: e.run(p, s)) for _ in range(ROUNDS)
        )
        times[count] /= story.duration_ms / 20
    exponent = log(times[3000] / times[10]) / log(300)
    return Row("growth of compiled, 10 to 3,000 rungs", exponent, None, "exponent", None, "<= 1.1", exponent <= 1.1)


def parse_and_lower() -> Row:
    """Seconds from text to Steps for 10,000 rungs."""
    program: list[Program] = []
    took = seconds(lambda: program.append(_understood(10_000)))
    took += seconds(lambda: lower_program(program[0]))
    return Row("parse, meaning, lowering: 10,000 rungs", took, None, "s", None, "<= 5", took <= 5)


def interlocks(count: int) -> Step:
    """One scan of `count` boolean rungs: seal-ins, edges, latches, each leaning on the one before."""
    tags = ["    a input bool", "    b input bool", *(f"    m{i} memory bool" for i in range(count))]
    lines = []
    for i in range(count):
        before, start = f"m{i - 1}" if i else "b", ("rising a", "not b", "a")[i % 3]
        kind = ("", "set ", "reset ", "not ")[i % 4]
        lines.append(f"rung r{i}\n    {start} or m{i}\n    {before} or a\n    => {kind}m{i if i % 4 != 2 else i - 1}\n")
    text = 'controller "Interlocks" every 20 ms\n\ntags\n' + "\n".join(tags) + "\n\n" + "\n".join(lines)
    program = understand_texts({"interlocks.rung": text}).program
    assert program is not None and program.controller is not None
    scan = lower_scan(program.controller)
    return scan.slice([f"m{i}" for i in range(count)])


C_OPERATORS = {"and": "{0} & {1}", "or": "{0} | {1}", "not": "!{0}", "eq": "{0} == {1}", "select": "{0} ? {1} : {2}"}


def scalar_c(step: Step, folder: Path) -> Callable[[int, bytes, ctypes.Array[ctypes.c_char]], None]:
    """`run(scans, inputs, state)` in C from the same Step; `inputs` repeats, one byte an input."""
    names = {each.node: f"s[{i}]" for i, each in enumerate(step.states.values())}
    names |= {each.node: f"in[{i}]" for i, each in enumerate(step.inputs.values())}
    body = []
    for node in step.nodes:
        if node.operator == "constant":
            names[node] = str(int(node.value))
        elif node.operands:
            names[node] = f"x{len(body)}"
            body.append(
                f"uint8_t x{len(body)} = {C_OPERATORS[node.operator].format(*(names[o] for o in node.operands))};"
            )
    changed = [(i, step.next[name]) for i, name in enumerate(step.states) if name in step.next]
    body += [f"uint8_t n{i} = {names[node]};" for i, node in changed]
    body += [f"s[{i}] = n{i};" for i, _ in changed]
    text = "#include <stdint.h>\nvoid run(long scans, const uint8_t *inputs, uint8_t *state) {\n"
    text += f"uint8_t s[{len(step.states)}];\nfor (int i = 0; i < {len(step.states)}; i++) s[i] = state[i];\n"
    text += f"for (long k = 0; k < scans; k++) {{\nconst uint8_t *in = inputs + (k & 255) * {len(step.inputs)};\n"
    text += "\n".join(body) + f"\n}}\nfor (int i = 0; i < {len(step.states)}; i++) state[i] = s[i];\n}}\n"
    (folder / "scan.c").write_text(text, encoding="utf-8")
    command = ["gcc", "-O2", "-shared", "-fPIC", "-o", str(folder / "scan.so"), str(folder / "scan.c")]
    subprocess.run(command, check=True)
    library = ctypes.CDLL(str(folder / "scan.so"))
    library.run.argtypes = [ctypes.c_long, ctypes.c_char_p, ctypes.c_char_p]
    library.run.restype = None
    run: Callable[[int, bytes, ctypes.Array[ctypes.c_char]], None] = library.run
    return run


def boolean_rungs(count: int, target: float) -> Row:
    """Scans a second of boolean rungs over bits, against the same Step in scalar C, gcc -O2."""
    name, unit, asked = f"boolean rungs, {count}", "scans/s", f">= {target:g}"
    step, lanes, scans = interlocks(count), 32_768, 256
    random, bits = Random(1), BitStep(step, 32_768)
    pool = [{each: random.getrandbits(lanes) for each in step.inputs} for _ in range(256)]

    def ours() -> tuple[int, ...]:
        words = bits.start()
        for k in range(scans):
            words, _ = bits.advance(words, pool[k & 255])
        return words

    if shutil.which("gcc") is None:
        took = seconds(ours)
        return Row(name + " (no gcc: not measured)", lanes * scans / took, None, unit, None, asked, None)
    with tempfile.TemporaryDirectory() as folder:
        run = scalar_c(step, Path(folder))
        inputs = bytes(word >> 7 & 1 for values in pool for word in values.values())
        first = bytes(bool(each.start) for each in step.states.values())
        state = ctypes.create_string_buffer(first, len(first))
        run(scans, inputs, state)
        assert state.raw == bytes(word >> 7 & 1 for word in ours()), "C and bits differ"
        many = 2_000_000
        mine, theirs = interleaved(ours, lambda: run(many, inputs, state))
    rates = lanes * scans / mine, many / theirs
    return Row(name, rates[0], rates[1], unit, rates[0] / rates[1], asked, rates[0] / rates[1] >= target)


def help_time() -> Row:
    """Seconds until `--help` stands on the screen."""
    command = [sys.executable, "-m", "rungproof.logic.commands.main", "--help"]
    took = statistics.median(
        seconds(lambda: subprocess.run(command, capture_output=True, check=False)) for _ in range(5)
    )
    return Row("--help", took, None, "s", None, "< 0.2", took < 0.2)


ROWS: dict[str, Callable[[], Row]] = {
    "compiled": compiled_against_reference,
    "compiled-unwatched": compiled_unwatched,
    "lanes": lanes_against_compiled,
    "plant-hours": plant_hours,
    "boolean-44": lambda: boolean_rungs(44, 5),
    "boolean-500": lambda: boolean_rungs(500, 2),
    "growth": growth_of_compiled,
    "lower": parse_and_lower,
    "help": help_time,
}


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--only", choices=sorted(ROWS))
    parser.add_argument("--json", type=Path)
    asked = parser.parse_args()
    rows = []
    print(f"{'name':42} {'ours':>14} {'baseline':>14} {'ratio':>8}  {'unit':14} {'target':12} met")
    for name, measure in ROWS.items():
        if asked.only in (None, name):
            row = measure()
            rows.append(row)
            baseline = "-" if row.baseline is None else f"{row.baseline:,.3g}"
            ratio = "-" if row.ratio is None else f"{row.ratio:.3g}"
            met = {True: "yes", False: "no", None: "-"}[row.met]
            print(
                f"{row.name:42} {row.ours:14,.4g} {baseline:>14} {ratio:>8}  {row.unit:14} {row.target:12} {met}",
                flush=True,
            )
    if asked.json:
        asked.json.write_text(json.dumps({"rows": [asdict(row) for row in rows]}, indent=2), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
