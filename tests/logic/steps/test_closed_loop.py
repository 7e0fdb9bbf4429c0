"""The closed loop as one Step says of every requirement what the reference engine says."""

from __future__ import annotations

from collections.abc import Iterator
from random import Random
from typing import Any

import agreement
import generated_plants as plants
import generated_programs as programs
import pytest
from rungproof.logic.engines.chance import stream_of, uniform
from rungproof.logic.engines.reference import ReferenceEngine
from rungproof.logic.meaning.knobs import OVERRUN
from rungproof.logic.meaning.program import Program, Story
from rungproof.logic.steps.closed_loop import SCAN_TICKS, closed_loop
from rungproof.logic.steps.interpret import advance, start
from rungproof.logic.steps.lowered import lower_program
from rungproof.logic.steps.step import Step
from rungproof.logic.steps.text import parse_step, print_step


def _story(random: Random, program: Program, duration_ms: int) -> Story:
    """A story without free outputs: the loop leaves the terminals to the controller."""
    story = programs.story_for(random, program, duration_ms)
    events = tuple(e for e in story.events if program.knobs[e.key].kind != "free output")
    return Story(duration_ms, events, story.parameters, story.scans, story.seed, story.lane)


def _walk(step: Step, program: Program, story: Story) -> Iterator[tuple[int, dict[str, Any]]]:
    """The outputs at every boundary of a story, walked with the plain interpreter."""
    assert program.controller is not None
    tick = program.plant.tick if program.plant is not None else 1
    values: dict[str, Any] = {key: knob.start for key, knob in program.knobs.items()} | dict(story.parameters)
    state, t, scans = start(step), 0, 0
    lengths = story.scans or (program.controller.scan_low,)
    events = list(story.events)
    while True:
        while events and events[0].at_ms <= t:
            event = events.pop(0)
            values[event.key] = event.value
        inputs = {name: _cast(each.type, values.get(name, False)) for name, each in step.inputs.items()}
        inputs |= {
            n: uniform(story.seed, story.lane, stream_of(n), t // _every(program, n)) for n in inputs if "~" in n
        }
        length = lengths[min(scans, len(lengths) - 1)]
        pause = min([e.at_ms for e in events] + [max(story.duration_ms, t + 1)]) - t
        runs = not any(values[f"controller!{each}"] for each in ("cut", "stopped", "hung"))
        inputs[SCAN_TICKS] = (length if runs or program.plant is not None else pause) // tick
        before = state
        state, outputs = advance(step, state, inputs)
        yield t, outputs
        boundary = program.plant is None or before["ms to boundary"] == 0
        scans += bool(boundary and state["mode running"] and not values["controller!hung"])
        if t > 0 and t >= story.duration_ms:
            return
        longer = OVERRUN if runs and values["controller!overrun"] else 1
        t += tick if program.plant is not None else longer * inputs[SCAN_TICKS]


def _every(program: Program, key: str) -> int:
    assert program.plant is not None
    return max(program.plant.assembly.environment[key].every_ms, program.plant.tick)


def _cast(type_: str, value: Any) -> Any:
    return {"bool": bool, "int": int, "real": float}[type_](value)


CASES = [("controller", seed) for seed in range(60)] + [("plant", seed) for seed in range(15)]


@pytest.mark.parametrize(("kind", "seed"), CASES)
def test_the_loop_judges_as_the_reference_does(kind: str, seed: int) -> None:
    """First violations, trigger counts and cuts by an assumption come out the same."""
    random = Random(seed)
    program = agreement.program_of((programs.controller_text if kind == "controller" else plants.plant_text)(random))
    if program is None:
        return
    story = _story(random, program, 500)
    expected = ReferenceEngine().run(program, story)
    violated: dict[str, int | None] = dict.fromkeys(expected.judgements)
    triggers = dict.fromkeys(expected.judgements, 0)
    for t, outputs in _walk(closed_loop(lower_program(program)), program, story):
        if any(not value for name, value in outputs.items() if name.endswith("/holds")):
            assert expected.assumption_broken is not None and expected.assumption_broken[1] == t
            break
        for name, first in violated.items():
            triggers[name] += outputs[f"{name}/triggered"]
            if outputs[f"{name}/violated"] and first is None:
                violated[name] = t
    assert violated == {name: each.violated_at for name, each in expected.judgements.items()}
    assert triggers == {name: each.triggers for name, each in expected.judgements.items()}


@pytest.mark.parametrize("seed", range(20))
def test_a_loop_comes_back_from_its_text(seed: int) -> None:
    """Printing a whole program's loop and reading it back gives the same Step."""
    program = agreement.program_of(programs.controller_text(Random(seed)))
    if program is None:
        return
    step = closed_loop(lower_program(program))
    again = parse_step(print_step(step))
    assert (again.states, again.inputs, again.next, again.outputs) == (
        step.states,
        step.inputs,
        step.next,
        step.outputs,
    )


@pytest.mark.parametrize("seed", range(10))
def test_a_slice_says_the_same_of_its_output(seed: int) -> None:
    """The cone of one requirement gives that requirement's bits as the whole loop does."""
    random = Random(seed)
    program = agreement.program_of(programs.controller_text(random))
    if program is None:
        return
    story = _story(random, program, 400)
    whole = closed_loop(lower_program(program))
    output = next(name for name in whole.outputs if name.endswith("/violated"))
    cone = whole.slice([output])
    assert set(cone.states) <= set(whole.states)
    state, small = start(whole), start(cone)
    for t in range(0, 400, 20):
        values = {e.key: e.value for e in story.events if e.at_ms <= t}
        inputs = {n: _cast(i.type, values.get(n, 1 if n == SCAN_TICKS else i.low)) for n, i in whole.inputs.items()}
        state, all_outputs = advance(whole, state, inputs)
        small, few = advance(cone, small, {name: inputs[name] for name in cone.inputs})
        assert few[output] == all_outputs[output]
