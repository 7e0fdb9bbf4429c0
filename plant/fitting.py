"""Whether the parts of a plant fit together: who carries from whom, who looks at whom, whose names clash."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from rungproof.plant.part import Input, Mover, Part, Vessel


@dataclass(frozen=True, slots=True)
class PartProblem:
    """Why a part does not fit among the others. `slot` is the clause slot at fault, "" for the part."""

    part: str
    slot: str
    message: str
    mend: str = ""


class AssemblyError(ValueError):
    """Raised by `Assembly` with every `PartProblem` there is."""

    def __init__(self, problems: Sequence[PartProblem]) -> None:
        super().__init__("; ".join(f"{p.part}: {p.message}" for p in problems))
        self.problems = tuple(problems)


def mixes(part: Part) -> bool:
    """Whether a vessel carries an additive."""
    return isinstance(part, Vessel) and any(v.name == "additive" for v in part.variables)


def misfits(parts: Sequence[Part]) -> list[PartProblem]:
    """Everything that keeps these parts from working together."""
    by_name = {part.name: part for part in parts}
    problems: list[PartProblem] = []
    for part in parts:
        problems += _declaration_problems(part)
        if isinstance(part, Mover):
            problems += _way_problems(part, by_name)
        for each in part.inputs:
            if each.source == "part":
                problems += _sight_problems(part, each, by_name)
    return problems


def _declaration_problems(part: Part) -> list[PartProblem]:
    """Names that would clash in the flat naming. Only a user's own part can get here."""
    names = [v.name for v in part.variables] + [i.name for i in part.inputs] + [c.name for c in part.contacts]
    shown = [o.name for o in part.outputs]
    taken = {i.name for i in part.inputs} | {c.name for c in part.contacts}
    doubled = sorted({n for n in names if names.count(n) > 1} | {n for n in shown if shown.count(n) > 1 or n in taken})
    return [
        PartProblem(part.name, "", f"declares `{name}` twice", "give inputs, variables, outputs and contacts own names")
        for name in doubled
    ]


def _way_problems(part: Mover, by_name: Mapping[str, Part]) -> list[PartProblem]:
    problems: list[PartProblem] = []
    for slot, name in (("source", part.source), ("destination", part.destination)):
        if name is None:
            continue
        other = by_name.get(name)
        if other is None:
            problems.append(PartProblem(part.name, slot, f"there is no part `{name}`"))
        elif not isinstance(other, Vessel):
            message = f"carries liquid between vessels, and {other.kind} `{name}` holds none"
            problems.append(PartProblem(part.name, slot, message, "name a tank or a reservoir"))
    source, destination = by_name.get(part.source or ""), by_name.get(part.destination or "")
    if source and isinstance(destination, Vessel) and mixes(source) and not mixes(destination):
        message = f"carries additive from `{source.name}` into `{destination.name}`, which keeps no account of it"
        mend = f"add `additive 0 g/L` to {destination.kind} {destination.name}"
        problems.append(PartProblem(part.name, "destination", message, mend))
    return problems


def _sight_problems(part: Part, wanted: Input, by_name: Mapping[str, Part]) -> list[PartProblem]:
    name, _, output = wanted.of.partition(".")
    slot = next((slot for slot, value in part.given.items() if value == name), "")
    other = by_name.get(name)
    if other is None:
        if isinstance(part, Mover) and name in (part.source, part.destination):
            return []
        return [PartProblem(part.name, slot, f"there is no part `{name}`")]
    shown = next((o for o in other.outputs if o.name == output), None)
    if shown is not None and shown.unit in (wanted.unit, None):
        return []
    if shown is not None:
        message = f"reads `{wanted.of}` in {wanted.unit}, and {other.kind} `{name}` shows it in {shown.unit}"
        return [PartProblem(part.name, slot, message)]
    able = [p.name for p in by_name.values() if output in {o.name for o in p.outputs}]
    mend = f"name one that does: {', '.join(able)}" if able else ""
    return [PartProblem(part.name, slot, f"looks at `{wanted.of}`, but {other.kind} `{name}` shows no {output}", mend)]
