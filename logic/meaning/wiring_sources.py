"""What a wire to an input comes from: a contact, or a signal in V or mA."""

from __future__ import annotations

from dataclasses import dataclass

from rungproof.grammar import tree
from rungproof.grammar.diagnosis import Reporter
from rungproof.logic.meaning.machine import Machine
from rungproof.logic.meaning.machine_names import did_you_mean
from rungproof.logic.meaning.machine_signals import signals_of
from rungproof.logic.meaning.program import Tag
from rungproof.plant.part import Output, Part


@dataclass(frozen=True, slots=True)
class Source:
    """A look key; `signal` is None for a contact."""

    key: str
    part: Part
    signal: Output | None


def source_of(name: tree.Name, tag: Tag, machine: Machine, reporter: Reporter) -> Source | None:
    """Where the wire comes from; None after reporting (silently for a part whose line is broken)."""
    part_name, dot, _ = name.text.partition(".")
    if part_name in machine.broken:
        return None
    part = machine.parts.get(part_name)
    if part is None:
        mend = did_you_mean(part_name, machine.lines)
        reporter.report("wire-source-unknown", name.span, name=name.text, mend=mend)
        return None
    contacts = {f"{part.name}.{c.name}": None for c in part.contacts}
    signals: dict[str, Output | None] = dict(signals_of(part))
    fitting, other = (contacts, signals) if tag.type == "bool" else (signals, contacts)
    if name.text in fitting:
        return Source(name.text, part, fitting[name.text])
    if not dot and len(fitting) == 1:
        key, signal = next(iter(fitting.items()))
        return Source(key, part, signal)
    _report(name, tag, part, reporter, fitting=list(fitting), other=list(other))
    return None


def _report(name: tree.Name, tag: Tag, part: Part, reporter: Reporter, *, fitting: list[str], other: list[str]) -> None:
    wanted = "a contact" if tag.type == "bool" else "a signal"
    if name.text in other or ("." not in name.text and other and not fitting):
        code = "bool-from-signal" if tag.type == "bool" else "number-from-contact"
        reporter.report(code, name.span, tag=tag.name, name=name.text)
    elif fitting:
        choice = ", ".join(f"`{key}`" for key in fitting)
        reporter.report("wire-source-which", name.span, name=name.text, wanted=wanted, choice=choice)
    else:
        reporter.report("wire-source-none", name.span, name=name.text, kind=part.kind, wanted=wanted)
