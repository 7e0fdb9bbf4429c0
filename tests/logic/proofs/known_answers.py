"""Small programs whose reachable states are known from print; the rungs are our own.

[BK] Baier, Katoen, Principles of Model Checking, 2008: numbers of examples from memory.
[TB] any textbook of switching circuits: counters, shift registers, Gray code.
[CP] common practice of motor and pump control, no source.
"""

from __future__ import annotations

HEADER = 'controller "Known" every 10 ms\n\ntags\n'


def program(tags: str, rungs: str, requirements: str = "") -> str:
    """A file with these tag lines, rungs and requirements, given without indentation of their block."""
    lines = "".join(f"    {line.strip()}\n" for line in tags.strip().splitlines())
    return f"{HEADER}{lines}\n{rungs.strip()}\n\n{requirements.strip()}\n"


def bits(count: int) -> list[str]:
    return [f"q{place}" for place in range(count)]


def bit_tags(count: int, first_on: str = "") -> str:
    return "\n".join(f"{name} memory bool{' = on' if name == first_on else ''}" for name in bits(count))


def counter(count: int) -> str:
    """A binary counter of `count` bits, the high bit's rung first [TB]: 2^n states."""
    rungs = []
    for place in reversed(range(count)):
        lower = bits(place)
        toggles = " and ".join([f"not q{place}", *lower])
        stays = "".join(f" or (q{place} and not {each})" for each in lower)
        rungs.append(f"rung bit{place}\n    ({toggles}){stays}\n    => q{place}\n")
    full = " and ".join(bits(count))
    return program(bit_tags(count), "\n".join(rungs), f'requirement R1 "Never full"\n    never {full}')


def shift_register(count: int, feedback: str, first_on: str = "") -> str:
    """A register that shifts upward; the path `feedback` fills the lowest bit [TB]."""
    rungs = [f"rung old\n    {feedback}\n    => filling\n"]
    rungs += [f"rung bit{place}\n    q{place - 1}\n    => q{place}\n" for place in reversed(range(1, count))]
    rungs.append("rung bit0\n    filling\n    => q0\n")
    return program(bit_tags(count, first_on) + "\nfilling memory bool", "\n".join(rungs))


def exclusive(a: str, b: str) -> str:
    return f"({a} and not {b}) or (not {a} and {b})"


RING = shift_register(4, "q3", first_on="q0")
JOHNSON = shift_register(4, "not q3")
FEEDBACK_4 = shift_register(4, exclusive("q3", "q2"), first_on="q0")
#: Taps 8, 6, 5, 4 [TB]: an exclusive or of four is one of two pairs.
FEEDBACK_8 = (
    shift_register(8, "a or b", first_on="q0")
    .replace(
        "rung old\n    a or b\n",
        f"rung pair_a\n    {exclusive('q7', 'q5')}\n    => pair_a\n\nrung pair_b\n    {exclusive('q4', 'q3')}\n"
        f"    => pair_b\n\nrung old\n    {exclusive('pair_a', 'pair_b')}\n",
    )
    .replace("filling memory bool", "filling memory bool\n    pair_a memory bool\n    pair_b memory bool")
)

#: Gray code of 3 bits [TB]: 8 states, one bit changes at a time.
GRAY = program(
    bit_tags(3) + "\nold2 memory bool\nold1 memory bool",
    """
rung old2
    q2
    => old2

rung old1
    q1
    => old1

rung bit2
    (q2 and q0) or (q1 and not q0)
    => q2

rung bit1
    (q1 and not q0) or (not old2 and q0)
    => q1

rung bit0
    (old2 and old1) or (not old2 and not old1)
    => q0
""",
)

