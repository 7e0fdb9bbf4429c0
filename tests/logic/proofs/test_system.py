"""A system does what the reference engine does: same tags, same verdict, at every instant."""

from __future__ import annotations

from dataclasses import replace
from random import Random
from typing import Any

import pytest
from generated_programs import controller_text
from rungproof.logic.engines.reference import ReferenceEngine
from rungproof.logic.meaning.program import Program
from rungproof.logic.meaning.understand import understand_texts
from rungproof.logic.proofs.evaluate import transition
from rungproof.logic.proofs.run import Run, story_of
from rungproof.logic.proofs.system import (
    ASSUMED,
    CUT,
    OUTAGE_TICKS,
    SCAN_TICKS,
    SEEN,
    STOP,
    System,
    UnprovableError,
    requirement_system,
)


def random_run(random: Random, system: System, program: Program, length: int) -> Run:
    """Inputs at random, held for a while, with a cut now and then."""
    given: list[dict[str, Any]] = []
    values: dict[str, Any] = {}
    for _ in range(length):
        for each in system.step.inputs.values():
            if each.name in values and random.random() < 0.6 and each.name not in (CUT, STOP):
                continue
            if each.name in (CUT, STOP):
                values[each.name] = random.random() < (0.35 if STOP in system.step.inputs else 0.12)
            elif each.name == OUTAGE_TICKS:
                values[each.name] = random.choice([1, 2, 30, 150, 700])
            elif each.type == "bool":
                values[each.name] = random.random() < 0.5
            elif each.type == "int":
                values[each.name] = random.randint(int(each.low), int(each.high))
            else:
                values[each.name] = random.choice([each.low, each.high, random.uniform(each.low, each.high)])
        given.append(dict(values))
    tags = program.controller.tags if program.controller is not None else {}
    starts: dict[str, Any] = {}
    for name in system.free_starts:
        tag = tags[name]
        starts[name] = (
            random.randint(int(tag.low), int(tag.high)) if tag.type == "int" else random.uniform(tag.low, tag.high)
        )
    return Run(starts, tuple(given))


def differences(program: Program, system: System, run: Run) -> list[str]:
    """Where the system and the reference engine differ in one run."""
    story = story_of(program, system, run)
    outcome = ReferenceEngine().run(program, story, record=True, watch=frozenset({system.requirement}))
    assert outcome.trace is not None
    rows = {at: place for place, at in enumerate(outcome.trace.times)}
    state: dict[str, Any] = {**{s.name: s.start for s in system.step.states.values()}, **run.starts}
    wrong, now, first_bad = [], 0, None
    for place, given in enumerate(run.given):
        state, shown = transition(system.step, state, given)
        ends = now + system.tick * int(given.get(SCAN_TICKS, program.controller.scan_low // system.tick))  # type: ignore[union-attr]
        now = ends + (system.tick * int(given[OUTAGE_TICKS]) if given[CUT] else 0)
        if STOP in system.step.inputs and place < len(outcome.trace.times):
            ends = now = outcome.trace.times[place]
        if first_bad is None and shown[system.bad]:
            first_bad = (ends, now)
        if outcome.assumption_broken is not None and outcome.assumption_broken[1] <= now:
            break
        for name, column in outcome.trace.tags.items():
            key = SEEN + name if SEEN + name in shown else SEEN + name.replace(".", "#")
            key = key if key in shown else SEEN + name + "#out"
            if key in shown and shown[key] != column[rows[ends]]:
                wrong.append(f"{name} at {ends}: system {shown[key]}, reference {column[rows[ends]]}")
    found = outcome.judgements[system.requirement].violated_at
    if (first_bad is None) != (found is None) or (first_bad is not None and found not in first_bad):
        wrong.append(f"violated: system {first_bad}, reference {found}")
    return wrong


def lockstep(seed: int, scope: str = "") -> tuple[int, list[str]]:
    """Every requirement of one generated program; how many, and what was wrong."""
    random = Random(seed)
    text = controller_text(random).replace('"Generated"\n    ', f'"Generated"\n{scope}    ')
    program = understand_texts({"generated.rung": text}).program
    if program is None:
        return 0, []
    wrong: list[str] = []
    for requirement in program.requirements:
        system = requirement_system(program, requirement)
        run = random_run(random, system, program, 40)
        wrong += [f"seed {seed}, {requirement.sentence}: {each}" for each in differences(program, system, run)]
    return len(program.requirements), wrong


def test_a_system_follows_the_reference_engine() -> None:
    """On generated programs, random runs with cuts give the same tags and the same first violation."""
    count, wrong = 0, []
    for seed in range(60):
        ran, found = lockstep(seed)
        count, wrong = count + ran, wrong + found
    assert wrong == []
    assert count > 120


def test_a_system_with_stops_follows_the_reference_engine() -> None:
    """The same where the controller is also stopped and resumed, in any order with cuts."""
    count, wrong = 0, []
    for seed in range(40):
        ran, found = lockstep(seed, "    even with any one fault\n")
        count, wrong = count + ran, wrong + found
    assert wrong == []
    assert count > 80


ASSUMING = """
controller "Assuming" every 10 ms
tags
    a input bool
    b output bool on stop off

rung one
    a
    => b

requirement R1 "never b"
    never b

assume "a stays off"
    not a
"""


def test_an_assumption_cuts_the_run() -> None:
    """What violates only after an assumption broke is no violation."""
    program = understand_texts({"a.rung": ASSUMING}).program
    assert program is not None
    system = requirement_system(program, program.requirements[0])
    state, shown = transition(system.step, dict(system.starts()), {"a": True, CUT: False, OUTAGE_TICKS: 1})
    assert shown[system.bad] is False
    assert state[ASSUMED] is False


def test_what_has_no_system_says_why() -> None:
    """A requirement on outputs that are free is declined, in words."""
    program = understand_texts({"a.rung": ASSUMING}).program
    assert program is not None
    with pytest.raises(UnprovableError, match="program plays no part"):
        requirement_system(program, replace(program.requirements[0], outputs_free=True))


NAMES = """
controller "Named as the prover's own states" every 10 ms
tags
    first input bool
    running memory bool
    stopped memory bool = on
    cut output bool on stop hold
    assumed output bool on stop on

rung one
    rising first or running
    => running
    => not stopped
    => cut
    => assumed

requirement R1 "named"
    always running or not cut or first or assumed or stopped
"""


@pytest.mark.parametrize("scope", ["", "    even with any one fault\n"])
def test_tags_may_bear_any_name(scope: str) -> None:
    """No tag's name is one of the system's own."""
    program = understand_texts({"a.rung": NAMES.replace('"named"\n', '"named"\n' + scope)}).program
    assert program is not None
    system = requirement_system(program, program.requirements[0])
    run = random_run(Random(1), system, program, 60)
    assert differences(program, system, run) == []
