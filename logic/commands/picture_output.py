"""Where `--chart`, `--chart-svg` and `--page` send a run: a strip chart on screen or as SVG, a page to step through."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from rungproof.logic.checks.words import many
from rungproof.logic.commands.errors import CommandError
from rungproof.logic.commands.output import Pending
from rungproof.logic.commands.screen import Screen
from rungproof.logic.evidence.chart.chart_svg import svg_chart
from rungproof.logic.evidence.chart.chart_text import text_chart
from rungproof.logic.evidence.chart.gather import strip_of
from rungproof.logic.evidence.chart.strip import Strip
from rungproof.logic.evidence.replay.frames import Recording, recording_of
from rungproof.logic.evidence.replay.page import replay_page
from rungproof.logic.meaning.program import Expectation, Program, Story
from rungproof.logic.versions import version

FILES = ("chart_svg", "page")


@dataclass(slots=True)
class PictureOutput:
    """The pictures asked for; files by the name of their option."""

    chart: bool
    files: dict[str, Pending] = field(default_factory=dict)

    @classmethod
    def of(cls, arguments: Namespace) -> PictureOutput:
        """Raises `CommandError` at once where a file cannot be written."""
        output = cls(arguments.chart)
        try:
            for name in FILES:
                if getattr(arguments, name) is not None:
                    output.files[name] = Pending.at(getattr(arguments, name))
        except CommandError:
            output.drop()
            raise
        return output

    @property
    def wanted(self) -> bool:
        return self.chart or bool(self.files)

    def write(
        self,
        arguments: Namespace,
        screen: Screen,
        program: Program,
        story: Story,
        *,
        title: str,
        expectations: Sequence[Expectation] = (),
    ) -> None:
        """Run the story once more, and show and write what was asked for."""
        if not self.wanted:
            return
        only = frozenset(name.strip() for name in (arguments.only or "").split(",") if name.strip())
        if "page" in self.files:
            recording = _recording(program, story, title, only, expectations)
            strip = recording.strip
            said = f"Run of {Path(arguments.path).resolve().name} by rungproof {version()}; seed {story.seed}."
            frames = f"a page of {many(len(recording.times), 'frame')} to step through"
            self._write(screen, "page", replay_page(recording, said), frames)
        else:
            strip = strip_of(program, story, title, only=only, expectations=expectations)
        if self.chart:
            screen.line(text_chart(strip, width=screen.width).rstrip("\n"))
            screen.line()
        if "chart_svg" in self.files:
            self._write(screen, "chart_svg", svg_chart(strip, alone=True), _size(strip))

    def _write(self, screen: Screen, name: str, text: str, words: str) -> None:
        self.files[name].write(text)
        screen.labelled("written", f"{self.files[name].target}: {words}", indent=0)

    def drop(self) -> None:
        for pending in self.files.values():
            pending.drop()

    def __enter__(self) -> PictureOutput:
        return self

    def __exit__(self, *_: object) -> None:
        self.drop()


def _recording(
    program: Program, story: Story, title: str, only: frozenset[str], expectations: Sequence[Expectation]
) -> Recording:
    try:
        return recording_of(program, story, title, only=only, expectations=expectations)
    except ValueError as error:
        raise CommandError(f"{str(error)[:1].upper()}{str(error)[1:]}.", "Say a shorter time with --for.") from error


def _size(strip: Strip) -> str:
    return f"a chart of {len(strip.bands)} bands"
