"""How drawn rungs look. Symbols: IEC 61131-3, graphical ladder elements (from memory)."""

from __future__ import annotations

from pathlib import Path
from textwrap import dedent

import pytest
from rungproof.grammar import CATALOGUE, Reporter, parse_text
from rungproof.logic import draw
from rungproof.logic.evidence.drawing_text import comments_of, draw_sheet, sheets_of


def drawn(text: str, width: int = 72) -> str:
    """All sheets of a text, without the titles' underlining and trailing blanks."""
    text = dedent(text).lstrip("\n")
    reporter = Reporter(CATALOGUE)
    blocks = parse_text(text, "sample.rung", reporter).blocks
    assert not reporter.found
    comments = comments_of([("sample.rung", text)])
    return "\n".join(draw_sheet(sheet, width=width, comments=comments) for sheet in sheets_of(blocks))


def body(text: str, width: int = 72) -> list[str]:
    """The drawing of a text's only rung, from the row below its heading."""
    lines = drawn(text, width).splitlines()
    first = next(n for n, line in enumerate(lines) if line.startswith("|"))
    return lines[first:]


def test_contacts_and_coils_bear_the_symbols_of_the_standard() -> None:
    """Plain, negated, rising and falling contacts; plain, negated, set and reset coils."""
    text = """
        rung sample
            a
            not b
            rising c
            falling d
            => e
            => not f
            => set g
            => reset h
    """
    assert body(text) == [
        "|                                                                      |",
        "|   a    b    c    d                                                e  |",
        "+--| |--|/|--|P|--|N|-------------------------------------------+--( )-+",
        "|                                                               |   f  |",
        "|                                                               +--(/)-+",
        "|                                                               |   g  |",
        "|                                                               +--(S)-+",
        "|                                                               |   h  |",
        "|                                                               +--(R)-+",
    ]


def test_branches_stand_under_each_other_between_vertical_links() -> None:
    """A seal-in is a second branch; what is in series behind it follows the link."""
    text = """
        rung run
            (rising start_pb and rested) or running
            stop_ok
            => running
    """
    assert body(text) == [
        "|                                                                      |",
        "|    start_pb  rested    stop_ok                               running |",
        "+--+---|P|------| |---+----| |-----------------------------------( )---+",
        "|  | running          |                                                |",
        "|  +---| |------------+                                                |",
    ]


def test_a_comparison_and_an_undrawable_condition_stand_in_brackets() -> None:
    """What has no symbol of its own is written out."""
    text = """
        rung sample
            level < 30 cm and not rising a
            temp between 20 degC and 30 degC or override
            => motor
    """
    assert body(text) == [
        "|                                                                      |",
        "|                                                                      |",
        "+--[ level < 30 cm ]--[ not rising a ]-->1>                            |",
        "|                                                                motor |",
        "| >1>--+-[ temp between 20 degC and 30 degC ]-+-------------------( )--+",
        "|      | override                             |                        |",
        "|      +---| |--------------------------------+                        |",
    ]


def test_a_stage_is_a_box_under_its_name() -> None:
    """Kind, preset, what clears it and whether it is retained stand inside."""
    text = """
        rung counters
            rising item
            count-up 5 as items clear by reset_pb retained
            => full
    """
    assert body(text) == [
        "|                                                                      |",
        "|                items                                                 |",
        "|  item  +-------------------+                                    full |",
        "+--|P|---| count-up          |------------------------------------( )--+",
        "|        | 5                 |                                         |",
        "|        | clear by reset_pb |                                         |",
        "|        | retained          |                                         |",
        "|        +-------------------+                                         |",
    ]


def test_an_assignment_is_a_box_under_its_tag() -> None:
    """The value is written out; a rung without a line is always powered."""
    text = """
        rung volume
            => volume := 2827 cm2 * (135 cm - distance)
    """
    assert body(text) == [
        "|                                                                      |",
        "|                                                volume                |",
        "|                                +-----------------------------------+ |",
        "+--------------------------------| := 2827 cm2 * (135 cm - distance) |-+",
        "|                                +-----------------------------------+ |",
    ]


def test_an_output_with_when_has_contacts_of_its_own() -> None:
    """An output branch carries its own contacts before its coil."""
    text = """
        rung alarm
            trip
            => lamp
            => horn when not silenced
    """
    assert body(text) == [
        "|                                                                      |",
        "|  trip                                                           lamp |",
        "+--| |------------------------------------------------+-----------( )--+",
        "|                                                     | silenced  horn |",
        "|                                                     +---|/|-----( )--+",
    ]


def test_a_long_rung_goes_on_in_the_next_row_at_a_numbered_mark() -> None:
    """Connectors `>1>` show where power leaves a row and where it enters the next."""
    text = """
        rung long
            first_permissive
            second_permissive
            third_permissive
            => ready
    """
    assert body(text, 44) == [
        "|                                          |",
        "|  first_permissive                        |",
        "+--------| |--------->1>                   |",
        "|      second_permissive                   |",
        "| >1>---------| |--------->2>              |",
        "|      third_permissive              ready |",
        "| >2>--------| |----------------------( )--+",
    ]


