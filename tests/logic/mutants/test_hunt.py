"""Small programs whose mutants were judged by hand."""

from __future__ import annotations

from functools import cache
from itertools import product
from pathlib import Path

import pytest
from rungproof.grammar.catalogue import CATALOGUE
from rungproof.grammar.diagnosis import Reporter
from rungproof.grammar.tree import Rung
from rungproof.logic.engines.compiled import CompiledEngine
from rungproof.logic.engines.reference import ReferenceEngine
from rungproof.logic.meaning.program import Event, Program, Story
from rungproof.logic.meaning.project import Project, load_path, load_texts
from rungproof.logic.meaning.understand import understand_project, understand_texts
from rungproof.logic.mutants.generate import mutants_of
from rungproof.logic.mutants.hunt import hunt
from rungproof.logic.mutants.result import MutantResult, MutantsResult

FAN = """\
controller "Fan" every 10 ms

tags
    start_pb   input    bool
    stop_ok    input    bool
    fan        output   bool   on stop off
    lamp       output   bool   on stop off

rung fan
    rising start_pb or fan
    stop_ok
    => fan
    => lamp

requirement R1 "The stop ends it"
    never fan and not stop_ok

requirement R2 "Power that comes back starts nothing"
    after power_up never fan until rising start_pb

scenario "A start"
    at 0 s     set stop_ok on
    at 10 ms   set start_pb on
    at 30 ms   set start_pb off
    expect     fan for 50 ms
"""

#: What somebody who knows the rung says of each change (reason beside it).
BY_HAND = {
    "make for break: `not fan` for `fan`": ("killed", "R2"),  # runs at once
    "make for break: `not stop_ok` for `stop_ok`": ("killed", 'scenario "A start"'),  # never runs with the stop let go
    "level for edge: `start_pb` for `rising start_pb`": ("killed", "R2"),  # a jammed button starts
    "line lost: `stop_ok`": ("killed", "R1"),
    "branch lost: `rising start_pb`": ("killed", 'scenario "A start"'),  # never runs
    "branch lost: `fan`": ("killed", 'scenario "A start"'),  # does not seal in
    "branch widened: `fan` goes round `stop_ok`": ("killed", "R1"),
    "set for coil: `=> set fan` for `=> fan`": ("killed", "R1"),
    "output lost: `=> lamp`": ("survivor", None),  # nobody asks for the lamp
    "wrong tag: `lamp` for `fan`": ("refused", "two-coils"),  # both coils on one tag
}


def hunted(text: str) -> MutantsResult:
    project = load_texts({"rig.rung": text}, Reporter(CATALOGUE))
    return hunt(project, understand_project(project), None, suite_s=0.3, search_s=0.1)


@cache
def fan() -> MutantsResult:
    return hunted(FAN)


@pytest.mark.parametrize("change", BY_HAND)
def test_the_fate_of_a_mutant_is_what_a_colleague_says(change: str) -> None:
    """Killed by the one that objects first, a survivor where nobody does, refused by its diagnosis."""
    found = [each for each in fan().mutants if each.change == change]
    assert (found[-1].fate, found[-1].by) == BY_HAND[change]


def test_a_contact_of_a_tag_that_is_always_the_same_is_equal() -> None:
    """`lamp` and `fan` are driven by one rung: which of them seals in makes no difference, and that is proved."""
    sealed = next(e for e in fan().mutants if e.change == "wrong tag: `lamp` for `fan`" and e.span.line == 10)
    assert (sealed.fate, sealed.equivalent) == ("equal", True)


def test_every_killing_story_replays_on_the_mutant_in_the_reference_engine() -> None:
    """At the instant told, the requirement told is violated."""
    project = load_texts({"rig.rung": FAN}, Reporter(CATALOGUE))
    programs = {m.number: m for m in mutants_of(project.blocks, 10)}
    for each in fan().of("killed"):
        assert each.by is not None and each.story is not None
        if each.by.startswith("scenario"):
            continue
        program = understood(programs[each.number].blocks)
        story = understand_texts({"rig.rung": FAN + "\n" + each.story}).program
        assert story is not None
        outcome = ReferenceEngine().run(program, story.scenarios[-1].story, watch=frozenset({each.by}))
        assert outcome.judgements[each.by].violated_at == each.at_ms


