"""Random plants with circuits and wiring around a random controller, as text.

A plant is drawn part by part; every contact may be wired to an input, may stand in a
circuit, or both; every driven thing is driven by a terminal, by a circuit, or by nothing.
"""

from __future__ import annotations

import importlib.util
import sys
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from types import ModuleType


def sibling(name: str) -> ModuleType:
    """A module beside this one: test folders are no packages."""
    if name not in sys.modules:
        spec = importlib.util.spec_from_file_location(name, Path(__file__).with_name(f"{name}.py"))
        assert spec is not None and spec.loader is not None
        sys.modules[name] = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(sys.modules[name])
    return sys.modules[name]


Maker = sibling("generated_programs").Maker


@dataclass
class PlantMaker:
    """Draws the parts. `contacts` may be read, `coils` and `signals` may be driven, `truths` are
    contacts on the plant's truth that requirements may use."""

    random: Random
    lines: list[str] = field(default_factory=list)
    contacts: list[str] = field(default_factory=list)
    coils: list[str] = field(default_factory=list)
    signals: list[str] = field(default_factory=list)
    measured: list[tuple[str, str]] = field(default_factory=list)
    truths: list[str] = field(default_factory=list)
    supplies: list[str] = field(default_factory=list)

    def chance(self, share: float) -> bool:
        return self.random.random() < share

    def build(self, tick: int) -> None:
        self.tick = tick
        self.supplies = ["P1"] + (["P2"] if self.chance(0.5) else [])
        self.lines += [f"    supply {name} 24 V" for name in self.supplies]
        self.vessels()
        for make in (self.buttons, self.relays, self.movers, self.others, self.feeders, self.late, self.stations):
            make()

    def ms(self, *choices: int) -> str:
        return f"{self.random.choice(choices) * self.tick} ms"

    def vessels(self) -> None:
        rich = ", additive 20 g/L" if self.chance(0.3) else ""
        shape = self.random.choice(
            [
                "upright cylinder, diameter 40 cm, height 60 cm",
                "rectangular, length 1 m, width 20 cm, height 50 cm",
                "lying cylinder, diameter 50 cm, length 80 cm",
                "upright cylinder, diameter 40 cm, height 70 cm, cone bottom 20 cm deep",
            ]
        )
        self.lines.append(f"    reservoir cistern holds 500 L, starts at 90 L{rich}")
        self.lines.append(f"    tank header {shape}, starts at {self.random.choice([5, 20, 40])} L{rich}")
        self.truths += ["header.level < 25 cm", "header.volume between 10 L and 30 L", "cistern.volume > 80 L"]
        if self.chance(0.8):
            noise = f", noise {self.random.choice(['2 mm', '1 cm'])}" if self.chance(0.6) else ""
            every = f", every {self.ms(1, 4, 7)}" if self.chance(0.7) else ""
            lost = ", on lost echo 10 V" if self.chance(0.5) else ""
            air = self.random.choice(["", ", air 5..35 degC", ", air 5..35 degC, compensated"])
            mounted = "above header at 100 cm, sees 20 cm..90 cm as 0..10 V"
            self.lines.append(f"    level_transmitter LT1 {mounted}{lost}{noise}{every}{air}")
            self.measured.append(("LT1", "V"))
        if self.chance(0.4):
            self.lines.append("    level_transmitter LT2 above header at 1 m, sees 10 cm..95 cm as 4..20 mA")
            self.measured.append(("LT2", "mA"))
        if self.chance(0.7):
            self.lines.append("    float_switch LS1 in header, contact opens on rise at 30 cm, closes on fall at 28 cm")
            self.contacts.append("LS1")
            self.truths.append("LS1.up")
        if self.chance(0.4):
            self.lines.append("    level_probe B1 in header at 22 cm, make contact")
            self.contacts.append("B1")

    def buttons(self) -> None:
        for index in range(self.random.randint(1, 3)):
            kind = self.random.choice(["make contact", "break contact"])
            self.lines.append(f"    push_button S{index} {kind}")
            self.contacts.append(f"S{index}")
            self.truths.append(f"S{index}.pressed")
        if self.chance(0.5):
            self.lines.append("    emergency_stop S9 latching, break contacts 2")
            self.contacts += ["S9.1", "S9.2"]
            self.truths.append("S9.operated")
        if self.chance(0.3):
            self.lines.append("    guard_switch G1 starts closed, make contact")
            self.contacts.append("G1")
        if self.chance(0.3):
            self.lines.append("    selector S8 positions 3")
            self.truths.append("S8.position = 2")

    def relays(self) -> None:
        for index in range(self.random.randint(1, 3)):
            times = f"pulls in {self.ms(0, 1, 4)}, drops out {self.ms(0, 1, 6)}"
            if self.chance(0.7):
                self.lines.append(f"    relay K{index} {times}, make contacts 2, break contact")
                self.contacts += [f"K{index}.{i}" for i in (1, 2, 3)]
                self.truths.append(f"K{index}.pulled_in")
            else:
                self.lines.append(f"    contactor K{index} {times}, make contact")
                self.contacts += [f"K{index}.main", f"K{index}.1"]
            self.coils.append(f"K{index}")

    def movers(self) -> None:
        if self.chance(0.8):
            speed = self.random.choice(["deadband 0.8 V", "fixed speed", "deadband 0.5 V, lag 0.2 s"])
            self.lines.append(
                f"    pump M1 from cistern into header, 0..{self.random.choice([60, 300])} L/min, {speed}"
            )
            self.coils.append("M1.supply")
            self.truths += ["M1.energised", "M1.turning"]
            if "fixed" not in speed:
                self.signals.append("M1.speed")
        if self.chance(0.8):
            opening = self.random.choice(["opening 0..100 %", "opening 40 %", "opening 10..60 %, at 5 cm"])
            self.lines.append(f"    outlet drip from header into cistern, orifice 25 mm, coefficient 0.61, {opening}")
            self.truths.append("drip.flow > 2 L/min")
        if self.chance(0.4):
            self.lines.append("    valve V1 into header, flow 90 L/min, opens in 0.2 s, closes in 0.3 s")
            self.coils.append("V1")
            self.truths.append("V1.position > 50 %")
        if self.chance(0.3):
            self.lines.append("    demand yard from header, 0..200 L/min")
        if self.chance(0.25):
            self.lines.append("    siphon relief from header, bore 25 mm, crest at 33 cm, discharges 30 cm below")
        if self.chance(0.25):
            self.lines.append("    dosing_pump D1 from cistern into header, doses 20 L/min")

    def others(self) -> None:
        for kind, name, drive, truth in (
            ("lamp", "L1", "L1", "L1.lit"),
            ("horn", "H1", "H1", "H1.sounding"),
            ("motor", "M5", "M5.supply", "M5.turning"),
            ("fan", "F1", "F1.supply", "F1.flow > 30 %"),
        ):
            if self.chance(0.4):
                more = " runs up 0.2 s, runs down 0.4 s" if kind in ("motor", "fan") else ""
                contact = ", airflow contact closes at 60 %, opens at 40 %" if kind == "fan" else ""
                self.lines.append(f"    {kind} {name}{more}{contact}")
                self.coils.append(drive)
                self.truths.append(truth)
                if contact:
                    self.contacts.append("F1.airflow")
        if self.chance(0.3):
            self.lines.append("    press R1 stroke 80 mm, advances in 0.2 s, returns in 0.1 s")
            self.coils.append("R1.valve")
            self.contacts.append("R1.bottom")
            self.truths.append("R1.position > 30 mm")

    def feeders(self) -> None:
        """Fuses and the like, which others may be fed from."""
        if self.chance(0.3):
            self.lines.append("    fuse FU1 from P1")
            self.supplies.append("FU1")
            self.contacts.append("FU1")
        if self.chance(0.3):
            self.lines.append("    breaker QF1 from P1, make contact")
            self.lines.append("    common C0 from QF1")
            self.supplies.append("C0")
            self.contacts += ["QF1.main", "QF1.1"]
            self.truths.append("QF1.on")

    def late(self) -> None:
        """Relays that delay, latch, watch or stop."""
        if self.chance(0.4):
            times = self.random.choice([f"operates after {self.ms(1, 6)}", f"releases after {self.ms(1, 6)}"])
            self.lines.append(f"    delay_relay KT1 {times}, make contact, break contact")
            self.contacts += ["KT1.1", "KT1.2"]
            self.coils.append("KT1.coil")
            self.truths.append("KT1.elapsed > 10 ms")
        if self.chance(0.4):
            self.lines.append("    latching_relay KL1 make contact")
            self.contacts.append("KL1")
            self.coils += ["KL1.set_coil", "KL1.reset_coil"]
        if self.chance(0.4):
            self.lines.append("    motor M6 runs up 0.2 s, runs down 0.1 s")
            self.lines.append("    overload_relay FR1 watches M6, trips after 0.1 s, cools in 0.2 s, break contact")
            self.contacts.append("FR1")
            self.coils.append("M6.supply")
            self.truths += ["FR1.tripped", "FR1.heat > 0.5"]
        if self.chance(0.5):
            how = self.random.choice(["monitored", "automatic"])
            self.lines.append(
                f"    safety_module KS1 discrepancy {self.ms(2, 8)}, {how} reset, make contacts 2, break contact"
            )
            self.contacts += ["KS1.1", "KS1.2", "KS1.3"]
            self.coils += [f"KS1.{each}" for each in ("supply", "channel_1", "channel_2")]
            self.coils += ["KS1.reset"] if how == "monitored" else ["KS1.read_back"]
            self.truths += ["KS1.on", "KS1.locked"]

    def stations(self) -> None:
        """What people set and press, what flows, and other machines."""
        if self.chance(0.3):
            self.lines.append("    two_hand_station TH1 together within 100 ms")
            self.contacts += ["TH1.both", "TH1.left_button"]
        if self.chance(0.3):
            self.lines += ["    key_switch KS7 positions 2", "    dial DI1 gives 0..10 V, starts at 40 %"]
            self.contacts.append("KS7.2")
            self.measured.append(("DI1", "V"))
        if self.chance(0.4) and any(" pump M1 " in line for line in self.lines):
            self.lines.append("    flow_switch FS1 behind M1, lifts at 20 L/min, falls at 9 L/min, make contact")
            self.lines.append("    flow_meter FT1 behind M1, reads 0..90 L/min as 4..20 mA, lag 0.1 s, pulse 100 mL")
            self.contacts += ["FS1", "FT1.pulse"]
            self.measured.append(("FT1", "mA"))
            self.truths.append("FT1.seen > 15 L/min")
        for kind, name, drives, contacts, truth in (
            ("drive", "U1", ["supply", "enable", "run"], ["is_ready", "is_running"], "U1.speed_now > 20 %"),
            ("mixer", "A1", ["supply"], ["turns"], "A1.mixed > 1 %"),
            ("door", "D5", ["opens", "closes"], ["open", "closed", "edge"], "D5.position < 60 %"),
            ("beacon", "BE1", ["supply"], [], "BE1.lit"),
            ("text_panel", "TP1", ["message_1", "message_2"], [], "TP1.shows_2"),
            ("water_heater", "E1", ["supply"], ["thermostat"], "E1.temperature > 21 degC"),
        ):
            if self.chance(0.2):
                self.lines.append(f"    {kind} {name} {_MACHINES[kind].format(ready=self.ms(0, 4))}")
                self.coils += [f"{name}.{each}" for each in drives]
                self.contacts += [f"{name}.{each}" for each in contacts]
                self.truths.append(truth)


