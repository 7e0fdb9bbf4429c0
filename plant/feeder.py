"""What stands between a supply and what it feeds: fuses, circuit breakers, common returns."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rungproof.plant.contacts import contacts_of
from rungproof.plant.given import part_name
from rungproof.plant.operators import Ops, Value
from rungproof.plant.part import Clause, Contact, Fault, Given, Input, Output, Part, Variable

FROM_CLAUSE = Clause("from {source:part}")


class Feeder(Part):
    """A part of the way from a supply: it passes the supply on, or opens.

    With `from P24` it shows `live`, and circuits and modules can be fed from it as from a
    supply: live = what feeds it was live one tick ago, and the way is whole. A subclass says
    in `whole` when it is.
    """

    def __init__(self, name: str, given: Mapping[str, Given], dt_ms: int) -> None:
        super().__init__(name, given, dt_ms)
        source = part_name(given, "source")
        self.feeds = source is not None
        if source is not None:
            self.inputs = (Input("source_live", "part", "bool", of=f"{source}.live"),)
            self.variables = (Variable("fed", "bool", True),)
            self.outputs = (Output("live", "bool"),)

    def whole(self, ops: Ops, state: Mapping[str, Value], faults: Mapping[str, Value]) -> Any:
        """Whether the way is closed at this instant."""
        raise NotImplementedError(f"{self.kind} does not say when it is whole")

    def look(self, ops: Ops, state: Mapping[str, Value], faults: Mapping[str, Value]) -> dict[str, Any]:
        return {"live": ops.both(state["fed"], self.whole(ops, state, faults))} if self.feeds else {}

    def feed(self, inputs: Mapping[str, Value]) -> dict[str, Any]:
        """The variable that every feeder keeps, after a tick."""
        return {"fed": inputs["source_live"]} if self.feeds else {}

    def settle(self, state: Mapping[str, Any], inputs: Mapping[str, Any]) -> dict[str, Any]:
        return {**state, "fed": inputs["source_live"]} if self.feeds else dict(state)


class Fuse(Feeder):
    """A fuse: it conducts until it has blown, and then stays open until somebody replaces it.

        fuse F1  from P24
        fuse F2

    `from P24`: circuits and modules may be fed `from F1`. Contact 1, closed while the fuse is
    whole, stands in a circuit where it protects one branch. Fault `blown` comes and goes with
    the fault: taking it away is the replacement. Currents and ratings are not modelled, so
    nothing blows by itself. Source: operation of a fuse, IEC 60269-1 (from memory).
    """

    kind = "fuse"
    clauses = (FROM_CLAUSE,)
    faults = (Fault("blown", "the fuse has blown"),)
    contacts = (Contact("1", "make"),)

    def __init__(self, name: str, given: Mapping[str, Given], dt_ms: int) -> None:
        super().__init__(name, given, dt_ms)
        self.variables += (Variable("gone", "bool", False),)

    def whole(self, ops: Ops, state: Mapping[str, Value], faults: Mapping[str, Value]) -> Any:
        return ops.inverse(faults["blown"])

    def operated(self, ops: Ops, state: Mapping[str, Value]) -> Any:
        return ops.inverse(state["gone"])

    def step(
        self, ops: Ops, state: Mapping[str, Value], inputs: Mapping[str, Value], faults: Mapping[str, Value]
    ) -> dict[str, Any]:
        return {**self.feed(inputs), "gone": faults["blown"]}


class CommonReturn(Feeder):
    """The common return of several consumers: where it comes off, all of them are dead.

        common C0  from P24

    Circuits and modules whose returns meet there are fed `from C0`. Shows `live`.
    Source: common practice, no source.
    """

    kind = "common"
    clauses = (Clause("from {source:part}", required=True),)
    faults = (Fault("broken", "the common return is off its terminal"),)

    def whole(self, ops: Ops, state: Mapping[str, Value], faults: Mapping[str, Value]) -> Any:
        return ops.inverse(faults["broken"])

    def step(
        self, ops: Ops, state: Mapping[str, Value], inputs: Mapping[str, Value], faults: Mapping[str, Value]
    ) -> dict[str, Any]:
        return self.feed(inputs)


class Breaker(Feeder):
    """A circuit breaker: switched by hand, opened by its release, closed again by hand only.

        breaker Q0  from P24, make contact, break contact

        on' = switched_on and not releasing and (on or it has just been switched on)

    Input `switched_on`: the lever, on at first. It trips free: a lever that is held does not
    keep it in, and once released it closes only when the lever goes off and on again. Shows
    `on`, and `live` where it stands `from` a supply. Contact `main` is its pole in a circuit;
    the others are auxiliaries, numbered from 1. Ratings are not modelled: only the fault
    `releases` opens it by itself. Source: trip-free closing, IEC 60947-2 (from memory).
    """

    kind = "breaker"
    clauses = (
        FROM_CLAUSE,
        Clause("make contact", flag="make_contact"),
        Clause("break contact", flag="break_contact"),
        Clause("make contacts {make_contacts:int}"),
        Clause("break contacts {break_contacts:int}"),
    )
    faults = (
        Fault("releases", "its release opens it"),
        Fault("seized", "neither lever nor release opens it"),
    )

    def __init__(self, name: str, given: Mapping[str, Given], dt_ms: int) -> None:
        super().__init__(name, given, dt_ms)
        self.inputs += (Input("switched_on", "operator", "bool", start=True),)
        self.variables += (Variable("on", "bool", True), Variable("lever", "bool", True))
        self.outputs += (Output("on", "bool"),)
        self.contacts = (Contact("main", "make"), *contacts_of(given, needed=False))

    def whole(self, ops: Ops, state: Mapping[str, Value], faults: Mapping[str, Value]) -> Any:
        return state["on"]

    def operated(self, ops: Ops, state: Mapping[str, Value]) -> Any:
        return state["on"]

    def step(
        self, ops: Ops, state: Mapping[str, Value], inputs: Mapping[str, Value], faults: Mapping[str, Value]
    ) -> dict[str, Any]:
        lever = inputs["switched_on"]
        closing = ops.either(state["on"], ops.both(lever, ops.inverse(state["lever"])))
        on = ops.both(ops.both(lever, ops.inverse(faults["releases"])), closing)
        held = ops.both(state["on"], faults["seized"])
        return {**self.feed(inputs), "on": ops.either(on, held), "lever": lever}
