"""Coverage of small controllers whose answers were worked out by hand."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import product

import pytest
from rungproof.grammar.catalogue import CATALOGUE
from rungproof.grammar.diagnosis import Reporter
from rungproof.logic.coverage.decisions import decisions_of
from rungproof.logic.coverage.instrument import instrument
from rungproof.logic.coverage.measure import measure
from rungproof.logic.coverage.result import ConditionCoverage, CoverageResult
from rungproof.logic.coverage.text import rungs_text
from rungproof.logic.engines.compiled import CompiledEngine
from rungproof.logic.engines.reference import ReferenceEngine
from rungproof.logic.meaning.program import Event, Program, Story
from rungproof.logic.meaning.project import load_texts
from rungproof.logic.meaning.understand import understand_project, understand_texts

RIG = """\
controller "Rig" every 10 ms

tags
    start_pb  input   bool
    stop_ok   input   bool
    hours     input   int 0..1000
    mode      input   bool
    run       output  bool  on stop off
    lamp      output  bool  on stop off
    idle      memory  bool
    never_on  memory  bool

rung run
    rising start_pb or run
    stop_ok
    => run

rung idle
    not run
    => idle

rung never_on "A contact of run and one of its opposite: the second alone never decides"
    run
    idle
    => never_on

rung lamp
    run
    on-delay 50 ms as steady
    not mode or hours = 997
    => lamp when not idle

requirement R1 "Power that comes back starts nothing"
    after power_up never run until rising start_pb

requirement R2 "The lamp follows"
    whenever run then lamp or not run within 200 ms

scenario "A start"
    at 0 s     set stop_ok on
    at 10 ms   set start_pb on
    at 40 ms   set start_pb off
    expect     run for 20 ms
"""


def program_of(text: str) -> Program:
    program = understand_texts({"rig.rung": text}).program
    assert program is not None
    return program


@cache
def result() -> CoverageResult:
    project = load_texts({"rig.rung": RIG}, Reporter(CATALOGUE))
    program = understand_project(project).program
    assert program is not None
    return measure(project, program, time_s=2.0, prove_s=60.0, unhurried=True)


def condition(rung: str, part: str, name: str) -> ConditionCoverage:
    decision = next(each for each in result().decisions if (each.rung, each.part) == (rung, part))
    return next(each for each in decision.conditions if each.name == name)


def test_decisions_are_paths_between_stages_and_whens() -> None:
    """Contacts as the file writes them; the output of a stage begins the decision below it."""
    found = {(d.rung, d.part): d.names for d in decisions_of(program_of(RIG))}
    assert found == {
        ("run", "path"): ("rising start_pb", "run", "stop_ok"),
        ("idle", "path"): ("run",),
        ("never_on", "path"): ("run", "idle"),
        ("lamp", "path"): ("run",),
        ("lamp", "path below `steady`"): ("steady", "mode", "hours = 997"),
        ("lamp", "when of `lamp`"): ("idle",),
    }


def test_what_scenarios_show_is_told_apart_from_what_the_search_shows() -> None:
    """The start shows the edge and the seal-in's other side; nobody stops it in the scenario."""
    assert condition("run", "path", "rising start_pb").word == "scenarios"
    assert condition("run", "path", "rising start_pb").off == (False, False, True)
    assert condition("run", "path", "stop_ok").word == "campaign"


def test_a_row_that_cannot_come_is_proved_away() -> None:
    """`run` and `idle` are never on together, so neither of them decides alone."""
    assert [c.word for d in result().of_rung("never_on") for c in d.conditions] == ["unreachable", "unreachable"]


