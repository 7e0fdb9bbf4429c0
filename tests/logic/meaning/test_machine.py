"""From the lines of a plant to parts, circuits and wires."""

from __future__ import annotations

import pytest
from rungproof.grammar.catalogue.findings_plant import SOUND
from rungproof.logic.meaning.program import Channel, Plant
from rungproof.logic.meaning.typed import AnyOf, NodeValue, PartReading, TerminalValue
from rungproof.logic.meaning.understand import Understanding, understand_texts
from rungproof.logic.meaning.units import known_unit

YARD = """plant "Yard" every 5 ms
    tank t            upright cylinder, diameter 60 cm, height 110 cm, starts at 60 L
    float_switch LS1  in t, contact opens on rise at 95 cm, closes on fall at 92 cm
    push_button S1    make contacts 2
    relay K1          pulls in 20 ms, drops out 20 ms, make contacts 2
    relay K2          pulls in 20 ms, drops out 20 ms, make contact
    supply P24        24 V
"""


def _yard(*rungs: str) -> Understanding:
    """Each rung as `name: line, line`."""
    text = YARD + '\ncircuit "C" from P24\n'
    for rung in rungs:
        name, _, lines = rung.partition(": ")
        text += f"    rung {name}\n" + "".join(f"        {line}\n" for line in lines.split("; "))
    return understand_texts({"yard.rung": text})


def _plant(understood: Understanding) -> Plant:
    assert understood.program is not None and understood.program.plant is not None, understood.diagnoses
    return understood.program.plant


def test_a_sound_plant_has_its_tick_its_parts_and_no_complaint() -> None:
    """Parts stand in the order of their lines."""
    understood = _yard("one: S1.1 or K1.1; LS1; => K1", "two: K1.2; => K2")
    plant = _plant(understood)
    assert understood.diagnoses == ()
    assert (plant.name, plant.tick) == ("Yard", 5)
    assert [part.name for part in plant.assembly.parts] == ["t", "LS1", "S1", "K1", "K2", "P24"]


def test_a_part_with_one_contact_is_that_contact() -> None:
    """`LS1` means that its contact is closed; `K1` as a target means its coil."""
    rung = _plant(_yard("one: S1.1 or K1.1; LS1; => K1", "two: K1.2; => K2")).circuits[0].rungs[0]
    first, second = (element.expression for element in rung.elements)
    assert isinstance(first, AnyOf) and isinstance(second, PartReading)
    assert second.key == "LS1.1"
    assert [(o.target, o.target_kind) for o in rung.outputs] == [("K1.coil", "drive")]


def test_rungs_run_in_the_order_in_which_nodes_need_them() -> None:
    """The file's own order is kept for drawing."""
    circuit = _plant(_yard("reads: node; => K2", "drives: S1.1; => node; => K1")).circuits[0]
    assert [rung.name for rung in circuit.rungs] == ["drives", "reads"]
    assert [rung.name for rung in circuit.drawn] == ["reads", "drives"]
    assert isinstance(circuit.rungs[1].elements[0].expression, NodeValue)


def test_a_loop_of_nodes_is_shown_with_its_places() -> None:
    """Three rungs in a circle: each is named, and each place stands beside the message."""
    understood = _yard("a: n3; => n1; => K1", "b: n1; => n2; => K2", "c: n2 or S1.1; => n3")
    (loop,) = understood.diagnoses
    assert loop.code == "circuit-loop"
    assert loop.message == (
        "The nodes of this circuit wait for each other: rung a waits for n3, rung c waits for n2, rung b waits for n1."
    )
    assert [(span.line, words) for span, words in loop.related] == [
        (11, "rung a reads n3 here"),
        (19, "rung c reads n2 here"),
        (15, "rung b reads n1 here"),
    ]
    assert understood.program is None


def test_a_relay_that_holds_itself_is_no_loop() -> None:
    """The way through a coil and its contact passes through state."""
    assert _yard("one: S1.1 or K1.1; => K1", "two: K1.2; => K2").diagnoses == ()