def understood(blocks: object) -> Program:
    program = understand_project(Project([], list(blocks))).program  # type: ignore[call-overload]
    assert isinstance(program, Program)
    return program


def test_the_suggestion_for_a_survivor_is_kept_by_the_original_and_not_by_the_mutant() -> None:
    """It parses, it is checked, and with it beside the file the survivor is killed."""
    survivor = survivor_of(fan(), "output lost: `=> lamp`")
    assert survivor.suggestion is not None and survivor.differs is not None and survivor.equivalent is False
    again = hunted(FAN + "\n" + survivor.suggestion.text)
    assert not again.failing
    assert next(e for e in again.mutants if e.change == survivor.change).fate == "killed"


def test_equal_mutants_show_the_same_in_every_run_of_five_scans() -> None:
    """All courses of both inputs are tried, and a power cut after the third scan."""
    project = load_texts({"rig.rung": FAN}, Reporter(CATALOGUE))
    original, engine = understood(project.blocks), CompiledEngine()
    blocks = {m.number: m.blocks for m in mutants_of(project.blocks, 10)}
    equal = [understood(blocks[each.number]) for each in fan().of("equal")]
    assert equal
    for course in product(product((False, True), repeat=2), repeat=5):
        events = [
            Event(10 * scan, name, value)
            for scan, values in enumerate(course)
            for name, value in zip(("start_pb", "stop_ok"), values, strict=True)
        ]
        cut = [Event(30, "controller!cut", True), Event(35, "controller!cut", False)] if course[0][0] else []
        story = Story(60, tuple(sorted([*events, *cut], key=lambda each: each.at_ms)))
        shown = [outputs(engine, program, story) for program in (original, *equal)]
        assert all(each == shown[0] for each in shown)


def outputs(engine: CompiledEngine, program: Program, story: Story) -> list[object]:
    trace = engine.run(program, story, watch=frozenset(), record=True).trace
    assert trace is not None
    return [trace.times, trace.tags["fan"], trace.tags["lamp"]]


def survivor_of(result: MutantsResult, change: str) -> MutantResult:
    return next(each for each in result.of("survivor") if each.change == change)


def test_a_requirement_that_the_original_fails_kills_nothing() -> None:
    """It is named, and what it alone would kill is a survivor."""
    wrong = FAN.replace("never fan and not stop_ok", "never fan")
    result = hunted(wrong)
    assert "R1" in result.failing
    assert "R1" not in result.by()


def test_whose_turn_comes_after_the_time_is_undecided() -> None:
    """No survivor and no kill: it is said that there was no time, and the exit code says that something is open."""
    project = load_texts({"rig.rung": FAN}, Reporter(CATALOGUE))
    result = hunt(project, understand_project(project), None, suite_s=0.3, search_s=0.1, alive_s=0)
    undecided = result.of("undecided")
    assert "output lost: `=> lamp`" in {each.change for each in undecided}
    assert {each.reason for each in undecided} == {"the time was out before it was its turn"}
    assert not result.of("survivor") and all(each.equivalent is None for each in undecided)
    assert result.exit_code == 3
    assert result.score == len(result.of("killed")) / (len(result.of("killed")) + len(undecided))


def test_the_same_seed_gives_the_same_fates() -> None:
    """Nothing hangs on the clock in a program as small as this."""
    assert [(e.number, e.fate, e.by, e.story) for e in hunted(FAN).mutants] == [
        (e.number, e.fate, e.by, e.story) for e in fan().mutants
    ]


def test_a_user_s_own_part_is_no_obstacle() -> None:
    """It cannot be told to another process, so all is done in this one."""
    shed = Path(__file__).parents[3] / "examples" / "own_part"
    project = load_path(shed, Reporter(CATALOGUE))
    rung = next(block.name for block in project.blocks if isinstance(block, Rung))
    result = hunt(project, understand_project(project, shed), shed, rungs=[rung], suite_s=0.2, search_s=0.05)
    assert result.of("killed")


def test_an_unknown_rung_is_named_with_those_there_are() -> None:
    """So that a slip of the pen does not look like a rung without mutants."""
    project = load_texts({"rig.rung": FAN}, Reporter(CATALOGUE))
    with pytest.raises(KeyError, match="there are: fan"):
        hunt(project, understand_project(project), None, rungs=["fen"])
