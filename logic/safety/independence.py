"""For each hazard: who guards it, what defeats each layer, what layers share. A table to sign."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from rungproof.logic.checks.html import table
from rungproof.logic.checks.verdict import EXIT_FINE, EXIT_OPEN, EXIT_VIOLATED, IN_THE_MODEL
from rungproof.logic.meaning.findings.reach import Reach
from rungproof.logic.meaning.program import Hazard, Program
from rungproof.logic.safety.cuts import cuts_of
from rungproof.logic.safety.findings import LayerRow, Reviewer, SafetyFinding, listed
from rungproof.logic.safety.layers import Guarded

#: What was tried and what was not: it stands with every result.
HOW = (
    "Tried on circuits, relays, rungs and wiring with the process at rest, each failure alone and two at a time. "
    "Which sensors concern a hazard follows from what the requirements against it speak of; which inputs stop an "
    "output is read from the rungs, and whether they do so in time, the requirements say. Failures in this list only: "
    "no device is judged fit, and no common cause by heat, flood, vibration or maintenance is in it."
)


@dataclass(frozen=True, slots=True)
class HazardRow:
    """A hazard with its layers. `why_not` says why nothing was computed, "" where it was.

    `told_by`: signals that show people something of it, with the sensors behind each. `causes`:
    sensors by which the program decides that the drive runs.
    """

    hazard: str
    sentence: str
    safe_state: str
    why_not: str
    layers: tuple[LayerRow, ...] = ()
    told_by: tuple[tuple[str, tuple[str, ...]], ...] = ()
    causes: tuple[str, ...] = ()
    findings: tuple[SafetyFinding, ...] = ()

    def to_json(self) -> dict[str, Any]:
        return {
            "hazard": self.hazard,
            "sentence": self.sentence,
            "safe_state": self.safe_state,
            "why_not": self.why_not,
            "layers": [row.to_json() for row in self.layers],
            "told_by": {name: list(sensors) for name, sensors in self.told_by},
            "causes": list(self.causes),
            "findings": [finding.to_json() for finding in self.findings],
        }


@dataclass(frozen=True, slots=True)
class IndependenceResult:
    """All hazards of a project. `exit_code`: 1 with a finding of grade warning, 3 where a hazard could not be seen."""

    hazards: tuple[HazardRow, ...]

    @property
    def findings(self) -> tuple[SafetyFinding, ...]:
        return tuple(finding for row in self.hazards for finding in row.findings)

    @property
    def exit_code(self) -> int:
        if any(finding.grade == "warning" for finding in self.findings):
            return EXIT_VIOLATED
        return EXIT_OPEN if any(row.why_not for row in self.hazards) else EXIT_FINE

    def to_json(self) -> dict[str, Any]:
        return {"how": HOW, "hazards": [row.to_json() for row in self.hazards]}

    def _repr_html_(self) -> str:
        rows = [
            (f"{h.hazard} {h.sentence}", r.layer.name, ", ".join(r.layer.sensors), listed(r.cuts.singles))
            for h in self.hazards
            for r in h.layers
        ]
        return table(("Hazard", "Layer", "Sees", "Defeated by any one of"), rows, note=f"{IN_THE_MODEL} {HOW}")


def independence_of(program: Program) -> IndependenceResult:
    """Look at every hazard. Without a plant nothing is known of wires and devices, and every row says so."""
    if program.plant is None:
        why_not = "there is no plant: nothing is known of wires and devices"
        return IndependenceResult(tuple(_unseen(program, hazard, why_not) for hazard in program.hazards))
    reach = Reach(program.plant)
    guarded = [Guarded(program, program.plant, hazard, reach) for hazard in program.hazards]
    return IndependenceResult(tuple(_row(program, each) for each in guarded))


def _row(program: Program, guarded: Guarded) -> HazardRow:
    if guarded.why_not:
        return _unseen(program, guarded.hazard, guarded.why_not)
    rows = []
    for layer in guarded.layers:
        leans_on = tuple(dict.fromkeys(failure.element for failure in guarded.failures(layer)))
        rows.append(LayerRow(layer, leans_on, cuts_of(guarded, layer)))
    return HazardRow(
        guarded.hazard.name,
        guarded.hazard.sentence,
        safe_state_text(program, guarded.hazard),
        "",
        tuple(rows),
        tuple(guarded.told_by.items()),
        guarded.causes,
        tuple(Reviewer(guarded, tuple(rows)).findings()),
    )


def _unseen(program: Program, hazard: Hazard, why_not: str) -> HazardRow:
    return HazardRow(hazard.name, hazard.sentence, safe_state_text(program, hazard), why_not)


def safe_state_text(program: Program, hazard: Hazard) -> str:
    """The safe state as the file says it; "" where it says none."""
    if hazard.safe_state is None:
        return ""
    lines = next((s.text.splitlines() for s in program.sources if s.path == hazard.span.file), [])
    line = lines[hazard.span.line - 1] if 0 < hazard.span.line <= len(lines) else ""
    return line.rpartition("safe state")[2].partition("#")[0].strip()
