"""Plant lines for tests, read by a small reader of our own: `plant` knows no grammar."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Any

import pint
import pytest
from rungproof.plant.assembly import Assembly
from rungproof.plant.catalogue import KINDS
from rungproof.plant.clauses import Interval, Item, Matched, Quantity, Quoted, Word, match
from rungproof.plant.operators import PLAIN
from rungproof.plant.part import Part

UNITS = pint.UnitRegistry()
NUMBER = r"[-+]?\d+(?:\.\d+)?"
UNIT = r"[A-Za-zµ%][A-Za-z0-9/%]*"
TOKEN = re.compile(
    rf"(?P<low>{NUMBER})(?: (?P<low_unit>{UNIT}))?\.\.(?P<high>{NUMBER})(?: (?P<high_unit>{UNIT}))?"
    rf'|(?P<number>{NUMBER})(?: (?P<unit>{UNIT}))?|"(?P<text>[^"]*)"|(?P<word>[A-Za-z][\w.-]*)'
)
NOT_UNITS = {"as", "deep", "into", "from", "a", "positions"}


def convert(value: float, from_unit: str, to_unit: str) -> float | None:
    """Unit conversion by pint; None where the dimensions differ or a unit is unknown."""
    names = {"%": "percent", "mL": "milliliter", "L": "liter", "m3": "meter**3"}
    try:
        from_text, to_text = ("/".join(names.get(u, u) for u in unit.split("/")) for unit in (from_unit, to_unit))
        return float(UNITS.Quantity(value, from_text).to(to_text).magnitude)
    except (pint.errors.PintError, AttributeError):
        return None


def items_of(clause: str) -> list[Item]:
    """The items of one clause."""
    items: list[Item] = []
    position = 0
    while position < len(clause):
        found = TOKEN.match(clause, position)
        assert found, clause[position:]
        position = found.end()
        part = found.groupdict()
        if part["low"] is not None:
            low = Quantity(float(part["low"]), part["low_unit"])
            items.append(Interval(low, Quantity(float(part["high"]), part["high_unit"])))
        elif part["number"] is not None:
            unit = part["unit"]
            if unit in NOT_UNITS:
                position = found.end("number")
                unit = None
            items.append(Quantity(float(part["number"]), unit))
        elif part["text"] is not None:
            items.append(Quoted(part["text"]))
        else:
            items.append(Word(part["word"]))
        while clause[position : position + 1] == " ":
            position += 1
    return items


def read(line: str, kinds: Mapping[str, type[Part]] = KINDS) -> tuple[type[Part], str, Matched]:
    """A plant line: its class, its name and its matched clauses."""
    kind, name, *rest = line.split(maxsplit=2)
    clauses = [items_of(" ".join(clause.split())) for clause in rest[0].split(",")] if rest else []
    return kinds[kind], name, match(kinds[kind], clauses, convert)


def part_of(line: str, dt_ms: int = 5, kinds: Mapping[str, type[Part]] = KINDS) -> Part:
    """The part of a line that is right."""
    part_class, name, matched = read(line, kinds)
    assert not matched.problems, matched.problems
    return part_class(name, matched.given, dt_ms)


def plant_of(text: str, dt_ms: int = 5, kinds: Mapping[str, type[Part]] = KINDS) -> Assembly:
    """The plant of several lines, one part each."""
    return Assembly([part_of(line.strip(), dt_ms, kinds) for line in text.strip().splitlines() if line.strip()])


#: One plant with every kind of part, and each of its variants that calculates differently.
EVERYTHING = """
    reservoir cistern holds 2000 L, starts at 1500 L, additive 0 g/L
    reservoir canister holds 25 L, additive 120 g/L
    tank header upright cylinder, diameter 60 cm, height 110 cm, starts at 60 L, additive 1 g/L
    tank silo upright cylinder, diameter 80 cm, height 90 cm, cone bottom 30 cm deep, starts at 2 L, additive 0 g/L
    tank boiler lying cylinder, diameter 60 cm, length 1 m, ellipsoidal ends, starts at 90 L, additive 0 g/L
    tank drum lying cylinder, diameter 60 cm, length 1 m, starts at 9 L, additive 0 g/L
    tank vat upright cylinder, diameter 60 cm, height 50 cm, torispherical ends, starts at 50 L, additive 0 g/L
    tank bowl upright cylinder, diameter 60 cm, height 50 cm, hemispherical bottom, starts at 50 L, additive 0 g/L
    tank trough rectangular, length 2 m, width 50 cm, height 60 cm, starts at 30 cm, additive 0 g/L
    pump feed_pump from cistern into header, 0..12 L/min, deadband 0.8 V, lag 0.4 s
    pump drain_pump from trough, 0..90 L/min, fixed speed, lag 1 s, loses prime when dry
    pump mains into silo, 2..20 L/min
    dosing_pump D1 from canister into header, doses 200 mL/min
    dosing_pump D2 from canister into vat, stroke 5 mL
    valve V1 from silo into boiler, flow 20 L/min, opens in 1 s, closes in 2 s
    valve V2 from boiler into drum, flow 20 L/min, normally open
    outlet drip_lines from header into cistern, orifice 8 mm, coefficient 0.61, opening 0..100 %
    outlet tap from drum into bowl, orifice 8 mm, at 4 cm, opening 40 %
    siphon relief from bowl into trough, bore 12 mm, losses 1.5, inlet at 5 cm, crest at 40 cm, discharges 80 cm below
    demand yard from header, 0..8 L/min
    demand street from vat, hourly 2 1 4 L/min
    level_transmitter LT1 above header at 135 cm, sees 25 cm..125 cm as 0..10 V, noise 2 mm, every 100 ms
    level_transmitter LT2 above silo at 2 m, sees 10 cm..2 m as 4..20 mA, air -10..40 degC, on lost echo 21 mA
    level_transmitter LT3 above vat at 1 m, sees 10 cm..1 m as 0..10 V, air 0..40 degC, compensated, blanking 30 cm
    level_probe B1 in header at 20 cm, make contact
    level_probe B2 in header at 50 cm, break contact
    float_switch LS1 in header, contact opens on rise at 95 cm, closes on fall at 92 cm
    float_switch LS2 in trough, contact closes on rise at 25 cm, opens on fall at 10 cm
    push_button S1 make contact, break contact
    emergency_stop S0 latching, break contacts 2
    guard_switch G1 make contacts 2
    selector S4 positions 3
    relay K1 pulls in 20 ms, drops out 30 ms, make contacts 2, break contact
    contactor Q1 pulls in 30 ms, drops out 20 ms, make contact, break contact
    supply P24 24 V
    lamp H1
    horn P1
    motor M1 runs up 1 s, runs down 5 s
    fan F1 runs up 3 s, runs down 8 s, airflow contact closes at 60 %, opens at 40 %
    press PR1 stroke 300 mm, advances in 2 s, returns in 1 s
    fuse FU1 from P24
    fuse FU2
    breaker QF1 from FU1, make contact, break contact
    breaker QF2
    common C0 from QF1
    delay_relay KT1 operates after 200 ms, make contact, break contact
    delay_relay KT2 operates after 20 ms, releases after 100 ms, make contact
    latching_relay K5 make contact, break contact
    overload_relay FR1 watches M1, trips after 0.2 s, cools in 0.3 s, make contact, break contact
    overload_relay FR2 watches F1, trips after 0.2 s, cools in 0.3 s, automatic reset, break contact
    safety_module K9 discrepancy 50 ms, monitored reset, make contacts 2, break contact
    safety_module K8 automatic reset, make contact
    key_switch S7 positions 2
    dial R1 gives 0..10 V, starts at 40 %
    dial R2 gives 4..20 mA
    two_hand_station S5 together within 500 ms
    flow_switch FS1 behind feed_pump, lifts at 3 L/min, falls at 2 L/min, make contact
    flow_switch FS2 behind drip_lines, lifts at 3 L/min, after 50 ms, break contact
    flow_meter FT1 behind feed_pump, reads 0..20 L/min as 4..20 mA, lag 1 s, pulse 500 mL
    flow_meter FT2 behind mains, reads 0..20 L/min as 0..10 V
    drive U1 ready after 20 ms, runs up 1 s, runs down 3 s, deadband 0.5 V
    drive U2 fixed speed, runs up 1 s
    mixer A1 mixes in 30 s, settles in 10 min, runs up 1 s, runs down 2 s
    water_heater E1 power 3 kW, holding 100 mL, loses 12 W, thermostat opens at 21 degC, closes at 20.2 degC, {limiter}
    door D5 opens in 0.4 s, closes in 0.5 s
    beacon H5 flashes every 500 ms
    text_panel D7 messages "Pump has failed" "Filling" "Full"
    text_panel D8 messages "Filling" "Full", numbered by 0..10 V
