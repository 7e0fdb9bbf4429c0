"""Two versions run side by side by a search: for what parts them only after minutes.

A proof follows some hundreds of scans. Where it ends without a word, the new version's rungs run beside the
old ones in one controller, on the same inputs, and a search attacks that their outputs are the same. Until they
first part, what the plant sees is what either version would have done alone, so the story holds for both.
"""

from __future__ import annotations

import dataclasses
from dataclasses import replace
from typing import Any

from rungproof.logic.checks.check import check_program
from rungproof.logic.checks.engine_choice import reference_engine
from rungproof.logic.meaning.program import Controller, Never, Output, Program, Requirement, Rung, Stage, Tag
from rungproof.logic.meaning.typed import (
    AllOf,
    AnyOf,
    Comparison,
    EdgeOf,
    Expression,
    Filter,
    Inverse,
    Pi,
    Ramp,
    Rate,
    Scanning,
    StageOutput,
    StageReading,
    TagValue,
)
from rungproof.logic.mutants.difference import Differ
from rungproof.logic.proofs.compare import Comparison as Compared
from rungproof.logic.proofs.compare import Parting

#: After a name of the new version: no name of a file has a blank in it.
NEW = " of new"
#: By class, the fields in which a name of the program stands that either version has for itself.
_NAMES: dict[type, tuple[str, ...]] = {
    Tag: ("name",),
    Rung: ("name",),
    Stage: ("name",),
    Output: ("target",),
    TagValue: ("tag",),
    StageOutput: ("stage",),
    StageReading: ("stage",),
    EdgeOf: ("slot",),
    Filter: ("slot",),
    Rate: ("slot",),
    Ramp: ("slot",),
    Pi: ("slot",),
}


def parted_in_runs(old: Program, new: Program, found: Compared, *, seed: int, time_s: float) -> Parting | None:
    """How a search of `time_s` seconds parts the two at an output that both have; None if it does not.

    Only for versions with the same plant, inputs and parameters, of which `found` remarks nothing. The
    parting was replayed in the reference engine, in either version alone.
    """
    if found.remarks or found.only or not found.outputs or old.knobs != new.knobs:
        return None
    together = side_by_side(old, new, found.outputs)
    verdict = check_program(together, seed=seed, time_s=time_s).verdicts[0]
    if verdict.story is None:
        return None
    story = verdict.story
    parted = Differ(old, new, outputs=frozenset(found.outputs)).first(story, reference_engine())
    trace = reference_engine().run(old, story, record=True).trace
    if parted is None or trace is None:
        return None
    scans = sum(begins < parted.at_ms for begins in trace.scan_starts)
    return Parting(parted.at_ms, parted.key, parted.before, parted.after, scans, False, story, story, in_plant=True)


def side_by_side(old: Program, new: Program, outputs: tuple[str, ...]) -> Program:
    """`old` with the rungs of `new` solved after its own, and one requirement: no output ever differs in a scan."""
    a, b = old.controller, new.controller
    assert a is not None, "sides have controllers"
    assert b is not None, "sides have controllers"
    shared = {tag.name for tag in b.tags.values() if tag.role in ("input", "parameter")}
    theirs = [_renamed(tag, shared) for tag in b.tags.values() if tag.name not in shared]
    rungs = tuple(_renamed(rung, shared) for rung in b.rungs)
    both = replace(a, tags={**a.tags, **{tag.name: tag for tag in theirs}}, rungs=(*a.rungs, *rungs))
    return replace(old, controller=both, requirements=(_never_apart(both, outputs),))


def _renamed(node: Any, shared: set[str]) -> Any:
    """`node` with every name of its own marked as the new version's; `shared` names stay."""
    if isinstance(node, tuple):
        return tuple(_renamed(each, shared) for each in node)
    if type(node).__module__ == Rung.__module__ or type(node).__module__ == TagValue.__module__:
        own = _NAMES.get(type(node), ())
        changed = {}
        for each in dataclasses.fields(node):
            value = getattr(node, each.name)
            changed[each.name] = _name(value, shared) if each.name in own else _renamed(value, shared)
        return replace(node, **changed)
    return node


def _name(name: str, shared: set[str]) -> str:
    return name if name in shared else name + NEW


def _never_apart(controller: Controller, outputs: tuple[str, ...]) -> Requirement:
    span = controller.span
    scanning = Scanning(type="bool", span=span)
    apart = AnyOf(type="bool", span=span, operands=tuple(_differs(controller.tags[name]) for name in outputs))
    presets = [stage.preset for stage in controller.stages.values() if stage.preset is not None]
    return Requirement(
        name="same",
        sentence="",
        restatement="",
        against=(),
        form=Never(AllOf(type="bool", span=span, operands=(scanning, apart))),
        from_time=None,
        outputs_free=False,
        any_one_fault=False,
        instants="scan",
        looked_at="at the terminals",
        horizon=max((int(each.high) for each in presets), default=0),
        span=span,
    )


def _differs(tag: Tag) -> Expression:
    """An output is not what the new version has for it."""
    value = TagValue(type=tag.type, unit=tag.unit, low=tag.low, high=tag.high, span=tag.span, tag=tag.name)
    other = replace(value, tag=tag.name + NEW)
    pairs = ((value, other), (other, value))
    if tag.type == "bool":
        ways: tuple[Expression, ...] = tuple(
            AllOf(type="bool", span=tag.span, operands=(x, Inverse(type="bool", span=tag.span, operand=y)))
            for x, y in pairs
        )
    else:
        ways = tuple(Comparison(type="bool", span=tag.span, operator="<", left=x, right=y) for x, y in pairs)
    return AnyOf(type="bool", span=tag.span, operands=ways)
