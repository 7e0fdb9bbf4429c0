"""Many programs through one story at once: each outcome is what the reference engine gives for that program alone."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from rungproof.grammar.catalogue import CATALOGUE
from rungproof.grammar.diagnosis import Reporter
from rungproof.logic.engines.reference import ReferenceEngine
from rungproof.logic.engines.reference_together import Replay, run_together
from rungproof.logic.meaning.program import Program
from rungproof.logic.meaning.project import Project, load_path
from rungproof.logic.meaning.understand import understand_project
from rungproof.logic.mutants.generate import mutants_of

PRESS = Path(__file__).parents[3] / "examples" / "press_guard"


def mutated() -> tuple[Program, list[Program]]:
    """An example with a plant, and every third mutant of it, those of its circuit too."""
    project = load_path(PRESS, Reporter(CATALOGUE))
    original = understand_project(project, PRESS).program
    assert original is not None
    found = []
    for mutant in mutants_of(project.blocks, 10)[::3]:
        program = understand_project(Project(project.sources, list(mutant.blocks)), PRESS).program
        if program is not None:
            found.append(program)
    return original, found


def test_each_outcome_is_that_of_the_program_alone() -> None:
    """Violations, triggers, expectations, last values: all of it, whoever shares the plant with whom."""
    original, programs = mutated()
    watch = frozenset(requirement.name for requirement in original.requirements)
    for place, scenario in list(enumerate(original.scenarios))[1::7]:
        story = replace(scenario.story, duration_ms=1500)
        together = run_together([Replay(each, watch, place, 10**6) for each in programs], story)
        for program, outcome in zip(programs, together, strict=True):
            alone = ReferenceEngine().run(program, story, watch=watch, scenario=place, stop_at_violation=True)
            assert outcome == alone


def test_a_run_ends_where_it_was_asked_to() -> None:
    """`until_ms` ends one and leaves the others going."""
    original, _ = mutated()
    story = replace(original.scenarios[0].story, duration_ms=1000)
    short, long = run_together(
        [Replay(original, frozenset(), None, 300), Replay(original, frozenset(), None, 9999)], story
    )
    assert (short.ended_at, long.ended_at) == (300, 1000)