#: Two processes and a semaphore [BK, section on shared variables]: 8 states, never both inside.
SEMAPHORE = program(
    """
    first input bool
    p1 memory int 0..2
    p2 memory int 0..2
    free memory int 0..1 = 1
    enters memory bool
    leaves memory bool
    """,
    """
rung enters
    (first and p1 = 1 and free = 1) or (not first and p2 = 1 and free = 1)
    => enters

rung leaves
    (first and p1 = 2) or (not first and p2 = 2)
    => leaves

rung moves1
    first
    => p1 := select(p1 = 0, 1, select(p1 = 1, select(enters, 2, 1), 0))

rung moves2
    not first
    => p2 := select(p2 = 0, 1, select(p2 = 1, select(enters, 2, 1), 0))

rung semaphore
    => free := select(enters, 0, select(leaves, 1, free))
""",
    'requirement R1 "Never both"\n    never p1 = 2 and p2 = 2',
)

#: Two processes that ask and give way in one move [BK, Example 2.25]: 10 states, never both inside.
GIVE_WAY = program(
    """
    first input bool
    p1 memory int 0..2
    p2 memory int 0..2
    turn memory int 1..2 = 1
    asks1 memory bool
    asks2 memory bool
    """,
    """
rung asks1
    first and p1 = 0
    => asks1

rung asks2
    not first and p2 = 0
    => asks2

rung moves1
    first
    => p1 := select(p1 = 0, 1, select(p1 = 1, select(p2 = 0, 2, select(turn = 1, 2, 1)), 0))

rung moves2
    not first
    => p2 := select(p2 = 0, 1, select(p2 = 1, select(p1 = 0, 2, select(turn = 2, 2, 1)), 0))

rung turn
    => turn := select(asks1, 2, select(asks2, 1, turn))
""",
    'requirement R1 "Never both"\n    never p1 = 2 and p2 = 2',
)

_BOTH_WAYS = """
    forward_pb input bool
    reverse_pb input bool
    stop_ok input bool
    forward output bool on stop off
    reverse output bool on stop off
"""
_BOTH_RUNGS = """
rung forward
    forward_pb or forward
    stop_ok
    not reverse
    => forward

rung reverse
    reverse_pb or reverse
    stop_ok
    not forward
    => reverse
"""
_NEVER_BOTH = 'requirement R1 "Never both"\n    never forward and reverse'
#: Forward and reverse, each breaking the other's path [CP]: 3 states; forward wins a tie, being solved first.
INTERLOCKED = program(_BOTH_WAYS, _BOTH_RUNGS, _NEVER_BOTH)
#: The same without [CP]: both on in the first scan.
NOT_INTERLOCKED = program(
    _BOTH_WAYS, _BOTH_RUNGS.replace("    not reverse\n", "").replace("    not forward\n", ""), _NEVER_BOTH
)

#: Two out of three [TB]: on for 4 of the 8 assignments.
VOTE = program(
    "a input bool\nb input bool\nc input bool\na_seen memory bool\nb_seen memory bool\nc_seen memory bool\n"
    "vote output bool on stop off",
    "rung vote\n    (a and b) or (b and c) or (a and c)\n    => vote\n\n"
    + "\n".join(f"rung {each}\n    {each}\n    => {each}_seen\n" for each in "abc"),
)

#: Two pumps that take turns [CP]: which leads, and whether it runs; 4 states.
ALTERNATOR = program(
    "demand input bool\nlead memory bool\nrunning output bool on stop off\nstopped memory bool",
    f"""
rung stopped
    running
    not demand
    => stopped

rung lead
    {exclusive("lead", "stopped")}
    => lead

rung running
    demand
    => running
""",
)

#: A lamp that two switches turn [TB]: on where one of them is, and only one.
STAIRWAY = program(
    "s1 input bool\ns2 input bool\nlamp output bool on stop off",
    f"rung lamp\n    {exclusive('s1', 's2')}\n    => lamp",
)

#: A seal-in whose stop dominates [CP; IEC 61131-3, RS]: after a scan, (set or before) and not stop.
SEAL_IN = program(
    "start input bool\nstop input bool\nrunning memory bool",
    "rung run\n    start or running\n    not stop\n    => running",
)
