"""What is suggested against a survivor, put into the file as it stands, objects to it: tried on the examples' rungs."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest
from rungproof.grammar.catalogue import CATALOGUE
from rungproof.grammar.diagnosis import Reporter
from rungproof.logic.engines.reference import ReferenceEngine
from rungproof.logic.meaning.program import Program
from rungproof.logic.meaning.project import Project, load_texts
from rungproof.logic.meaning.understand import understand_project
from rungproof.logic.mutants.generate import mutants_of
from rungproof.logic.mutants.hunt import hunt
from rungproof.logic.mutants.result import MutantResult

EXAMPLES = Path(__file__).parents[3] / "examples"

#: Rungs of which nobody asks anything once the requirements are gone.
RUNGS = [
    ("dosing", "empty"),
    ("press_guard", "lamp"),
    ("ventilation_fan", "failure_shown"),
]


def rungs_of(name: str) -> str:
    """An example's controller, without plant and requirements."""
    return (EXAMPLES / name / "controller.rung").read_text(encoding="utf-8").replace('use "plant.rung"\n', "")


@cache
def survivors(name: str, rung: str) -> tuple[MutantResult, ...]:
    project = load_texts({"rig.rung": rungs_of(name)}, Reporter(CATALOGUE))
    result = hunt(project, understand_project(project), None, rungs=[rung], suite_s=0.2, search_s=0.05)
    return result.of("survivor")


def told(text: str, change: tuple[str, int]) -> tuple[Program, Program]:
    """The program of a file, and that of the file with one mistake in it. Neither has a finding of grade error."""
    project = load_texts({"rig.rung": text}, Reporter(CATALOGUE))
    [mutant] = [m for m in mutants_of(project.blocks) if (m.change, m.span.line) == change]
    found = []
    for blocks in (project.blocks, mutant.blocks):
        understood = understand_project(Project(list(project.sources), list(blocks)))
        assert understood.program is not None, understood.diagnoses
        found.append(understood.program)
    assert not [d for d in understand_project(project).diagnoses if d.grade == "error"]
    return found[0], found[1]


@pytest.mark.slow
@pytest.mark.parametrize(("name", "rung"), RUNGS)
def test_a_suggestion_put_into_the_file_objects_to_the_survivor_and_not_to_the_original(name: str, rung: str) -> None:
    """It is text of the language; in the survivor's own story the reference engine sees it kept and broken."""
    suggested = [each for each in survivors(name, rung) if each.suggestion is not None]
    assert suggested
    for each in suggested:
        assert each.suggestion is not None and each.story is not None
        text = f"{rungs_of(name)}\n{each.suggestion.text}\n{each.story}"
        original, mutant = told(text, (each.change, each.span.line))
        assert objects(original, each.suggestion.kind) is False, (each.change, each.suggestion.text)
        assert objects(mutant, each.suggestion.kind) is True, (each.change, each.suggestion.text)


def objects(program: Program, kind: str) -> bool:
    """Whether the suggested requirement, or scenario, which stands before the survivor's story, is not kept."""
    if kind == "scenario":
        outcome = ReferenceEngine().run(program, program.scenarios[0].story, watch=frozenset(), scenario=0)
        return False in outcome.expectations
    name = program.requirements[-1].name
    outcome = ReferenceEngine().run(program, program.scenarios[-1].story, watch=frozenset({name}))
    return outcome.judgements[name].violated_at is not None
