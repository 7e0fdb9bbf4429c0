"""Scalar C of the same nodes that the engines run, compiled by gcc when asked for: the baselines.

Each node is one local variable and gcc does the rest. `-ffp-contract=off` keeps it from fusing a
product with a sum, which would change bits.
"""

from __future__ import annotations

import ctypes
import shutil
import subprocess
from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from rungproof.logic.engines.chance import stream_of
from rungproof.logic.steps.controller import ELAPSED
from rungproof.logic.steps.node import Node, ordered, variable
from rungproof.logic.steps.run_plan import FIRST, RunPlan
from rungproof.logic.steps.step import Step

O2, NATIVE = ("-O2",), ("-O3", "-march=native")

_TYPES = {"bool": "uint8_t", "int": "int64_t", "real": "double"}
_OPERATORS = {
    "and": "{0} & {1}",
    "or": "{0} | {1}",
    "not": "!{0}",
    "add": "{0} + {1}",
    "sub": "{0} - {1}",
    "mul": "{0} * {1}",
    "quotient": "{0} / {1}",
    "divide": "guarded({0}, {1})",
    "neg": "-{0}",
    "sqrt": "({0} >= 0 ? sqrt({0}) : 0.0)",
    "round": "(int64_t)nearbyint({0})",
    "trunc": "(int64_t){0}",
    "real": "(double){0}",
    "lt": "{0} < {1}",
    "le": "{0} <= {1}",
    "eq": "{0} == {1}",
    "select": "{0} ? {1} : {2}",
}

_HEAD = """#include <stdint.h>
#include <math.h>
static inline double guarded(double a, double b) {
    if (b == 0) return a > 0 ? 1e300 : a < 0 ? -1e300 : 0.0;
    double q = a / b; q = q < 1e300 ? q : 1e300; return q > -1e300 ? q : -1e300;
}
static inline uint64_t mixed(uint64_t z) {
    z += 0x9E3779B97F4A7C15u; z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9u;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBu; return z ^ (z >> 31);
}
static inline double draw(uint64_t seed, uint64_t lane, uint64_t stream, uint64_t index) {
    uint64_t z = mixed(mixed(mixed(mixed(seed) ^ lane) ^ stream) ^ index);
    return (double)(z >> 11) * 0x1p-52 - 1.0;
}
"""


def has_gcc() -> bool:
    return shutil.which("gcc") is not None


def built(text: str, folder: Path, flags: Sequence[str]) -> Any:
    """The function `run` of a C text."""
    name = folder / ("c" + "".join(flags).replace("=", ""))
    name.with_suffix(".c").write_text(_HEAD + text, encoding="utf-8")
    command = ["gcc", *flags, "-ffp-contract=off", "-shared", "-fPIC"]
    subprocess.run([*command, "-o", f"{name}.so", f"{name}.c", "-lm"], check=True)
    return ctypes.CDLL(f"{name}.so").run


def _literal(node: Node) -> str:
    return node.value.hex() if isinstance(node.value, float) else str(int(node.value))


class _Writer:
    """C statements for nodes; `names` says what is known."""

    def __init__(self, names: Mapping[Node, str]) -> None:
        self.names, self.lines, self.count = dict(names), list[str](), 0

    def work_out(self, roots: Iterable[Node]) -> None:
        for node in ordered(roots):
            if node.operator == "constant":
                self.names[node] = _literal(node)
            elif node.operands and node not in self.names:
                self.count += 1
                text = _OPERATORS[node.operator].format(*(self.names[each] for each in node.operands))
                self.lines.append(f"{_TYPES[node.type]} x{self.count} = {text};")
                self.names[node] = f"x{self.count}"

    def become(self, values: Mapping[Node, Node]) -> None:
        """All at once."""
        self.work_out(values.values())
        fresh = [(node, self.names[value]) for node, value in values.items()]
        self.lines += [f"{_TYPES[node.type]} next{i} = {text};" for i, (node, text) in enumerate(fresh)]
        self.lines += [f"{self.names[node]} = next{i};" for i, (node, _) in enumerate(fresh)]


