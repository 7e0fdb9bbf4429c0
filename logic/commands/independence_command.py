"""`rungproof independence PATH`: who guards each hazard, what defeats each layer, what layers share."""

from __future__ import annotations

from argparse import Namespace

from rungproof.logic.checks.verdict import IN_THE_MODEL
from rungproof.logic.commands.errors import FILES_WRONG
from rungproof.logic.commands.findings_text import findings_text
from rungproof.logic.commands.json_output import JsonOutput, findings_json, sources_json
from rungproof.logic.commands.screen import Screen
from rungproof.logic.commands.verdict_text import CAUTIONS
from rungproof.logic.safety.findings import LayerRow, listed, said
from rungproof.logic.safety.independence import HOW, HazardRow, IndependenceResult, independence_of
from rungproof.logic.verbs.reading import understand

#: More pairs than this make no table that somebody reads; the JSON has them all.
_PAIRS_SHOWN = 12


def execute(arguments: Namespace) -> int:
    with JsonOutput.of(arguments) as output:
        screen = Screen.standard(quiet=output.takes_screen)
        understood = understand(arguments.path)
        result, code = IndependenceResult(()), FILES_WRONG
        if understood.program is None:
            screen.line(findings_text(understood.diagnoses, understood.sources, screen.width))
        else:
            result = independence_of(understood.program)
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


def _print(screen: Screen, result: IndependenceResult) -> None:
    if not result.hazards:
        screen.line("No hazard is declared: there is nothing to guard.")
    for row in result.hazards:
        _hazard(screen, row)
    screen.paragraph(HOW)
    screen.line()
    screen.paragraph(f"{IN_THE_MODEL} {CAUTIONS}")
    screen.line()
    for row in result.hazards:
        screen.line(f"{row.hazard:<8} read and agreed: ____________________   date: ____________")


def _hazard(screen: Screen, row: HazardRow) -> None:
    screen.line(screen.strong(f"{row.hazard}  {row.sentence}"))
    screen.labelled("safe state", row.safe_state or "none declared")
    if row.why_not:
        screen.labelled("not seen", row.why_not)
    for each in row.layers:
        _layer(screen, each)
    for signal, sensors in row.told_by:
        screen.labelled("told by", f"{signal}, of {', '.join(sensors)}")
    for finding in row.findings:
        screen.labelled(finding.grade, f"{finding.code}: {finding.message}")
        screen.labelled("", f"Mend: {finding.mend}.")
    screen.line()


def _layer(screen: Screen, row: LayerRow) -> None:
    layer, cuts = row.layer, row.cuts
    screen.line(f"    {screen.strong(layer.name)}")
    by = [*sorted(layer.contacts), *dict.fromkeys(f"{stopper.tag} -> {tag}" for tag, stopper in layer.reads)]
    screen.labelled("sees", f"{', '.join(layer.sensors)}   by {', '.join(by)}", indent=6)
    screen.labelled("leans on", ", ".join(row.leans_on), indent=6)
    screen.labelled("one of", listed(cuts.singles) or "nothing: no single failure defeats it", indent=6)
    pairs = "; ".join(f"{said(a)} + {said(b)}" for a, b in cuts.doubles[:_PAIRS_SHOWN])
    more = len(cuts.doubles) - _PAIRS_SHOWN
    tried = f"{cuts.pairs_tried} of {cuts.pairs} pairs tried"
    screen.labelled("two of", f"{pairs or 'no pair'}{f'; and {more} more' if more > 0 else ''} ({tried})", indent=6)