@pytest.mark.parametrize(
    ("contact", "code", "mend"),
    [
        ("K3", "unknown-contact", "did you mean `K2`?"),
        ("K1.9", "unknown-reading", None),
        ("K1", "cannot-stand-here", None),
        ("t.level", "cannot-stand-here", None),
        ("S1.pressed", "cannot-stand-here", None),
        ("P24", "cannot-stand-here", None),
    ],
)
def test_what_a_circuit_cannot_read_is_refused_with_a_reason(contact: str, code: str, mend: str | None) -> None:
    """Contacts only: no physical truth, no part as a whole, no name that nobody bears."""
    found = _yard(f"one: {contact}; => K1", "two: S1.1; => K2").diagnoses
    assert [d.code for d in found] == [code]
    if mend is not None:
        assert found[0].mend == mend


def test_a_rung_of_the_program_cannot_look_at_the_plant() -> None:
    """The message says how: wire it to an input."""
    text = SOUND.files["sample.rung"].replace("    stop_ok\n", "    S2.1\n", 1)
    found = [d for d in understand_texts({"a.rung": text}).diagnoses if d.grade == "error"]
    assert [d.code for d in found] == ["not-readable-here"]
    assert found[0].mend == "wire a sensor to an input tag and read the tag"


def test_a_part_that_is_wrong_makes_no_other_look_wrong() -> None:
    """Whatever names the broken tank stays silent: part, contact, requirement and story alike."""
    text = YARD.replace("diameter 60 cm", "diameter 60 L") + (
        '\ncircuit "C" from P24\n    rung one\n        LS1\n        S1.1\n        => K1\n    rung two\n        K1.1\n'
        '        => K2\n\nrequirement R1 "A"\n    always t.level < 100 cm or LS1\n\n'
        'scenario "S"\n    at 0 s fault LS1 stuck_up\n    expect t.level < 50 cm\n'
    )
    assert [d.code for d in understand_texts({"a.rung": text}).diagnoses] == ["clause-unit"]


def test_wires_and_channels_of_a_sound_project() -> None:
    """An input is read from a look key over its channel; an output's circuit reads its terminal."""
    plant = _plant(understand_texts(SOUND.files))
    by_tag = {wire.tag: wire for wire in plant.inputs}
    assert by_tag["level_counts"].channel == Channel(0.0, 20.0, known_unit("mA"), 0, 65535)
    assert (by_tag["level_counts"].source, by_tag["level_counts"].terminal) == ("LT1.signal", "X2:1")
    assert (by_tag["stop_ok"].source, by_tag["stop_ok"].module_supply) == ("S2.1", "P24")
    assert plant.controller_supply == "P24"
    assert [(wire.tag, wire.target, wire.module_supply) for wire in plant.outputs] == [("fill", None, "P24")]
    read = [e.expression for r in plant.circuits[0].rungs for e in r.elements]
    assert any(isinstance(each, TerminalValue) and each.tag == "fill" for each in read)


@pytest.mark.parametrize(
    ("written", "low", "high"),
    [("0..20 mA", 0.0, 20.0), ("0 mA..20 mA", 0.0, 20.0), ("0..20000 uA", 0.0, 20.0), ("0..0.02 A", 0.0, 20.0)],
)
def test_a_channel_is_kept_in_the_unit_of_the_part_at_its_end(written: str, low: float, high: float) -> None:
    """However its range is written; a bare lower end takes the upper's unit."""
    text = SOUND.files["sample.rung"].replace("0..20 mA as", f"{written} as")
    channel = _plant(understand_texts({"a.rung": text})).inputs[0].channel
    assert channel is not None
    assert (channel.low, channel.high, channel.unit.symbol) == (low, high, "mA")


def test_a_misspelt_tag_in_the_wiring_is_not_also_unwired() -> None:
    """One slip, one answer, with the nearest name."""
    text = SOUND.files["sample.rung"].replace("    stop_ok       at", "    stop_okk      at")
    found = understand_texts({"a.rung": text}).diagnoses
    assert [(d.code, d.mend) for d in found] == [("wired-tag-unknown", "did you mean `stop_ok`?")]