def test_a_circuit_is_drawn_between_its_supply_and_the_return() -> None:
    """The rails of a hardwired circuit bear the supply's name, its rungs keep the order of the file."""
    text = """
        circuit "Pump supply" from P24
            rung supply_cut "Reset by hand"
                S0.1
                S3.1 or K1.1
                => K1

            rung motor
                K1.2
                => feed_pump.supply
    """
    picture = drawn(text)
    assert picture.startswith('circuit "Pump supply" from P24\n===')
    assert picture.count("State logic, not a wiring diagram") == 1
    assert [line.split() for line in picture.splitlines() if line.startswith("P24")] == [["P24", "return"]] * 2
    assert picture.index("rung supply_cut") < picture.index("    Reset by hand") < picture.index("rung motor")


CIRCUIT = """
    plant "P" every 5 ms
        tank t            upright cylinder, diameter 60 cm, height 110 cm, starts at 60 L
        float_switch LS2  in t, contact opens on rise at 95 cm, closes on fall at 92 cm
        emergency_stop S0 latching, break contacts 2
        push_button S3    make contact
        relay K1          pulls in 15 ms, drops out 20 ms, make contact, break contact
        supply P24        24 V

    circuit "Supply" from P24
        rung cut
            S0.1
            LS2
            S3 or K1.1
            K1.2
            X9.1
            safe
            go
            => K1

        rung safe
            S0.2
            => safe

    tags
        go  output  bool
"""


def test_the_contacts_of_a_circuit_are_drawn_as_the_devices_are_built() -> None:
    """Break contacts `|/|`, make contacts and output terminals `| |`, points of the circuit in brackets.

    Make and break: IEC 60050-444; symbols as above (both from memory).
    """
    lines = drawn(CIRCUIT, 100).splitlines()
    start = next(n for n, line in enumerate(lines) if line.startswith("P24"))
    assert lines[start + 1 : start + 5] == [
        "|  S0.1  LS2     S3     K1.2  X9.1             go                   K1 |",
        "+--|/|---|/|--+-| |--+--|/|---| |---[ safe ]--| |------------------( )-+",
        "|             | K1.1 |                                                 |",
        "|             +-| |--+                                                 |",
    ]


def test_a_contact_whose_kind_nobody_can_know_is_named_below_the_rung() -> None:
    """No part X9 is there: its contact is drawn, and the reader told that the kind is a guess."""
    text = drawn(CIRCUIT, 100)
    assert text.count("kind not known") == 1
    assert "  X9.1: kind not known" in text.splitlines()


OWN = """
from rungproof.plant.part import Contact, Output, Part


class Thermostat(Part):
    kind = "thermostat"
    outputs = (Output("hot", "bool"),)
    contacts = (Contact("1", "break"),)

    def __init__(self, name, given, dt_ms):
        super().__init__(name, given, dt_ms)
        {line}

    def operated(self, ops, state):
        return ops.both(False, False)

    def look(self, ops, state, faults):
        return {{"hot": ops.both(False, False)}}
"""


@pytest.mark.parametrize(("line", "symbol"), [("pass", "|/|"), ("raise ValueError(name)", "| |")])
def test_own_parts_are_drawn_by_their_kind_and_a_failing_one_is_drawn_all_the_same(
    tmp_path: Path, line: str, symbol: str
) -> None:
    """A class of the user's own may fail in any way: then its kind is not known, and ours still are."""
    (tmp_path / "own.py").write_text(OWN.format(line=line), encoding="utf-8")
    (tmp_path / "own.rung").write_text(
        'plant "P" every 5 ms parts from "own.py"\n    thermostat B1\n    push_button S1  break contact\n'
        '    lamp P1\n    supply P24  24 V\n\ncircuit "C" from P24\n    rung a\n        B1.1\n        S1\n'
        "        => P1\n",
        encoding="utf-8",
    )
    text = draw(tmp_path)
    assert f"+--{symbol}---|/|--" in text
    assert ("B1.1: kind not known" in text) == (symbol == "| |")


def test_a_rung_of_a_controller_keeps_its_symbols_beside_a_plant() -> None:
    """`stop_ok` read plain is `| |` although a break contact is wired to it: the tag's state decides."""
    text = drawn(CIRCUIT + "\n    rung run\n        stop_ok\n        => go\n", 100)
    assert "+----| |---" in text.split("circuit")[0]
    assert "State logic" not in text.split("circuit")[0]


def test_remarks_of_lines_are_printed_below_the_rung() -> None:
    """A comment in the file says why an element is there: the reviewer of a drawing needs it too."""
    text = """
        rung permissive
            supply_ok        # so the hardwired reset alone starts nothing
            => ready
    """
    assert body(text)[-1] == "  # supply_ok: so the hardwired reset alone starts nothing"


def test_rails_of_one_sheet_stand_in_the_same_columns() -> None:
    """Rungs of unequal length are drawn between the same two rails."""
    text = """
        rung short
            a
            => b

        rung long
            first_permissive
            second_permissive
            third_permissive
            fourth_permissive
            => ready
    """
    ends = {len(line) for line in drawn(text, 100).splitlines() if line.startswith(("|", "+"))}
    assert len(ends) == 1
