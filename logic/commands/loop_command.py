"""`rungproof loop PATH`: how closely each control loop holds its setpoint, and at what cost in starts."""

from __future__ import annotations

import math
from argparse import Namespace
from pathlib import Path

from rungproof.logic.checks.verdict import IN_THE_MODEL
from rungproof.logic.checks.words import span_words, time_words
from rungproof.logic.commands.errors import FILES_WRONG, CommandError, reason_of
from rungproof.logic.commands.findings_text import findings_text
from rungproof.logic.commands.json_output import JsonOutput, findings_json, sources_json
from rungproof.logic.commands.progress import ProgressLine
from rungproof.logic.commands.screen import Screen
from rungproof.logic.commands.verdict_text import CAUTIONS
from rungproof.logic.loops.figures import Response
from rungproof.logic.loops.loop import HOW, PATTERN_MS, LoopFigures, LoopResult, loop_figures
from rungproof.logic.verbs.reading import understand

#: A pattern shorter than this (ms) shows nothing; one longer takes too much memory.
_SHORTEST, _LONGEST = 60_000, 48 * 3_600_000


def execute(arguments: Namespace) -> int:
    length = PATTERN_MS if arguments.for_ms is None else arguments.for_ms
    if not _SHORTEST <= length <= _LONGEST:
        raise CommandError(f"A pattern of {time_words(length)} is too short or too long.", "Say 1 min to 48 h.")
    recorded = () if arguments.demand is None else _recorded(arguments.demand)
    with JsonOutput.of(arguments) as output:
        screen = Screen.standard(quiet=output.takes_screen)
        understood = understand(arguments.path)
        result, code = LoopResult((), ()), FILES_WRONG
        if understood.program is None:
            screen.line(findings_text(understood.diagnoses, understood.sources, screen.width))
        else:
            band = arguments.band / 100
            with ProgressLine("running every loop under its patterns"):
                result = loop_figures(
                    understood.program, seed=arguments.seed, pattern_ms=length, recorded=recorded, band=band
                )
            code = result.exit_code
            _print(screen, result)
        output.write(
            arguments,
            code,
            cautions=CAUTIONS,
            sources=sources_json(understood.sources),
            findings=findings_json(understood.diagnoses if understood.program is None else ()),
            **result.to_json(),
        )
    return code


def _recorded(name: str) -> tuple[float, ...]:
    """One number a line; empty lines and lines that begin with # are left out."""
    try:
        lines = Path(name).read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeDecodeError) as error:
        reason = reason_of(error) if isinstance(error, OSError) else "it is no text"
        raise CommandError(f"{name} cannot be read: {reason}.", "Name a file with one number a line.") from error
    values = []
    for number, line in enumerate(lines, 1):
        if line.strip() and not line.startswith("#"):
            try:
                values.append(float(line))
            except ValueError:
                values.append(math.nan)
            if not math.isfinite(values[-1]):
                raise CommandError(f"{name}, line {number}: `{line.strip()[:40]}` is no number.", "One number a line.")
    if not values:
        raise CommandError(f"{name} holds no numbers.", "Write one number a line.")
    return tuple(values)


def _print(screen: Screen, result: LoopResult) -> None:
    for each in result.figures:
        _loop(screen, each)
    for name, why in result.not_run:
        screen.labelled("not run", f"{name}: {why}", indent=0)
    if not result.figures and not result.not_run:
        screen.line("No rung here holds a `pi`: there is no loop.")
    screen.paragraph(HOW)
    screen.line()
    screen.paragraph(f"{IN_THE_MODEL} {CAUTIONS}")


def _loop(screen: Screen, each: LoopFigures) -> None:
    unit = each.loop.unit
    screen.line(
        screen.strong(
            f"{each.loop.name}, {each.pattern}   {each.loop.truth} against {each.loop.setpoint or 'a constant'}"
        )
    )
    screen.labelled("begin", _response(each.begin, unit))
    if each.step is not None:
        screen.labelled("step", _response(each.step, unit))
    screen.labelled("held", f"mean error {each.held.mean_error:.3g} {unit}, worst {each.held.worst_error:.3g} {unit}")
    rates = ", ".join(f"{name} {rate:.3g}" for name, rate in each.starts_per_hour.items())
    screen.labelled("starts", f"an hour: {rates}" if rates else "nothing that starts")
    if each.pattern == "step":
        none = "none: no swing of half the band that goes on"
        swing = (
            each.cycle and f"swings by {each.cycle.swing:.3g} {unit} every {span_words(round(each.cycle.period_ms))}"
        )
        screen.labelled("limit cycle", swing or none)
    screen.line()


def _response(each: Response, unit: str) -> str:
    settled = "not settled" if each.settled_ms is None else f"settled after {span_words(each.settled_ms)}"
    return f"{settled}, overshoot {each.overshoot:.3g} {unit}, farthest off {each.peak_error:.3g} {unit}"
