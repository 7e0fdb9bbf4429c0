"""A Step tried in full by C: breadth first, a hash table of packed states, every combination of inputs of every state.

The baseline of the join: the same exact Step, compiled with `gcc -O2`, so that the algorithm alone differs.
"""

from __future__ import annotations

import subprocess
from dataclasses import dataclass
from pathlib import Path

from rungproof.logic.steps.node import Node
from rungproof.logic.steps.step import Step

_FRAME = """\
#include <stdio.h>
#include <stdlib.h>
#include <stdint.h>
#include <string.h>
#include <time.h>
static uint64_t *table, *queue; static uint64_t mask, count;
static void grow(void);
static int add(uint64_t s) {{
    uint64_t h = (s * 0x9E3779B97F4A7C15ull) >> 20 & mask;
    while (table[h] != ~0ull) {{ if (table[h] == s) return 0; h = (h + 1) & mask; }}
    table[h] = s; queue[count++] = s; return 1;
}}
int main(void) {{
    mask = (1ull << 25) - 1; count = 0;
    table = malloc((mask + 1) * 8); queue = malloc((1ull << 24) * 8);
    memset(table, 0xff, (mask + 1) * 8);
    clock_t began = clock();
    add({start}ull);
    uint64_t transitions = 0; int bad = 0;
    for (uint64_t at = 0; at < count; at++) {{
        uint64_t s = queue[at];
{unpack}
        for (uint64_t in = 0; in < {combinations}ull; in++) {{
{inputs}
{body}
            bad |= {bad};
            add({pack}); transitions++;
        }}
    }}
    printf("%llu %llu %d %f\\n", (unsigned long long)count, (unsigned long long)transitions, bad,
        (double)(clock() - began) / CLOCKS_PER_SEC);
    return 0;
}}
"""

_WORDS = {"add": "+", "sub": "-", "mul": "*", "lt": "<", "le": "<=", "eq": "==", "and": "&", "or": "|"}


@dataclass(frozen=True)
class Found:
    states: int
    transitions: int
    bad: bool
    seconds: float


def breadth_first(step: Step, bad: str, folder: Path) -> Found:
    """Compile and run. Inputs are bools; states are bools and whole numbers of 63 bits together."""
    source, program = folder / "breadth.c", folder / "breadth"
    source.write_text(c_of(step, bad), encoding="utf-8")
    subprocess.run(["gcc", "-O2", "-o", str(program), str(source)], check=True)
    states, transitions, found, seconds = subprocess.run(
        [str(program)], check=True, capture_output=True, text=True
    ).stdout.split()
    return Found(int(states), int(transitions), found == "1", float(seconds))


def c_of(step: Step, bad: str) -> str:
    names: dict[Node, str] = {}
    unpack, pack, start, at = [], [], 0, 0
    for place, state in enumerate(step.states.values()):
        low, width = int(state.low), (int(state.high) - int(state.low)).bit_length()
        names[state.node] = f"s{place}"
        unpack.append(f"        const long s{place} = (long)(s >> {at} & {(1 << width) - 1}ull) + {low};")
        start |= (int(state.start) - low) << at
        after = step.next.get(state.name, state.node)
        pack.append((after, low, at))
        at += width
    inputs = []
    for place, each in enumerate(step.inputs.values()):
        names[each.node] = f"i{place}"
        inputs.append(f"            const long i{place} = in >> {place} & 1;")
    body = []
    for node in step.nodes:
        if node.operator == "constant":
            names[node] = f"{int(node.value)}L"
        elif node.operator != "variable":
            names[node] = f"n{len(names)}"
            body.append(f"            const long {names[node]} = {_expression(node, names)};")
    packed = " | ".join(f"(uint64_t)({names[node]} - {low}) << {at}" for node, low, at in pack)
    return _FRAME.format(
        start=start,
        unpack="\n".join(unpack),
        combinations=1 << len(step.inputs),
        inputs="\n".join(inputs),
        body="\n".join(body),
        bad=names[step.outputs[bad]],
        pack=packed,
    )


def _expression(node: Node, names: dict[Node, str]) -> str:
    parts = [names[each] for each in node.operands]
    if node.operator == "not":
        return f"!{parts[0]}"
    if node.operator == "select":
        return f"{parts[0]} ? {parts[1]} : {parts[2]}"
    return f"{parts[0]} {_WORDS[node.operator]} {parts[1]}"
