"""Tags nobody writes or reads, totals that are lost with the power, outputs held on a stop."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Set

from rungproof.grammar.diagnosis import Reporter
from rungproof.grammar.tree import Span
from rungproof.logic.meaning.findings.paths import Paths, reads_in
from rungproof.logic.meaning.program import Stage, Tag

#: Stages whose inside is a total that people rely on.
_TOTALS = ("count-up", "count-down", "accumulating on-delay")


def find_in_usage(
    paths: Paths, moves: Callable[[str], bool] | None, read_elsewhere: Set[str], reporter: Reporter
) -> None:
    """Report on every tag that stands idle; `read_elsewhere` are those that requirements or wiring read."""
    reads: dict[str, Span] = {}
    for rung in paths.controller.rungs:
        for name, span in reads_in(rung):
            reads.setdefault(name, span)
    for tag in paths.controller.tags.values():
        _find_idle(tag, tag.name in paths.outputs, reads, read_elsewhere, reporter)
        if tag.role == "output" and tag.on_stop is None and moves is not None and moves(tag.name):
            reporter.report("moves-when-stopped", tag.span, name=tag.name)
    _find_lost_totals(paths, reporter)


def _find_idle(
    tag: Tag, written: bool, reads: Mapping[str, Span], read_elsewhere: Set[str], reporter: Reporter
) -> None:
    read = tag.name in reads or tag.name in read_elsewhere
    if tag.role in ("memory", "output") and not written:
        fate = f"so it stays at {_shown(tag)}" if read or tag.role == "output" else "and nothing reads it"
        place = ((reads[tag.name], "read here"),) if tag.name in reads else ()
        reporter.report("never-written", tag.span, name=tag.name, fate=fate, related=place)
    elif tag.role != "output" and not read:
        reporter.report("never-read", tag.span, name=tag.name, role=tag.role)


def _shown(tag: Tag) -> str:
    if tag.type == "bool":
        return "on" if tag.start else "off"
    return f"{tag.start:.10g}" + (f" {tag.unit.symbol}" if tag.unit else "")


def _find_lost_totals(paths: Paths, reporter: Reporter) -> None:
    """A count that a power cut clears, driving a mark that was meant to survive it."""
    for rung in paths.controller.rungs:
        totals = [e for e in rung.elements if isinstance(e, Stage) and e.kind in _TOTALS and not e.retained]
        kept = [o for o in rung.outputs if o.kind == "coil" and paths.controller.tags[o.target].retained]
        for stage in totals[-1:] if kept else []:
            place = ((paths.controller.tags[kept[0].target].span, "retained"),)
            reporter.report("total-lost", stage.span, name=stage.name, kept=kept[0].target, related=place)