_MACHINES = {
    "drive": "ready after {ready}, runs up 0.2 s, runs down 0.1 s",
    "mixer": "mixes in 2 s",
    "door": "opens in 0.4 s, closes in 0.3 s",
    "beacon": "flashes every 100 ms",
    "text_panel": 'messages "Failed" "Running"',
    "water_heater": "power 3 kW, holding 1 L, loses 5 W, thermostat opens at 22 degC, closes at 21 degC",
}


def _wire_inputs(plant: PlantMaker, random: Random) -> tuple[dict[str, str], list[str]]:
    """Input tags and their wiring lines."""
    wired: dict[str, str] = {}
    lines = []
    for index, contact in enumerate(random.sample(plant.contacts, min(len(plant.contacts), random.randint(1, 5)))):
        wired[f"in_{index}"] = "bool"
        lines.append(f"    in_{index} at X1:{index + 1} from {contact}")
    if random.random() < 0.3:
        wired["spare_in"] = "bool"
        lines.append("    spare_in at X1:20")
    for index, (part, unit) in enumerate(plant.measured):
        span = "0..10 V" if unit == "V" else "4..20 mA"
        if random.random() < 0.6:
            wired[f"counts_{index}"] = "int 0..4095"
            lines.append(f"    counts_{index} at X2:{index + 1} {span} as 0..4095 from {part}")
        else:
            wired[f"level_{index}"] = "real V 0..10" if unit == "V" else "real mA 0..25"
            lines.append(f"    level_{index} at X2:{index + 1} {span} from {part}")
    return wired, lines