def test_what_is_missing_comes_with_inputs_that_show_it() -> None:
    """Without a search and scenarios all is missing that can come; each story is run, and its row is reached."""
    project = load_texts({"rig.rung": RIG}, Reporter(CATALOGUE))
    bare = replace(program_of(RIG), scenarios=())
    found = measure(project, bare, time_s=0.01, prove_s=60.0, unhurried=True)
    told = [c for d in found.decisions for c in d.conditions if any(c.stories)]
    assert "hours = 997" in {c.name for c in told}
    instrumented = instrument(bare)
    for each in told:
        for row, story in zip(each.lacking, each.stories, strict=True):
            assert story is not None
            again = program_of(RIG + "\n" + story)
            final = CompiledEngine().run(instrumented.program, again.scenarios[-1].story, watch=frozenset()).final
            reached = {
                what[1] for name, what in instrumented.latches.items() if isinstance(what, tuple) and final[name]
            }
            assert row in reached


def test_a_stage_is_seen_below_at_and_past_its_preset() -> None:
    """The search holds the start long enough; the scenario does not even reach the preset."""
    stage = result().stages[0]
    assert (stage.stage, stage.below) == ("steady", "scenarios")
    assert {stage.at, stage.past} <= {"campaign", "scenarios"}


@pytest.mark.parametrize(
    ("held_ms", "reached"), [(50, {"below"}), (60, {"below", "at"}), (70, {"below", "at", "past"})]
)
def test_the_marks_of_a_timer_come_to_the_scan(held_ms: int, reached: set[str]) -> None:
    """Powered in scans 0, 10 .. it has run 50 ms in the sixth: `at` is that scan, `past` the one after."""
    text = RIG.replace("    run\n    on-delay", "    stop_ok\n    on-delay")
    instrumented = instrument(program_of(text))
    story = Story(200, (Event(0, "stop_ok", True), Event(held_ms, "stop_ok", False)))
    final = CompiledEngine().run(instrumented.program, story, watch=frozenset()).final
    assert {where for where in ("below", "at", "past") if final[f"steady?{where}"]} == reached


def test_marks_of_requirements_are_told() -> None:
    """Trigger and release of what waits; a `never` waits for nothing."""
    marks = {each.requirement: dict(each.marks) for each in result().requirements}
    assert marks["R1"] == {"trigger": "scenarios", "release": "scenarios"}
    assert set(marks["R2"]) == {"trigger", "deadline approached", "release"}


def test_latches_change_nothing_of_the_program() -> None:
    """Every tag of the original has the same value in every instant, in all courses of two inputs and four scans."""
    original = program_of(RIG)
    changed = instrument(original).program
    for course in product(product((False, True), repeat=2), repeat=4):
        events = [
            Event(10 * scan, name, value)
            for scan, values in enumerate(course)
            for name, value in zip(("start_pb", "stop_ok"), values, strict=True)
        ]
        story = Story(150, tuple(events))
        one, other = (CompiledEngine().run(p, story, record=True) for p in (original, changed))
        assert one.judgements == other.judgements and one.trace is not None and other.trace is not None
        assert all(other.trace.tags[name] == column for name, column in one.trace.tags.items())


def test_latches_say_the_same_in_the_reference_engine() -> None:
    """They are tags like any other."""
    instrumented = instrument(program_of(RIG))
    story = Story(200, (Event(0, "stop_ok", True), Event(10, "start_pb", True), Event(120, "mode", True)))
    finals = [
        e.run(instrumented.program, story, watch=frozenset()).final for e in (CompiledEngine(), ReferenceEngine())
    ]
    assert finals[0] == finals[1]


def test_it_is_shown_beside_the_drawn_rung() -> None:
    """Below the drawing: conditions with their rows, and the stage."""
    project = load_texts({"rig.rung": RIG}, Reporter(CATALOGUE))
    text = "\n".join(rungs_text(result(), project.blocks, width=90))
    assert "+--+---|P|----+----| |---" in text
    assert "rising start_pb  001/101  shown by scenarios" in text
    assert "stage steady: below its preset by scenarios" in text
    assert "proved that no inputs show it: every pair of it has a row that cannot come" in text
