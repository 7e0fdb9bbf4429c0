"""Where `--chart`, `--chart-svg` and `--page` send a run: a strip chart on screen or as SVG, a page to step through."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Sequence
from pathlib import Path

from rungproof.logic.checks.words import many
from rungproof.logic.commands.errors import CommandError
from rungproof.logic.commands.output import PendingFiles, named
from rungproof.logic.commands.screen import Screen
from rungproof.logic.evidence.chart.chart_svg import svg_chart
from rungproof.logic.evidence.chart.chart_text import text_chart
from rungproof.logic.evidence.chart.gather import strip_of
from rungproof.logic.evidence.chart.strip import Strip
from rungproof.logic.evidence.replay.frames import Recording, recording_of
from rungproof.logic.evidence.replay.page import replay_page
from rungproof.logic.meaning.program import Expectation, Program, Story
from rungproof.logic.versions import version


class PictureOutput(PendingFiles):
    """The pictures asked for; `--chart` is one on screen."""

    OPTIONS = ("chart_svg", "page")

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
        if not (self.files or arguments.chart):
            return
        only = named(arguments.only)
        if "page" in self.files:
            recording = _recording(program, story, title, only, expectations)
            strip = recording.strip
            said = f"Run of {Path(arguments.path).resolve().name} by rungproof {version()}; seed {story.seed}."
            frames = f"a page of {many(len(recording.times), 'frame')} to step through"
            self.write_one(screen, "page", replay_page(recording, said), frames)
        else:
            strip = strip_of(program, story, title, only=only, expectations=expectations)
        if arguments.chart:
            screen.line(text_chart(strip, width=screen.width).rstrip("\n"))
            screen.line()
        if "chart_svg" in self.files:
            self.write_one(screen, "chart_svg", svg_chart(strip, alone=True), _size(strip))


def _recording(
    program: Program, story: Story, title: str, only: frozenset[str], expectations: Sequence[Expectation]
) -> Recording:
    try:
        return recording_of(program, story, title, only=only, expectations=expectations)
    except ValueError as error:
        raise CommandError(f"{str(error)[:1].upper()}{str(error)[1:]}.", "Say a shorter time with --for.") from error


def _size(strip: Strip) -> str:
    return f"a chart of {len(strip.bands)} bands"