""".format(limiter="limiter opens at 21.1 degC")


class Run:
    """A plant on its way, in plain numbers: drive and environment stand until they are changed."""

    def __init__(self, text: str, dt_ms: int = 5) -> None:
        self.assembly = plant_of(text, dt_ms)
        self.dt_ms = dt_ms
        self.state = self.assembly.start()
        self.time_ms = 0
        self.drive: dict[str, Any] = {}
        self.env: dict[str, Any] = {}

    def __getitem__(self, key: str) -> Any:
        return self.assembly.look(PLAIN, self.state, self.env)[key]

    def tick(self) -> None:
        """One tick."""
        look = self.assembly.look(PLAIN, self.state, self.env)
        self.state = self.assembly.tick(PLAIN, self.state, look, self.drive, self.env)
        self.time_ms += self.dt_ms

    def ticks(self, duration_ms: int) -> None:
        """As many ticks as the duration holds."""
        for _ in range(duration_ms // self.dt_ms):
            self.tick()

    def until(self, reached: Callable[[], bool], limit_ms: int) -> int:
        """The time (ms) at which `reached` first holds."""
        while not reached():
            assert self.time_ms < limit_ms, "not reached in time"
            self.tick()
        return self.time_ms


@pytest.fixture(scope="session")
def run() -> Callable[..., Run]:
    """Builds a running plant from its lines."""
    return Run


@pytest.fixture(scope="session")
def plant() -> Callable[..., Assembly]:
    """Builds a plant from its lines."""
    return plant_of


@pytest.fixture(scope="session")
def everything() -> Assembly:
    """The plant with every kind of part; without state, so that all tests may share it."""
    return plant_of(EVERYTHING)


@pytest.fixture(scope="session")
def matched() -> Callable[[str], Matched]:
    """Matches the clauses of a line."""
    return lambda line: read(line)[2]


@pytest.fixture(scope="session")
def part() -> Callable[..., Part]:
    """Builds a part from its line."""
    return part_of
