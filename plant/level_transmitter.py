"""An ultrasonic level transmitter above a tank."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from rungproof.plant.given import flag, interval, needed_part, not_negative, positive, whole_ticks
from rungproof.plant.operators import PLAIN, Ops, Value
from rungproof.plant.part import Clause, Fault, Given, Input, Output, Part, PartError, Variable

#: Temperatures at which sound travels as the device takes it to (degC and K): ISO 9613-1's reference.
REFERENCE_K = 293.15
ZERO_K = 273.15

#: A drifting transmitter loses this share of its span per second, up to the greatest share.
#: Declared sizes, no source.
DRIFT_PER_S = 0.001
DRIFT_MOST = 0.25

#: How far a wrong temperature reading is off (K). A declared size, no source.
MISREAD_K = 30.0

#: What a 4..20 mA transmitter sends to say that it has failed, low and high (mA): within NE 43's
#: bands, at most 3.6 and at least 21 mA.
FAILED_MA = (3.5, 21.5)


class LevelTransmitter(Part):
    """Measures the distance from its mounting down to the liquid, and sends it as a signal.

        level_transmitter LT1  above header at 135 cm, sees 25 cm..125 cm as 0..10 V, on lost echo 10 V,
                               noise 2 mm, every 100 ms
        level_transmitter LT2  above well at 5 m, sees 50 cm..5 m as 4..20 mA, air -10..35 degC, blanking 30 cm
        level_transmitter LT3  above vat at 3 m, sees 50 cm..3 m as 4..20 mA, rises with level

        distance = mounting - level + drift
        seen     = distance sqrt(293.15 / (273.15 + T)) + noise    it takes sound to travel as at 20 degC
        signal   = from + (to - from)(seen - near)/(far - near), held within from..to

    The signal grows with the distance, from the lower end of its range at the near end; with
    `rises with level` it is the other way round: the upper end at the near end, where the tank is full.
    Measures `every` so often (each tick where not said) and holds in between. Nearer than
    `blanking` there is no echo. Without an echo the signal goes to the value `on lost echo`,
    or stays where it was. `air 5..35 degC` makes the temperature a disturbance, 20 degC unless
    something sets it; `compensated` takes its effect away. `noise` is uniform within +-.
    Shows `signal` (V or mA) and `echo`. The signal at time 0 is what a first measurement gives.
    Source: c = 343.2 sqrt(T/293.15) m/s, ISO 9613-1 (from memory); signals: IEC 60381.
    """

    kind = "level_transmitter"
    clauses = (
        Clause("above {vessel:part} at {mounting:cm}", required=True),
        Clause("sees {sees:cm..} as {voltage:V..}"),
        Clause("sees {sees:cm..} as {current:mA..}"),
        Clause("rises with level", flag="rises"),
        Clause("on lost echo {lost_voltage:V}"),
        Clause("on lost echo {lost_current:mA}"),
        Clause("noise {noise:cm}"),
        Clause("every {every:ms}"),
        Clause("blanking {blanking:cm}"),
        Clause("air {air:degC..}"),
        Clause("compensated", flag="compensated"),
    )
    faults = (
        Fault("echo_lost", "no echo comes back"),
        Fault("false_echo", "something near the transmitter sends the echo back"),
        Fault("frozen", "the signal stays where it is"),
        Fault("drifting", "the distance it shows grows slowly"),
        Fault("fails_low", "it has failed and sends nothing, or on 4..20 mA its low failure current"),
        Fault("fails_high", "it has failed and sends full scale, or on 4..20 mA its high failure current"),
        Fault("blanked", "drops on its face: it sees nothing in the nearer half of its range"),
        Fault("multiple_echo", "the echo comes back twice over: it shows twice the distance"),
        Fault("wrong_temperature", "it takes the air for 30 K warmer than it is"),
    )

    def __init__(self, name: str, given: Mapping[str, Given], dt_ms: int) -> None:
        super().__init__(name, given, dt_ms)
        self.vessel = needed_part(given, "vessel")
        self._mounting = positive(given, "mounting")
        self.unit = "mA" if "current" in given else "V"
        self._read_ranges()
        self._blanking = not_negative(given, "blanking", 0.0)
        self._noise = not_negative(given, "noise", 0.0)
        self._every = max(whole_ticks(given, "every", dt_ms, dt_ms), dt_ms)
        self.inputs = (Input("level", "part", "real", "cm", 0.0, 1e5, of=f"{self.vessel}.level"),)
        self.warms = "air" in given and not flag(given, "compensated")
        if self.warms:
            low, high = interval(given, "air", low=-60.0)
            if high > 100:
                raise PartError("air", f"air of {high:g} degC is beyond what the formula of sound is for")
            start = min(max(20.0, low), high)
            self.inputs += (Input("temperature", "disturbance", "real", "degC", low, high, start),)
        if self._noise > 0:
            self.inputs += (Input("noise", "noise", "real", None, -1.0, 1.0, 0.0, every_ms=self._every),)
        self._declare()

    def _read_ranges(self) -> None:
        given = self.given
        if "sees" not in given:
            raise PartError("sees", "says nothing of what it sees", "write `sees 25 cm..125 cm as 0..10 V`")
        self._near, self._far = interval(given, "sees", low=0.0)
        slot, lost = ("current", "lost_current") if self.unit == "mA" else ("voltage", "lost_voltage")
        self._from, self._to = interval(given, slot)
        if flag(given, "rises"):
            self._from, self._to = self._to, self._from
        other = "lost_voltage" if self.unit == "mA" else "lost_current"
        if other in given:
            raise PartError(other, f"sends {self.unit}: the signal on a lost echo must be in {self.unit} too")
        value = given.get(lost)
        self._lost = float(value) if isinstance(value, int | float) else None
        self._slope = (self._to - self._from) / (self._far - self._near)
        self._drift_most = DRIFT_MOST * (self._far - self._near)

    def _declare(self) -> None:
        self._failed = FAILED_MA if self.unit == "mA" else (0.0, max(self._from, self._to))
        if self.unit == "mA" and min(self._from, self._to) < FAILED_MA[0]:
            self._failed = (0.0, FAILED_MA[1])  # a dead zero says nothing that 0 mA does not
        ends = [self._from, self._to, *self._failed] + ([self._lost] if self._lost is not None else [])
        low, high = min(ends), max(ends)
        self.variables = (
            Variable("signal", "real", self._to, self.unit, low, high),
            Variable("echo", "bool", True),
            Variable("drift", "real", 0.0, "cm", 0.0, self._drift_most),
        )
        if self._every > self.dt_ms:
            self.variables += (Variable("waited_ms", "int", 0, None, 0, self._every - self.dt_ms),)
        self.outputs = (Output("signal", "real", self.unit, low, high), Output("echo", "bool"))

    def _signal(self, ops: Ops, seen: Value) -> Any:
        signal = self._from + (seen - self._near) * self._slope
        return ops.max(min(self._from, self._to), ops.min(signal, max(self._from, self._to)))

    def _measure(
        self, ops: Ops, state: Mapping[str, Value], inputs: Mapping[str, Value], faults: Mapping[str, Value]
    ) -> tuple[Any, Any]:
        """Signal and echo of a measurement made now."""
        distance = ops.max(self._mounting - inputs["level"] + state["drift"], 0.0)
        blind = ops.select(faults["blanked"], max((self._near + self._far) / 2, self._blanking), self._blanking)
        echo = ops.inverse(ops.either(faults["echo_lost"], distance < blind))
        distance = ops.select(faults["multiple_echo"], distance + distance, distance)
        misread = distance * math.sqrt(1 + MISREAD_K / REFERENCE_K)
        distance = ops.select(faults["wrong_temperature"], misread, distance)
        if self.warms:
            distance = distance * ops.sqrt(ops.divide(REFERENCE_K, inputs["temperature"] + ZERO_K))
        if self._noise > 0:
            distance = distance + inputs["noise"] * self._noise
        seen = ops.select(faults["false_echo"], self._near, distance)
        lost = state["signal"] if self._lost is None else self._lost
        return ops.select(echo, self._signal(ops, seen), lost), echo

    def step(
        self, ops: Ops, state: Mapping[str, Value], inputs: Mapping[str, Value], faults: Mapping[str, Value]
    ) -> dict[str, Any]:
        signal, echo = self._measure(ops, state, inputs, faults)
        hold = faults["frozen"]
        after: dict[str, Any] = {}
        if self._every > self.dt_ms:
            waited = state["waited_ms"] + self.dt_ms
            after["waited_ms"] = ops.select(waited < self._every, waited, 0)
            hold = ops.either(hold, state["waited_ms"] > 0)
        signal = ops.select(hold, state["signal"], signal)
        signal = ops.select(faults["fails_high"], self._failed[1], signal)
        after["signal"] = ops.select(faults["fails_low"], self._failed[0], signal)
        after["echo"] = ops.select(hold, state["echo"], echo)
        grown = ops.min(state["drift"] + (self._far - self._near) * DRIFT_PER_S * self.dt_s, self._drift_most)
        after["drift"] = ops.select(faults["drifting"], grown, 0.0)
        return after

    def settle(self, state: Mapping[str, Any], inputs: Mapping[str, Any]) -> dict[str, Any]:
        signal, echo = self._measure(PLAIN, state, inputs, dict.fromkeys((f.name for f in self.faults), False))
        return {**state, "signal": signal, "echo": echo}
