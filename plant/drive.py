"""A drive with the motor on it: enable, run, ready and running."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rungproof.plant.given import flag, not_negative, whole_ticks, within
from rungproof.plant.operators import Ops, Value
from rungproof.plant.part import Clause, Contact, Fault, Given, Input, Output, Part, Variable
from rungproof.plant.travel import Lag

#: Above this share of full speed the shaft counts as turning (%).
TURNING = 1.0

#: The full speed signal (V).
FULL_SIGNAL = 10.0


class Drive(Part):
    """A variable-speed drive and its motor.

        drive U1  ready after 2 s, runs up 1 s, runs down 3 s, deadband 0.5 V
        drive U2  ready after 1 s, fixed speed, runs up 1 s, runs down 3 s

        ready'   = supplied for the time, and not tripped
        running' = ready and enable and run
        target   = 100 (u - d)/(10 - d) % if running and u > d, else 0;  100 % at fixed speed
        speed'   = speed + (target - speed) dt/(T + dt)                  backward Euler

    Inputs `supply`, `enable`, `run` (all driven), `speed` (0..10 V). Without supply or enable
    the shaft coasts to a stop by its own time constant: enable is no rated safe stop here.
    A trip stands until the supply has been away. Shows `energised`, `ready`, `running`,
    `turning`, `speed_now` (%). Make contacts `ready` and `running` are its own statements.
    Source: first-order lag, textbook; ready and run feedback: common practice, no source.
    """

    kind = "drive"
    clauses = (
        Clause("ready after {ready_after:ms}"),
        Clause("runs up {runs_up:s}"),
        Clause("runs down {runs_down:s}"),
        Clause("deadband {deadband:V}"),
        Clause("fixed speed", flag="fixed_speed"),
    )
    faults = (
        Fault("not_ready", "the drive does not become ready"),
        Fault("trips", "the drive trips"),
        Fault("keeps_running", "the drive runs on though its run signal has gone"),
        Fault("ignores_enable", "the drive no longer minds its enable input"),
        Fault("runs_full", "the drive goes to full speed, whatever the signal says"),
        Fault("stalled", "the shaft does not turn"),
    )
    contacts = (Contact("is_ready", "make"), Contact("is_running", "make"))

    def __init__(self, name: str, given: Mapping[str, Given], dt_ms: int) -> None:
        super().__init__(name, given, dt_ms)
        self._waits = whole_ticks(given, "ready_after", dt_ms, 0)
        self._lag = Lag(not_negative(given, "runs_up", 0.0), not_negative(given, "runs_down", 0.0), self.dt_s)
        self._deadband = within(given, "deadband", 0.0, 9.9, 0.0)
        self._per_volt = 100.0 / (FULL_SIGNAL - self._deadband)
        self.fixed = flag(given, "fixed_speed")
        self.inputs = tuple(Input(each, "driven", "bool") for each in ("supply", "enable", "run"))
        if not self.fixed:
            self.inputs += (Input("speed", "driven", "real", "V", 0.0, FULL_SIGNAL, 0.0),)
        self.variables = (
            Variable("energised", "bool", False),
            Variable("waited_ms", "int", 0, None, 0, self._waits + dt_ms),
            Variable("tripped", "bool", False),
            Variable("ready", "bool", False),
            Variable("running", "bool", False),
            Variable("speed_now", "real", 0.0, "%", 0.0, 100.0),
        )
        self.outputs = (
            *(Output(each, "bool") for each in ("energised", "ready", "running", "turning")),
            Output("speed_now", "real", "%", 0.0, 100.0),
        )

    def closed(self, ops: Ops, state: Mapping[str, Value], contact: Contact) -> Any:
        return state["ready"] if contact.name == "is_ready" else state["running"]

    def _target(self, ops: Ops, inputs: Mapping[str, Value], faults: Mapping[str, Value]) -> Any:
        if self.fixed:
            return 100.0
        signal = ops.min(ops.max(inputs["speed"], 0.0), FULL_SIGNAL)
        asked = ops.select(signal > self._deadband, (signal - self._deadband) * self._per_volt, 0.0)
        return ops.select(faults["runs_full"], 100.0, asked)

    def step(
        self, ops: Ops, state: Mapping[str, Value], inputs: Mapping[str, Value], faults: Mapping[str, Value]
    ) -> dict[str, Any]:
        supply = inputs["supply"]
        waited = ops.select(supply, ops.min(state["waited_ms"] + self.dt_ms, self._waits + self.dt_ms), 0)
        tripped = ops.both(supply, ops.either(state["tripped"], faults["trips"]))
        ready = ops.both(waited > self._waits, ops.inverse(ops.either(tripped, faults["not_ready"])))
        enabled = ops.either(inputs["enable"], faults["ignores_enable"])
        asked = ops.either(inputs["run"], ops.both(state["running"], faults["keeps_running"]))
        running = ops.both(ready, ops.both(enabled, asked))
        target = ops.select(running, self._target(ops, inputs, faults), 0.0)
        speed = self._lag.followed(ops, state["speed_now"], target)
        return {
            "energised": ops.both(supply, running),
            "waited_ms": waited,
            "tripped": tripped,
            "ready": ready,
            "running": running,
            "speed_now": ops.select(faults["stalled"], 0.0, speed),
        }

    def look(self, ops: Ops, state: Mapping[str, Value], faults: Mapping[str, Value]) -> dict[str, Any]:
        return {"turning": state["speed_now"] > TURNING}
