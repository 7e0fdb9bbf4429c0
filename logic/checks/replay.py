"""A story file run again: which requirement does it violate, and when?"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from rungproof.grammar.diagnosis import Diagnosis
from rungproof.logic.checks.engine_choice import reference_engine
from rungproof.logic.checks.scenarios import scenario_runs
from rungproof.logic.checks.verdict import EXIT_FILES_WRONG, EXIT_FINE, EXIT_VIOLATED, IN_THE_MODEL, ScenarioResult
from rungproof.logic.meaning.program import Program, Story
from rungproof.logic.meaning.understand import Understanding, understand_texts

_OWN_PARTS = re.compile(r'\bparts\s+from\s+"([^"\n]+\.py)"')

_TITLE = re.compile(r'^(scenario\s+")([^"\n]*)"', re.MULTILINE)


@dataclass(frozen=True, slots=True)
class ReplayResult:
    """What the stories of one text do in the reference engine.

    `stories` and `scenarios` go together, one for each `scenario` block, in order. Where the
    text cannot be read, both are empty and `diagnoses` say why.
    """

    scenarios: tuple[ScenarioResult, ...]
    stories: tuple[Story, ...]
    diagnoses: tuple[Diagnosis, ...]

    @property
    def violated(self) -> dict[str, int]:
        """First instant (ms) of violation by requirement, of those that a story counts against."""
        return {m.requirement: m.violated_at for s in reversed(self.scenarios) for m in s.mentions if m.counts}

    @property
    def exit_code(self) -> int:
        if not self.scenarios:
            return EXIT_FILES_WRONG
        return EXIT_VIOLATED if any(scenario.violated for scenario in self.scenarios) else EXIT_FINE

    def to_json(self) -> dict[str, Any]:
        return {
            "note": IN_THE_MODEL,
            "scenarios": [scenario.to_json() for scenario in self.scenarios],
            "exit_code": self.exit_code,
        }


def replay_story(program: Program, text: str, name: str = "story.rung") -> ReplayResult:
    """Run the `scenario` blocks of a text in the program's context. `name` stands in messages.

    Nothing is raised for what the text says: `diagnoses` hold what is wrong in it.
    """
    files = {Path(source.path).name: source.text for source in program.sources}
    said = name
    while name in files:
        name = f"again_{name}"
    text = _told_apart(text, {scenario.name for scenario in program.scenarios})
    joined = text.rstrip("\n") + "\n\n" + "".join(f'use "{file}"\n' for file in files)
    understanding = understand_texts({name: joined, **files, **own_parts(program)})
    lines = text.count("\n") + 1
    own = tuple(_in(said, d) for d in understanding.diagnoses if d.span.file == name and d.span.line <= lines)
    again = understanding.program
    if again is None:
        return ReplayResult((), (), own or understanding.diagnoses)
    told = [scenario for scenario in again.scenarios if scenario.span.file == name]
    runs = list(scenario_runs(again, reference_engine(), told))
    return ReplayResult(tuple(run.result for run in runs), tuple(run.scenario.story for run in runs), own)


def _in(file: str, diagnosis: Diagnosis) -> Diagnosis:
    """The diagnosis with the name that the user's file bears, whatever it was read under beside the project's."""
    read_as = diagnosis.span.file
    related = tuple((replace(s, file=file) if s.file == read_as else s, words) for s, words in diagnosis.related)
    return replace(diagnosis, span=replace(diagnosis.span, file=file), related=related)


def _told_apart(text: str, taken: set[str]) -> str:
    """A story that has been pasted into the project may still be replayed from its file."""
    return _TITLE.sub(lambda found: f'{found[1]}{found[2]}, again"' if found[2] in taken else found[0], text)


def own_parts(program: Program | Understanding) -> dict[str, str]:
    """The user's own Python files of parts, which `use` does not bring."""
    found = {}
    for source in program.sources:
        for file in _OWN_PARTS.findall(source.text):
            path = Path(source.path).parent / file
            if path.is_file():
                found[file] = path.read_text(encoding="utf-8")
    return found
