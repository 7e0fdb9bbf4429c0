"""Programs for the rows of proofs: coupled motors, a step sequence, a late lockout, a rig to try in full."""

from __future__ import annotations

from rungproof.logic.meaning.program import Program
from rungproof.logic.meaning.understand import understand_texts

#: Rungs of one motor of `coupled`.
RUNGS_OF_A_MOTOR = 6


def read(text: str) -> Program:
    program = understand_texts({"generated.rung": text}).program
    assert program is not None
    return program


def coupled(motors: int) -> Program:
    """Motors in a row, each permitted by the one before it: latch, reset, permission, rest, count of starts, run."""
    tags, rungs = [], []
    for i in range(motors):
        tags += [
            f"    start_{i} input bool",
            f"    stop_{i} input bool",
            f"    over_{i} input bool",
            f"    reset_{i} input bool",
        ]
        tags += [f"    trip_{i} memory bool retained", f"    permit_{i} memory bool", f"    rested_{i} memory bool"]
        tags += [f"    often_{i} memory bool", f"    run_{i} output bool on stop off"]
        before = f"\n    permit_{i - 1}" if i else ""
        rungs.append(
            f"""
rung trip_{i}
    over_{i}
    on-delay 500 ms as hold_{i}
    => set trip_{i}
rung reset_{i}
    rising reset_{i}
    not over_{i}
    => reset trip_{i}
rung permit_{i}
    not trip_{i}{before}
    => permit_{i}
rung rest_{i}
    not run_{i}
    on-delay 3 s as rest_{i}
    => rested_{i}
rung often_{i}
    run_{i}
    count-up 10 as starts_{i} clear by reset_{i}
    => often_{i}
rung run_{i}
    (rising start_{i} and rested_{i} and not often_{i}) or run_{i}
    stop_{i}
    permit_{i}
    => run_{i}
"""
        )
    last = motors - 1
    tags.append("    horn output bool on stop off")
    rungs.append(f"""
rung horn
    not permit_{last}
    on-delay 400 ms as late
    => horn
""")
    return read(
        'controller "Motors" every 5..20 ms\ntags\n'
        + "\n".join(tags)
        + "\n"
        + "".join(rungs)
        + f"""
requirement R1 "No motor runs while its trip stands"
    never run_{last} and trip_0
requirement R2 "After a stop only a fresh press starts"
    after not stop_{last} never run_{last} until rising start_{last}
requirement R3 "A trip that is held is shown"
    whenever over_{last} and scanning has stood for 600 ms then not permit_{last}
requirement R4 "A trip that is held is heard, one time after the other"
    whenever over_{last} and scanning has stood for 1 s then horn
"""
    )


def sequence(steps: int, every: str = "5..20 ms") -> Program:
    """A sequence of set and reset steps, each with its time, going round: never two valves at once, and from the
    second step to the last one not sooner than all the times between; of scans that vary the first may be long (20 ms)
    and the last one short (5 ms)."""
    tags = ["    go input bool", "    halt input bool"]
    rungs = []
    for i in range(steps):
        tags += [f"    step_{i} memory bool{' = on' if i == 0 else ''}", f"    valve_{i} output bool on stop off"]
        after = (i + 1) % steps
        rungs.append(
            f"rung leave_{i}\n    step_{i}\n    go\n    on-delay {100 + 10 * (i % 7)} ms as time_{i}\n"
            f"    not halt\n    => set step_{after}\n    => reset step_{i}\n"
        )
    rungs += [f"rung valve_{i}\n    step_{i}\n    => valve_{i}\n" for i in range(steps)]
    pairs = " or ".join(f"(valve_{i} and valve_{(i + steps // 2) % steps})" for i in range(steps // 2))
    head = f'controller "Sequence" every {every}\ntags\n' + "\n".join(tags) + "\n\n"
    return read(
        head
        + "\n".join(rungs)
        + f"""
requirement R1 "Never two valves"
    never {pairs}
requirement R2 "The last valve comes no sooner than the steps before it take"
    whenever rising step_1 then not valve_{steps - 1} for {least_time(steps) - 16} ms
"""
    )


def least_time(steps: int) -> int:
    """ms that the steps between the first one and the last take, all presets together."""
    return sum(100 + 10 * (i % 7) for i in range(1, steps - 1))


def lockout(starts: int) -> Program:
    """A motor locked out after so many starts, each of which takes two scans."""
    return read(
        f"""controller "Lockout" every 10 ms
tags
    start_pb input bool
    run output bool on stop off
    locked memory bool

rung run
    rising start_pb
    not locked
    => run

rung count
    run
    count-up {starts} as starts clear by never_pb
    => set locked

requirement R1 "Never locked out"
    never locked
""".replace("    run output", "    never_pb input bool\n    run output")
    )


def rig(groups: int) -> Program:
    """Groups of three inputs each with a seal, a trip and a short time: 4 groups have 12 inputs."""
    tags, rungs = [], []
    for i in range(groups):
        tags += [f"    {name}_{i} input bool" for name in ("start", "stop", "over")]
        tags += [f"    {name}_{i} memory bool" for name in ("trip", "late")] + [f"    run_{i} output bool on stop off"]
        before = f"\n    not late_{i - 1}" if i else ""
        rungs.append(
            f"rung trip_{i}\n    over_{i}\n    run_{i}\n    on-delay 3 ms as hold_{i}\n    => set trip_{i}\n"
            f"rung clear_{i}\n    falling stop_{i}\n    => reset trip_{i}\n"
            f"rung run_{i}\n    rising start_{i} or run_{i}\n    stop_{i}\n    not trip_{i}{before}\n    => run_{i}\n"
            f"rung late_{i}\n    run_{i}\n    off-delay 2 ms as runs_on_{i}\n    over_{i}\n    => late_{i}\n"
        )
    head = 'controller "Rig" every 1 ms\ntags\n' + "\n".join(tags) + "\n\n"
    never = " or ".join(f"(run_{i} and trip_{i})" for i in range(groups))
    return read(head + "\n".join(rungs) + f'\nrequirement R1 "None runs tripped"\n    never {never}\n')
