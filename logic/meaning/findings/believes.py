"""What the program believes of a level, given what its transmitter sends.

A distance is pushed through the transmitter's own model, the channel, and every `:=` that
depends on nothing but that input, the way the wiring has it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from rungproof.grammar.tree import Span
from rungproof.logic.meaning.findings.evaluate import NotKnownError, evaluate
from rungproof.logic.meaning.program import Channel, InputWire, Program, Tag
from rungproof.logic.meaning.requirements_reading import leaves
from rungproof.logic.meaning.typed import Expression, Scalar, TagValue, Typed
from rungproof.plant.operators import PLAIN
from rungproof.plant.part import Part, Vessel


@dataclass(frozen=True, slots=True)
class Sensor:
    """A transmitter that looks down into a vessel: `near..far` cm as `low..high` of its signal, or, where that `rises`
    with the level, as `high..low`."""

    wire: InputWire
    channel: Channel
    part: Part
    vessel: Part
    mounting: float
    near: float
    far: float
    low: float
    high: float
    rises: bool = False

    def distance_at(self, percent: float) -> float:
        """The distance (cm) at which the signal stands so far (%) up its range."""
        return self.near + (self.far - self.near) * (100 - percent if self.rises else percent) / 100

    def signal_at(self, level: float) -> float:
        """The signal for a level (cm), noise and faults apart: what a first measurement sends."""
        inputs: dict[str, Scalar] = {each.name: each.start for each in self.part.inputs}
        inputs["level"] = level
        state = {variable.name: variable.start for variable in self.part.variables}
        return float(self.part.settle(state, inputs)["signal"])

    def level_at(self, share: float) -> float:
        """The level (cm) at a share of the span: 0 is the farthest that it sees."""
        return self.mounting - (self.far - (self.far - self.near) * share)

    def volume_at(self, level: float) -> float | None:
        """The vessel's volume (L) at a level; None beyond its floor or rim."""
        volume = next(v for v in self.vessel.variables if v.name == "volume")
        state = {v.name: v.start for v in self.vessel.variables}
        low, high = float(volume.low), float(volume.high)
        if not self._level(state, low) - 1e-9 <= level <= self._level(state, high) + 1e-9:
            return None
        for _ in range(100):
            middle = (low + high) / 2
            if self._level(state, middle) < level:
                low = middle
            else:
                high = middle
        return high

    def _level(self, state: Mapping[str, Scalar], volume: float) -> float:
        return float(self.vessel.look(PLAIN, {**state, "volume": volume}, {})["level"])


def sensors_of(program: Program) -> Iterator[Sensor]:
    """Every wired level transmitter of which mounting, span and vessel are known."""
    if program.plant is None:
        return
    parts = {part.name: part for part in program.plant.assembly.parts}
    for wire in program.plant.inputs:
        if wire.source is None or wire.channel is None:
            continue
        part = parts[wire.source.partition(".")[0]]
        sees, mounting, signal = part.given.get("sees"), part.given.get("mounting"), nominal(part)
        looked_at = next((i.of for i in part.inputs if i.source == "part" and i.name == "level"), "")
        vessel = parts.get(looked_at.partition(".")[0])
        if not (isinstance(sees, tuple) and isinstance(mounting, float | int) and signal):
            continue
        if isinstance(vessel, Vessel):
            near, far = (float(end) for end in sees)
            rises = part.given.get("rises") is True
            yield Sensor(wire, wire.channel, part, vessel, float(mounting), near, far, signal[0], signal[1], rises)


def nominal(part: Part) -> tuple[float, float] | None:
    """The range over which a part's signal means something, as its line says."""
    for slot in ("voltage", "current"):
        given = part.given.get(slot)
        if isinstance(given, tuple) and len(given) == 2:
            return float(given[0]), float(given[1])
    return None


def reading(channel: Channel, signal: float) -> float:
    """What the input tag holds at a signal: counts rounded half to even, held within the channel."""
    if channel.counts_low is None or channel.counts_high is None:
        return min(max(signal, channel.low), channel.high)
    span = channel.counts_high - channel.counts_low
    counts = round(channel.counts_low + (signal - channel.low) * span / (channel.high - channel.low))
    return float(
        min(max(counts, min(channel.counts_low, channel.counts_high)), max(channel.counts_low, channel.counts_high))
    )


@dataclass(frozen=True, slots=True)
class Belief:
    """A tag worked out from one input alone. `direct` if no other worked-out tag stands between."""

    tag: Tag
    expression: Expression
    span: Span
    direct: bool
    through: frozenset[str]


def beliefs(program: Program, input_tag: str) -> list[Belief]:
    """The assignments that follow from one input tag, constants and parameters alone, in rung order."""
    controller = program.controller
    if controller is None:
        return []
    free = {t.name for t in controller.tags.values() if t.role == "parameter"}
    known = {input_tag}
    found: list[Belief] = []
    for rung in controller.rungs:
        for output in rung.outputs:
            if output.kind != "assign" or output.value is None:
                continue
            tags = {leaf.tag for leaf in leaves(output.value) if isinstance(leaf, TagValue)}
            if tags & known and tags <= known | free and _at_rest(output.value):
                through = frozenset(tags - free - {input_tag})
                found.append(Belief(controller.tags[output.target], output.value, output.span, not through, through))
                known.add(output.target)
    return found


def _at_rest(value: Expression) -> bool:
    return not any(type(leaf).__name__ in ("Rate", "Pi") for leaf in leaves(value) if isinstance(leaf, Typed))


def believed(program: Program, input_tag: str, held: float) -> dict[str, float]:
    """What every such tag comes to when the input tag holds `held`; the later assignment wins."""
    known: dict[str, Scalar] = {input_tag: held}
    if program.controller is not None:
        known |= {t.name: t.start for t in program.controller.tags.values() if t.role == "parameter"}
    values: dict[str, float] = {}
    for belief in beliefs(program, input_tag):
        try:
            value = evaluate(belief.expression, known)
        except NotKnownError:
            continue
        values[belief.tag.name] = known[belief.tag.name] = value
    return values
