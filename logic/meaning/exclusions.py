"""Exclusions: faults that the author leaves out of account, each with a reason.

They are printed wherever faults are counted. A scenario may set them all the same.
"""

from __future__ import annotations

from collections.abc import Iterable

from rungproof.grammar import tree
from rungproof.grammar.diagnosis import Reporter
from rungproof.grammar.tree import Block, Span
from rungproof.logic.meaning.machine_names import did_you_mean
from rungproof.logic.meaning.program import Exclusion, Knob
from rungproof.logic.meaning.scenarios_targets import Stage, fault_knob


def read_exclusions(blocks: Iterable[Block], stage: Stage, reporter: Reporter) -> list[Exclusion]:
    """Each excluded fault once, in the order written."""
    found: dict[str, Exclusion] = {}
    for block in blocks:
        if not isinstance(block, tree.Exclude):
            continue
        for line in block.lines:
            for knob in _knobs(line, stage, reporter):
                other = found.setdefault(knob.key, Exclusion(knob.key, block.sentence, line.span))
                if other.span is not line.span and line.target is not None:
                    _twice(line.span, other.span, knob.key, reporter)
    return list(found.values())


def _knobs(line: tree.ExcludedFault, stage: Stage, reporter: Reporter) -> list[Knob]:
    if line.target is not None:
        if stage.is_broken(line.target.text):
            return []
        knob = fault_knob(line.target, line.fault, "leave out", stage, reporter)
        return [] if knob is None else [knob]
    able = [knob for knob in stage.knobs.values() if knob.kind in ("fault", "stop")]
    meant = [knob for knob in able if knob.key.partition("!")[2] == line.fault.text]
    if not meant and not stage.anything_broken:
        known = dict.fromkeys(knob.key.partition("!")[2] for knob in able)
        mend = did_you_mean(line.fault.text, known)
        reporter.report("excludes-nothing", line.fault.span, fault=line.fault.text, mend=mend)
    return meant


def _twice(span: Span, first: Span, key: str, reporter: Reporter) -> None:
    name = key.replace("!", " ")
    reporter.report("excluded-twice", span, name=name, related=((first, "left out here already"),))
