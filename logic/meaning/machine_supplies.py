"""Supplies: what circuits, modules and the controller are fed from."""

from __future__ import annotations

from rungproof.grammar.diagnosis import Reporter
from rungproof.grammar.tree import Name
from rungproof.logic.meaning.machine import Machine
from rungproof.logic.meaning.machine_names import did_you_mean
from rungproof.plant.part import Part


def is_supply(part: Part) -> bool:
    """A part that things are fed from: it shows whether it is `live`."""
    return "live" in {o.name for o in part.outputs}


def can_be_cut(part: Part) -> bool:
    """A supply that can be lost by itself, not only through a fuse or a breaker behind it."""
    return is_supply(part) and "lost" in {f.name for f in part.faults}


def supply_named(name: Name, machine: Machine, fed: str, reporter: Reporter) -> str | None:
    """The supply's name; None after reporting that there is none (or silently, if its line is broken)."""
    if name.text in machine.broken:
        return None
    part = machine.parts.get(name.text)
    supplies = [p.name for p in machine.parts.values() if is_supply(p)]
    if part is None:
        mend = did_you_mean(name.text, supplies)
        reporter.report("supply-unknown", name.span, name=name.text, fed=fed, mend=mend)
        return None
    if not is_supply(part):
        mend = f"name a supply: {', '.join(supplies)}" if supplies else None
        reporter.report("supply-is-none", name.span, name=name.text, kind=part.kind, fed=fed, mend=mend)
        return None
    return name.text