def scan_in_c(step: Step, folder: Path) -> Callable[[int, bytes, ctypes.Array[ctypes.c_char]], None]:
    """`run(scans, inputs, state)` of a boolean Step; 256 rows of inputs repeat, one byte an input."""
    names = {each.node: f"s{i}" for i, each in enumerate(step.states.values())}
    names |= {each.node: f"in[{i}]" for i, each in enumerate(step.inputs.values())}
    writer = _Writer(names)
    writer.become({each.node: step.next[name] for name, each in step.states.items() if name in step.next})
    states = range(len(step.states))
    text = "void run(long scans, const uint8_t *inputs, uint8_t *state) {\n"
    text += "".join(f"uint8_t s{i} = state[{i}];\n" for i in states)
    text += f"for (long k = 0; k < scans; k++) {{\nconst uint8_t *in = inputs + (k & 255) * {len(step.inputs)};\n"
    text += "\n".join(writer.lines) + "\n}\n" + "".join(f"state[{i}] = s{i};\n" for i in states) + "}\n"
    run: Callable[[int, bytes, ctypes.Array[ctypes.c_char]], None] = built(text, folder, O2)
    run.argtypes = [ctypes.c_long, ctypes.c_char_p, ctypes.c_char_p]  # type: ignore[attr-defined]
    run.restype = None  # type: ignore[attr-defined]
    return run


def loop_in_c(plan: RunPlan, scan_ms: int, folder: Path, flags: Sequence[str]) -> Any:
    """`run(duration, seed, lane, environment, events, times, places, values, shown)` of a whole closed loop.

    For a plan in which power stays and every scan takes `scan_ms`. `shown` takes the tags and the
    plant's values at the end, as doubles. Scans are worked out where they begin only, as anybody would write it.
    """
    names: dict[Node, str] = {FIRST: "first", variable(ELAPSED, "int"): "elapsed"}
    head = []
    for stem, nodes in (("p", plan.plant_next), ("m", plan.memory_starts), ("v", plan.publish), ("n", plan.noise)):
        starts = {**plan.starts, **plan.memory_starts}
        for index, node in enumerate(nodes):
            names[node] = f"{stem}{index}"
            start = float(starts.get(node, 0.0)).hex()
            head.append(f"{_TYPES[node.type]} {stem}{index} = {start};")
    for index, node in enumerate(plan.environment):
        names[node] = f"({_TYPES[node.type]})env[{index}]"
    publish, scan, tick, end = (_Writer(names) for _ in range(4))
    publish.become(plan.publish)
    scan.become(plan.memory_next)
    tick.become(plan.plant_next)
    end.work_out([*plan.tags.values(), *plan.look.values()])
    end.lines += [
        f"shown[{i}] = (double){end.names[node]};" for i, node in enumerate([*plan.tags.values(), *plan.look.values()])
    ]
    noise = [
        f"if (t % {every} == 0) {names[node]} = draw(seed, lane, {stream_of(key)}u, t / {every});"
        for node, (key, every) in plan.noise.items()
    ]
    text = "\n".join(
        [
            "void run(long duration, uint64_t seed, uint64_t lane, double *env, long events, const long *times,",
            "         const long *places, const double *values, double *shown) {",
            *head,
            "uint8_t first = 0, running = 0; int64_t elapsed = 0; long boundary = 0, k = 0, t = 0;",
            "for (;;) {",
            "while (k < events && times[k] <= t) { env[places[k]] = values[k]; k++; }",
            *noise,
            "if (t == boundary && running) {",
            *publish.lines,
            "}",
            "if (t >= duration && t) break;",
            "if (t == boundary) {",
            f"first = !running; elapsed = running ? {scan_ms} : 0; running = 1;",
            *scan.lines,
            f"boundary = t + {scan_ms};",
            "}",
            *tick.lines,
            f"t += {plan.tick};",
            "}",
            *end.lines,
            "}\n",
        ]
    )
    return built(text, folder, flags)
