"""`rungproof independence`: for each hazard who guards it, what defeats each layer, and what layers share."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Literal

from rungproof.grammar.tree import Span
from rungproof.logic.checks.html import table
from rungproof.logic.checks.verdict import IN_THE_MODEL
from rungproof.logic.meaning.findings.reach import Reach
from rungproof.logic.meaning.program import Hazard, Program
from rungproof.logic.safety.cuts import Cuts, cuts_of
from rungproof.logic.safety.layers import HAND, Failure, Guarded, Layer

#: What was tried and what was not: it stands with every result.
HOW = (
    "Tried on circuits, relays, rungs and wiring with the process at rest: each failure alone, and two at a time. "
    "Which inputs stop an output is read from the rungs; whether they do so in time, the requirements say. "
    "Devices are not judged fit. Failures in this list only: no common cause by heat, flood, vibration or "
    "maintenance is in it."
)


@dataclass(frozen=True, slots=True)
class SafetyFinding:
    """What a reviewer would write. `elements` are the devices, wires, supplies or sensors it is about."""

    code: str
    grade: Literal["warning", "note"]
    hazard: str
    layers: tuple[str, ...]
    elements: tuple[str, ...]
    message: str
    mend: str
    span: Span

    def to_json(self) -> dict[str, Any]:
        return {
            "code": self.code,
            "grade": self.grade,
            "hazard": self.hazard,
            "layers": list(self.layers),
            "elements": list(self.elements),
            "message": self.message,
            "mend": self.mend,
            "file": self.span.file,
            "line": self.span.line,
        }


@dataclass(frozen=True, slots=True)
class LayerRow:
    """A layer as the table shows it. `leans_on` are all elements whose failure was tried."""

    layer: Layer
    leans_on: tuple[str, ...]
    cuts: Cuts

    def to_json(self) -> dict[str, Any]:
        return {
            "layer": self.layer.name,
            "sensors": list(self.layer.sensors),
            "contacts": sorted(self.layer.contacts),
            "inputs": sorted({stopper.tag for _, stopper in self.layer.reads}),
            "outputs": sorted({tag for tag, _ in self.layer.reads}),
            "leans_on": list(self.leans_on),
            "works": self.cuts.works,
            "single": [_failure_json(failure) for failure in self.cuts.singles],
            "double": [[_failure_json(failure) for failure in pair] for pair in self.cuts.doubles],
            "pairs_tried": self.cuts.pairs_tried,
            "pairs": self.cuts.pairs,
        }


@dataclass(frozen=True, slots=True)
class HazardRow:
    """A hazard with its layers. `why_not` says why nothing was computed, "" where it was."""

    hazard: str
    sentence: str
    safe_state: str
    why_not: str
    layers: tuple[LayerRow, ...]
    told_by: dict[str, tuple[str, ...]]
    causes: tuple[str, ...]
    findings: tuple[SafetyFinding, ...]

    def to_json(self) -> dict[str, Any]:
        return {
            "hazard": self.hazard,
            "sentence": self.sentence,
            "safe_state": self.safe_state,
            "why_not": self.why_not,
            "layers": [row.to_json() for row in self.layers],
            "told_by": {name: list(sensors) for name, sensors in self.told_by.items()},
            "causes": list(self.causes),
            "findings": [finding.to_json() for finding in self.findings],
        }


@dataclass(frozen=True, slots=True)
class IndependenceResult:
    """All hazards of a project. `exit_code` 1: a finding of grade warning; 3: a hazard that could not be looked at."""

    hazards: tuple[HazardRow, ...]

    @property
    def findings(self) -> tuple[SafetyFinding, ...]:
        return tuple(finding for row in self.hazards for finding in row.findings)

    @property
    def exit_code(self) -> int:
        if any(finding.grade == "warning" for finding in self.findings):
            return 1
        return 3 if any(row.why_not for row in self.hazards) else 0

    def to_json(self) -> dict[str, Any]:
        return {"note": IN_THE_MODEL, "how": HOW, "hazards": [row.to_json() for row in self.hazards]}

    def _repr_html_(self) -> str:
        rows = [
            (f"{h.hazard} {h.sentence}", r.layer.name, ", ".join(r.layer.sensors), "; ".join(map(said, r.cuts.singles)))
            for h in self.hazards
            for r in h.layers
        ]
        return table(("Hazard", "Layer", "Sees", "Defeated by any one of"), rows, note=f"{IN_THE_MODEL} {HOW}")


def independence_of(program: Program) -> IndependenceResult:
    """Look at every hazard. Without a plant there is nothing to lean on: every row says so."""
    if program.plant is None:
        rows = [
            _unseen(hazard, "there is no plant: nothing is known of wires and devices") for hazard in program.hazards
        ]
        return IndependenceResult(tuple(rows))
    reach = Reach(program.plant)
    return IndependenceResult(
        tuple(_row(Guarded(program, program.plant, hazard, reach), hazard) for hazard in program.hazards)
    )


def said(failure: Failure) -> str:
    """A failure in words: `LS2 does not respond`."""
    if failure.element == "controller":
        return failure.words
    joint = " " if failure.words.startswith(("does", "is ", "stays", "its")) else ": "
    return f"{failure.element}{joint}{failure.words}"


def _unseen(hazard: Hazard, why_not: str) -> HazardRow:
    return HazardRow(hazard.name, hazard.sentence, "", why_not, (), {}, (), ())


def _row(guarded: Guarded, hazard: Hazard) -> HazardRow:
    if guarded.why_not:
        return _unseen(hazard, guarded.why_not)
    rows = []
    for layer in guarded.layers:
        leans_on = tuple(dict.fromkeys(failure.element for failure in guarded.failures(layer)))
        rows.append(LayerRow(layer, leans_on, cuts_of(guarded, layer)))
    findings = tuple(_findings(guarded, hazard, rows))
    safe = ", ".join(guarded.drives)
    return HazardRow(hazard.name, hazard.sentence, safe, "", tuple(rows), guarded.told_by, guarded.causes, findings)


# ------------------------------------------------------------------- findings


def _findings(guarded: Guarded, hazard: Hazard, rows: list[LayerRow]) -> Iterator[SafetyFinding]:
    def find(
        code: str, grade: Literal["warning", "note"], layers: list[str], elements: list[str], message: str, mend: str
    ) -> SafetyFinding:
        return SafetyFinding(code, grade, hazard.name, tuple(layers), tuple(elements), message, mend, hazard.span)

    by_name = {row.layer.name: row for row in rows}
    circuit, program, operator = (by_name.get(name) for name in ("circuit", "program", "operator"))
    acts_by_wire = circuit is not None or (operator is not None and bool(operator.layer.contacts))
    if not rows:
        yield find(
            "unguarded",
            "warning",
            [],
            [],
            "Nothing was found that ends it: no sensor, no stop, by wire or program.",
            "say what takes the drive away, and write the requirement against the hazard",
        )
    elif not acts_by_wire:
        tags = sorted({tag for row in rows for tag, _ in row.layer.reads})
        yield find(
            "program-alone",
            "warning",
            [row.layer.name for row in rows],
            tags,
            f"The program is the only guard: without {' and '.join(tags)} nothing takes the drive away.",
            "let a device of its own open the circuit, whatever the program does",
        )
    elif circuit is None and program is None:
        yield find(
            "people-alone",
            "note",
            ["operator"],
            list(operator.layer.sensors if operator else ()),
            "No sensor ends it: somebody must see it and act.",
            "let a sensor do it, if there is one that can see it",
        )
    yield from _shared(rows, guarded, find)
    for row in rows:
        yield from _of_layer(row, guarded, find)
    for signal, sensors in guarded.told_by.items():
        for row in (circuit, program):
            if row is not None and len(sensors) == 1 and sensors[0] in row.layer.sensors:
                yield find(
                    "told-by-the-same-sensor",
                    "note",
                    [row.layer.name, "operator"],
                    [signal, sensors[0]],
                    f"{signal} tells people what {sensors[0]} sees, and so does the {row.layer.name}: if it fails, neither acts.",
                    "let another sensor tell people",
                )


def _shared(rows: list[LayerRow], guarded: Guarded, find: Any) -> Iterator[SafetyFinding]:
    """What defeats two layers alone; then what both lose together without harm."""
    for place, one in enumerate(rows):
        for other in rows[place + 1 :]:
            layers = [one.layer.name, other.layer.name]
            keys = {failure.key for failure in other.cuts.singles}
            for failure in one.cuts.singles:
                if failure.key in keys:
                    by_hand = guarded.kind_of.get(failure.element) in HAND
                    yield find(
                        "layers-share-one",
                        "note" if by_hand else "warning",
                        layers,
                        [failure.element],
                        f"One failure defeats two layers, the {layers[0]} and the {layers[1]}: {said(failure)}.",
                        "give each layer a device of its own, or let one be watched by the other",
                    )
            common = [s for s in guarded.plant.assembly.parts if any(o.name == "live" for o in s.outputs)]
            names = [s.name for s in common if s.name in one.leans_on and s.name in other.leans_on]
            harmless = [n for n in names if f"dead:{n}" not in keys]
            if harmless:
                yield find(
                    "layers-share-supply",
                    "note",
                    layers,
                    harmless,
                    f"The {layers[0]} and the {layers[1]} hang on the same supply: {', '.join(harmless)}; its loss stops both, "
                    "to the safe side.",
                    "see that its loss, a dip and its return are safe",
                )


def _of_layer(row: LayerRow, guarded: Guarded, find: Any) -> Iterator[SafetyFinding]:
    name, singles = row.layer.name, row.cuts.singles
    if not row.cuts.works:
        yield find(
            "layer-does-not-work",
            "warning",
            [name],
            list(row.layer.sensors),
            f"The {name} does not bring the drive to its safe state even with nothing failed.",
            "follow its contacts to the drive",
        )
        return
    blind = [f for f in singles if f.key in {f"stuck:{cause}" for cause in guarded.causes}]
    for failure in blind:
        if name != "operator":
            yield find(
                "cause-is-the-guard",
                "warning",
                [name],
                [failure.element],
                f"{failure.element} decides that the drive runs, and is the {name}'s only eye: where it reads wrong, it makes "
                "the demand and hides it.",
                "let another sensor guard",
            )
    lost = [f for f in singles if f.key.startswith(("dead:", "wire:")) or f.key.endswith(("!stays_open", "!coil_open"))]
    if lost:
        elements = list(dict.fromkeys(f.element for f in lost))
        yield find(
            "not-fail-safe",
            "warning",
            [name],
            elements,
            f"The {name} is lost without a word where {'; or '.join(said(f) for f in lost)}.",
            "wire it closed while healthy, so that a lost supply or a wire off stops the drive",
        )


def _failure_json(failure: Failure) -> dict[str, str]:
    return {"key": failure.key, "element": failure.element, "words": failure.words}
