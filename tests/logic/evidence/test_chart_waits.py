"""What a violated requirement was waiting for, as a chart says it: worked by hand, and as the monitors have it."""

from __future__ import annotations

from random import Random

import pytest
from chart_sample import TAGS, program_of, requirement, story
from generated_programs import controller_text, story_for
from rungproof.logic.checks.engine_choice import reference_engine
from rungproof.logic.evidence.chart.gather import strip_of
from rungproof.logic.meaning.program import Story

#: Form, what happens, the waits, worked by hand. A change at t is read by the scan that begins at t and seen at t + 10.
WAITS: list[tuple[str, Story, list[tuple[int, int, str, str]]]] = [
    (
        "whenever rising a then b within 30 ms",
        story(100, (10, "a", True)),
        [(20, 60, "b within 30 ms of rising a", "violated")],
    ),
    (
        "whenever rising a then b within 30 ms or_never",
        story(100, (10, "a", True), (20, "b", True), (50, "a", False), (60, "b", False), (70, "a", True)),
        [(20, 30, "b within 30 ms of rising a", "met"), (80, 100, "b within 30 ms of rising a", "open")],
    ),
    (
        "whenever rising a then x for 40 ms",
        story(100, (10, "a", True), (30, "a", False)),
        [(20, 40, "x for 40 ms from rising a", "violated")],
    ),
    (
        "whenever a has stood for 30 ms then b",
        story(100, (10, "a", True)),
        [(20, 50, "a stands; after 30 ms b is due", "violated")],
    ),
    (
        "after rising a never b until c",
        story(100, (10, "a", True), (40, "b", True)),
        [(20, 50, "rising a came: no b until c", "violated")],
    ),
    (
        "at most 1 rising a in any 50 ms",
        story(100, (10, "a", True), (20, "a", False), (40, "a", True)),
        [(20, 50, "rising a for the 2nd time in 50 ms; 1 allowed", "violated")],
    ),
    ("a before b", story(60, (20, "b", True)), [(10, 30, "a must come before b", "violated")]),
    ("whenever a then b", story(60, (20, "a", True)), [(30, 30, "b as soon as a", "violated")]),
    ("never a", story(60, (20, "a", True)), []),
]


@pytest.mark.parametrize(("form", "told", "expected"), WAITS, ids=[form for form, _, _ in WAITS])
def test_a_chart_says_what_a_violated_requirement_was_waiting_for(
    form: str, told: Story, expected: list[tuple[int, int, str, str]]
) -> None:
    """Since when, for what in the words of the file, and how it ended; worked by hand for every form."""
    if form.endswith("or_never"):
        form = form.removesuffix(" or_never")
        program = program_of(f'{TAGS}\nrequirement R1 "As said"\n    {form}\n')
        from rungproof.logic.engines.reference import ReferenceEngine
        from rungproof.logic.evidence.chart.waiting import Waiting

        waiting = Waiting.of(program, ["R1"])
        ReferenceEngine(waiting).run(program, told)
        waits = waiting.waits()
    else:
        waits = strip_of(requirement(form), told, "told").waits
    assert [(w.start_ms, w.end_ms, w.words, w.ended) for w in waits] == expected


@pytest.mark.parametrize("seed", range(12))
def test_waits_end_where_the_monitors_say(seed: int) -> None:
    """On generated programs and stories every violated requirement that waits ends its wait at its violation."""
    random = Random(seed)
    program = program_of(controller_text(random))
    told = story_for(random, program, 600)
    strip = strip_of(program, told, "generated")
    judged = reference_engine().run(program, told).judgements
    assert {v.name: v.at_ms for v in strip.violations} == {
        name: judgement.violated_at for name, judgement in judged.items() if judgement.violated_at is not None
    }
    ends = {wait.name: wait.end_ms for wait in strip.waits if wait.ended == "violated"}
    for name, end in ends.items():
        assert end == judged[name].violated_at
    forms = {r.name: type(r.form).__name__ for r in program.requirements}
    waiting = {v.name for v in strip.violations if v.counts and forms[v.name] not in ("Never", "Always")}
    assert set(ends) == waiting
