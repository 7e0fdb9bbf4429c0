"""What the verbs give back, beside the results of `checks`: frozen, typed, JSON-ready, shown by notebooks."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from rungproof.grammar.diagnosis import Diagnosis
from rungproof.grammar.excerpt import render
from rungproof.grammar.source import split_lines
from rungproof.logic.checks.html import table
from rungproof.logic.checks.verdict import EXIT_FINE, EXIT_OPEN, EXIT_VIOLATED, IN_THE_MODEL, ScenarioResult
from rungproof.logic.checks.words import time_words
from rungproof.logic.evidence.account import Account, Moment
from rungproof.logic.evidence.chart.chart_svg import WIDTH as CHART_WIDTH
from rungproof.logic.evidence.chart.chart_svg import svg_chart
from rungproof.logic.evidence.chart.chart_text import text_chart
from rungproof.logic.evidence.chart.strip import Strip
from rungproof.logic.meaning.program import SourceText, Story


class FilesWrongError(ValueError):
    """The files cannot be run, drawn or read. `diagnoses` say why, `sources` are what was read.

    As text it is all errors with their places, as `rungproof check` prints them.
    """

    def __init__(self, diagnoses: Iterable[Diagnosis], sources: Iterable[SourceText]) -> None:
        self.diagnoses = tuple(diagnoses)
        self.sources = tuple(sources)
        lines = {source.path: split_lines(source.text) for source in self.sources}
        errors = [render(each, lines) for each in self.diagnoses if each.grade == "error"]
        super().__init__("\n\n" + "\n\n".join(errors))


@dataclass(frozen=True, slots=True)
class RunResult:
    """One run told. `scenario` holds what was expected and which requirements the run violates.

    `story` is what the environment did; `story_text` the same as a `scenario` block.
    """

    scenario: ScenarioResult
    story: Story
    story_text: str
    account: Account

    @property
    def violated(self) -> Mapping[str, int]:
        """First instant (ms) of violation by requirement, of those that this run counts against."""
        return {m.requirement: m.violated_at for m in self.scenario.mentions if m.counts}

    @property
    def exit_code(self) -> int:
        if self.scenario.violated:
            return EXIT_VIOLATED
        return EXIT_OPEN if self.scenario.word == "undecided" else EXIT_FINE

    def to_json(self) -> dict[str, Any]:
        return {
            **self.scenario.to_json(),
            "story": self.story_text,
            "first_ms": self.account.first_ms,
            "on_at_first": list(self.account.on_at_first),
            "moments": [moment_json(moment) for moment in self.account.moments],
            "at_last": dict(self.account.at_last),
            "units": dict(self.account.units),
        }

    def _repr_html_(self) -> str:
        rows = [
            (
                time_words(moment.at_ms),
                "; ".join(moment.events),
                ", ".join(f"{name} {'on' if value else 'off'}" for name, value in moment.changes),
            )
            for moment in self.account.moments
            if moment.events or moment.changes
        ]
        return table(("Time", "What happened", "What changed"), rows, note=IN_THE_MODEL)


def moment_json(moment: Moment) -> dict[str, Any]:
    return {
        "at_ms": moment.at_ms,
        "events": list(moment.events),
        "changes": dict(moment.changes),
        "numbers": dict(moment.numbers),
    }


@dataclass(frozen=True, slots=True)
class ChartResult:
    """A run as a strip chart. `strip` holds what it shows; notebooks show the picture."""

    strip: Strip

    def text(self, *, width: int = 100) -> str:
        """In characters, in at most `width` columns (40 or more)."""
        return text_chart(self.strip, width=width)

    def svg(self, *, width: float = CHART_WIDTH, alone: bool = True) -> str:
        """As SVG, `width` CSS pixels wide (400 or more); `alone`: a file of its own."""
        return svg_chart(self.strip, width=width, alone=alone)

    def _repr_svg_(self) -> str:
        return self.svg()


@dataclass(frozen=True, slots=True)
class FormattedFile:
    """One file: its text as it should be (None where its mistakes keep it from being laid out)."""

    path: str
    text: str | None
    changed: bool

    @property
    def words(self) -> str:
        if self.text is None:
            return "left as it is, because of its mistakes"
        return "laid out anew" if self.changed else "as it should be"


@dataclass(frozen=True, slots=True)
class FormatResult:
    """All files of a project. `diagnoses` say why some could not be laid out."""

    files: tuple[FormattedFile, ...]
    diagnoses: tuple[Diagnosis, ...]
    sources: tuple[SourceText, ...]

    @property
    def changed(self) -> tuple[str, ...]:
        """The files that are not laid out in the one way (or were not, before they were written)."""
        return tuple(file.path for file in self.files if file.changed)

    @property
    def refused(self) -> bool:
        return any(diagnosis.grade == "error" for diagnosis in self.diagnoses)

    def _repr_html_(self) -> str:
        rows = [
            (f.path, "refused" if f.text is None else "laid out anew" if f.changed else "as it was") for f in self.files
        ]
        return table(("File", "Layout"), rows)