def _circuits(plant: PlantMaker, free: list[str], readable: list[str], random: Random) -> list[str]:
    """Circuits that drive `free` things from contacts and terminals, some through a node."""
    lines = []
    for index, supply in enumerate(plant.supplies):
        mine, free[:] = free[: len(free) // 2 + 1], free[len(free) // 2 + 1 :]
        if not mine:
            continue
        lines += ["", f'circuit "Circuit {index}" from {supply}']
        node = f"node_{index}"
        lines += [f"    rung first_{index}", f"        {_path(plant, readable, random)}", f"        => {node}"]
        for count, target in enumerate(mine):
            lines.append(f"    rung drive_{index}_{count}")
            lines.append(f"        {_path(plant, [*readable, node], random)}")
            if count == 0:
                lines.append(f"        {node}")
            when = f" when {random.choice(plant.contacts)}" if random.random() < 0.2 else ""
            lines.append(f"        => {target}{when}")
    return lines


def _path(plant: PlantMaker, readable: list[str], random: Random) -> str:
    some = [random.choice([*plant.contacts, *readable]) for _ in range(random.randint(1, 3))]
    return random.choice([" or ".join(some), " and ".join(some)])


def plant_text(random: Random) -> str:
    """A controller, a plant, circuits, wiring, requirements and an assumption."""
    tick = random.choice([5, 10])
    plant = PlantMaker(random)
    plant.build(tick)
    maker = Maker(random)
    wired, wiring = _wire_inputs(plant, random)
    tags = maker.tags(wired)
    outputs = [line.split() for line in tags if " output " in line]
    free = [*plant.coils]
    random.shuffle(free)
    readable = []
    for index, words in enumerate(outputs):
        name, type_ = words[0], words[2]
        place = f"    {name} at X3:{index + 1}"
        if type_ == "bool":
            if free and random.random() < 0.6:
                wiring.append(f"{place} to {free.pop()}")
            else:
                wiring.append(place)
                readable.append(name)
        elif name == "signal" and plant.signals:
            wiring.append(f"{place} 0..10 V to {plant.signals.pop()}")
        elif type_ == "int" and plant.signals and not words[3].startswith("-"):
            wiring.append(f"{place} 0..10 V as {words[3]} to {plant.signals.pop()}")
    unused = list(readable)
    circuits = _circuits(plant, free, unused, random)
    every = f"{tick} ms" if random.random() < 0.3 else random.choice([f"{2 * tick} ms", f"{tick}..{6 * tick} ms"])
    supplied = [f"    controller from {random.choice(plant.supplies)}"] if random.random() < 0.7 else []
    modules = [f"    inputs X1 from {random.choice(plant.supplies)}"] if random.random() < 0.5 else []
    modules += [f"    outputs X3 from {random.choice(plant.supplies)}"] if random.random() < 0.5 and outputs else []
    rungs, requirements = maker.rungs(), maker.requirements(plant.truths)
    assume = ["", 'assume "Generated"', "    header.level < 58 cm"] if random.random() < 0.3 else []
    lines = [f'controller "Generated" every {every}', "", "tags", *tags, *rungs, ""]
    lines += [f'plant "Generated" every {tick} ms', *plant.lines, *circuits, "", "wiring", *supplied, *modules, *wiring]
    return "\n".join([*lines, *requirements, *assume]) + "\n"
