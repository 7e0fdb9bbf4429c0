"""What a safety reviewer would write about the layers of a hazard."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from rungproof.grammar.tree import Span
from rungproof.logic.meaning.program import Condition
from rungproof.logic.meaning.requirements_reading import readings_of
from rungproof.logic.safety.cuts import Cuts
from rungproof.logic.safety.layers import HAND, Failure, Guarded, Layer

Grade = Literal["warning", "note"]


@dataclass(frozen=True, slots=True)
class SafetyFinding:
    """One finding. `elements` are the devices, wires, supplies or sensors it is about; `span` is its place."""

    code: str
    grade: Grade
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


def _failure_json(failure: Failure) -> dict[str, str]:
    return {"key": failure.key, "element": failure.element, "words": failure.words}


def said(failure: Failure) -> str:
    """A failure in words: `LS2 does not respond`."""
    if failure.element == "controller":
        return failure.words
    joint = " " if failure.words.startswith(("does", "is ", "stays")) else ": "
    return f"{failure.element}{joint}{failure.words}"


def listed(failures: Sequence[Failure]) -> str:
    """Failures in words, one after the other."""
    return "; ".join(said(failure) for failure in failures)


def joined(names: Sequence[str], article: str = "") -> str:
    """`a`, `a and b`, `a, b and c`; every name after the first with its article."""
    later = [article + name for name in names[1:]]
    return " and ".join([", ".join([*names[:1], *later[:-1]]), *later[-1:]])


@dataclass(frozen=True, slots=True)
class Reviewer:
    """Reads the rows of one hazard and says what is wrong with them."""

    guarded: Guarded
    rows: tuple[LayerRow, ...]

    def findings(self) -> Iterator[SafetyFinding]:
        """The findings, those about the hazard as a whole first."""
        yield from self._guards()
        yield from self._shared()
        yield from self._same_supply()
        for row in self.rows:
            yield from self._weak(row)
        yield from self._unmonitored()
        yield from self._told()

    def _row(self, name: str) -> LayerRow | None:
        return next((row for row in self.rows if row.layer.name == name), None)

    def _find(self, code: str, grade: Grade, about: tuple[Sequence[str], Sequence[str]], *words: str) -> SafetyFinding:
        """`about`: layers and elements; `words`: what is wrong, and what would mend it."""
        layers, elements = about
        hazard = self.guarded.hazard
        return SafetyFinding(code, grade, hazard.name, tuple(layers), tuple(elements), words[0], words[1], hazard.span)

    def _guards(self) -> Iterator[SafetyFinding]:
        """Nobody guards it, the program alone does, people alone do."""
        names = [row.layer.name for row in self.rows]
        if not self.rows:
            yield self._find(
                "unguarded",
                "warning",
                ([], []),
                "Nothing was found that ends it: no sensor and no stop, neither by wire nor by program.",
                "say what takes the drive away, and write the requirement against this hazard",
            )
        elif not any(row.layer.contacts for row in self.rows):
            tags = sorted({tag for row in self.rows for tag, _ in row.layer.reads})
            yield self._find(
                "program-alone",
                "warning",
                (names, tags),
                f"The program is the only guard: nothing but its {joined(tags)} takes the drive away.",
                "let a device of its own open the circuit, whatever the program does",
            )
        elif names == ["operator"]:
            yield self._find(
                "people-alone",
                "note",
                (names, self.rows[0].layer.sensors),
                "No sensor ends it: somebody must see it and act.",
                "let a sensor do it, if there is one that can see it",
            )

    def _shared(self) -> Iterator[SafetyFinding]:
        """What defeats two layers by itself."""
        for place, one in enumerate(self.rows):
            for other in self.rows[place + 1 :]:
                layers = (one.layer.name, other.layer.name)
                keys = {failure.key for failure in other.cuts.singles}
                both = [failure for failure in one.cuts.singles if failure.key in keys]
                by_hand = all(self.guarded.kind_of.get(failure.element) in HAND for failure in both)
                if both:
                    yield self._find(
                        "layers-share-one",
                        "note" if by_hand else "warning",
                        (layers, list(dict.fromkeys(failure.element for failure in both))),
                        f"One failure defeats two layers, the {layers[0]} and the {layers[1]}: {listed(both)}.",
                        "give each layer a device of its own, or let each notice the other's failure",
                    )

    def _same_supply(self) -> Iterator[SafetyFinding]:
        """Supplies that several layers hang on, and whose loss is to the safe side."""
        harmful = {failure.key for row in self.rows for failure in row.cuts.singles}
        for part in self.guarded.plant.assembly.parts:
            layers = [row.layer.name for row in self.rows if part.name in row.leans_on]
            live = any(output.name == "live" for output in part.outputs)
            if live and len(layers) > 1 and f"dead:{part.name}" not in harmful:
                yield self._find(
                    "layers-share-supply",
                    "note",
                    (layers, [part.name]),
                    f"The {joined(layers, 'the ')} hang on {part.name}; its loss stops them all, to the safe side.",
                    "see that a dip and its return are safe too",
                )

    def _weak(self, row: LayerRow) -> Iterator[SafetyFinding]:
        """One layer by itself: it does not work, makes its own demand, is not fail-safe."""
        name, singles = row.layer.name, row.cuts.singles
        if not row.cuts.works:
            yield self._find(
                "layer-does-not-work",
                "warning",
                ([name], row.layer.sensors),
                f"The {name} does not bring the drive to its safe state, with nothing failed.",
                "follow its contacts to the drive",
            )
        for cause in self.guarded.causes if name != "operator" else ():
            if f"stuck:{cause}" in {failure.key for failure in singles}:
                yield self._find(
                    "cause-is-the-guard",
                    "warning",
                    ([name], [cause]),
                    f"{cause} decides that the drive runs, and is all that the {name} sees: where it is wrong, it "
                    "makes the demand and hides it.",
                    "let another sensor guard",
                )
        unsafe = ("!stays_open", "!coil_open")
        lost = [f for f in singles if f.key.startswith(("dead:", "wire:")) or f.key.endswith(unsafe)]
        if lost:
            yield self._find(
                "not-fail-safe",
                "warning",
                ([name], list(dict.fromkeys(failure.element for failure in lost))),
                f"The {name} is lost without a word by any one of these: {listed(lost)}.",
                "wire it closed while healthy, so that a lost supply or a wire off stops the drive",
            )

    def _unmonitored(self) -> Iterator[SafetyFinding]:
        """Relays and contactors whose welding counts in a cut set, and that nobody reads back.

        Read back: a contact of theirs at an input of the program, or in a circuit that does not
        itself lead to this hazard's drive (a reset, a read-back of a stop module).
        """
        plant = self.guarded.plant
        counting: dict[str, list[str]] = {}
        for row in self.rows:
            for failure in (*row.cuts.singles, *(each for pair in row.cuts.doubles for each in pair)):
                if failure.key.endswith("!sticks") or "_sticks" in failure.key:
                    counting.setdefault(failure.element, []).append(row.layer.name)
        read = {(wire.source or "").partition(".")[0] for wire in plant.inputs}
        drives = {*self.guarded.drives}
        for circuit in plant.circuits:
            for rung in circuit.rungs:
                if not drives & {output.target for output in rung.outputs}:
                    shown = readings_of([e.expression for e in rung.elements if isinstance(e, Condition)])
                    read |= {key.partition(".")[0] for key in shown.plant}
        own = {key: {c for c in self.guarded.contacts if c.startswith(f"{key}.")} for key in counting}
        for relay, layers in counting.items():
            if relay not in read and own[relay]:
                yield self._find(
                    "unmonitored",
                    "warning",
                    (list(dict.fromkeys(layers)), [relay]),
                    f"{relay} can weld unseen: no contact of it is read back, by the program or in a reset.",
                    "read a break contact of it where the next start is allowed",
                )

    def _told(self) -> Iterator[SafetyFinding]:
        """Signals that show people nothing but what a layer sees itself."""
        by_sensor: dict[str, list[str]] = {}
        for signal, sensors in self.guarded.told_by.items():
            if len(sensors) == 1:
                by_sensor.setdefault(sensors[0], []).append(signal)
        for sensor, signals in by_sensor.items():
            layers = [r.layer.name for r in self.rows if sensor in r.layer.sensors and r.layer.name != "operator"]
            others = any(sensor not in sensors for sensors in self.guarded.told_by.values())
            if layers and not others:
                yield self._find(
                    "told-by-the-same-sensor",
                    "note",
                    ([*layers, "operator"], [sensor, *signals]),
                    f"People are told by {joined(signals)} only what {sensor} sees, and so sees the "
                    f"{joined(layers, 'the ')}: where it fails, nobody is told.",
                    "let another sensor tell people",
                )
