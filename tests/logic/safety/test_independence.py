"""Layers of the examples, worked by hand from their circuits; findings for what a reviewer would say."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from rungproof.logic import independence
from rungproof.logic.meaning.program import Program
from rungproof.logic.meaning.understand import understand_texts
from rungproof.logic.safety.independence import HazardRow, independence_of

Copy = Callable[..., Program]


def rows(copy: Copy, name: str, *changes: tuple[str, str]) -> dict[str, HazardRow]:
    return {row.hazard: row for row in independence_of(copy(name, *changes)).hazards}


def singles(row: HazardRow, layer: str) -> set[str]:
    return {f.key for each in row.layers if each.layer.name == layer for f in each.cuts.singles}


def doubles(row: HazardRow, layer: str) -> set[frozenset[str]]:
    return {frozenset({a.key, b.key}) for each in row.layers if each.layer.name == layer for a, b in each.cuts.doubles}


def codes(row: HazardRow, grade: str = "warning") -> set[str]:
    return {finding.code for finding in row.findings if finding.grade == grade}


def test_the_layers_of_the_header_tank(copy: Copy) -> None:
    """By wire LS2 through K1, by program LS1 through pump_enable, by hand S0 and S2: worked out from the circuit."""
    row = rows(copy, "header_tank")["H1"]
    assert {each.layer.name: each.layer.sensors for each in row.layers} == {
        "circuit": ("LS2",),
        "program": ("LS1",),
        "operator": ("S0", "S2"),
    }
    assert singles(row, "circuit") == {"stuck:LS2", "LS2.1!welded", "K1!sticks", "K1.2!welded"}
    assert singles(row, "program") == {"stuck:LS1", "LS1.1!welded", "program", "on:pump_enable"}
    assert singles(row, "operator") == set()
    assert frozenset({"stuck:S0", "stuck:S2"}) in doubles(row, "operator")
    assert frozenset({"K1!sticks", "program"}) in doubles(row, "operator")
    assert codes(row) == set()
    assert row.safe_state == "not feed_pump.energised"
    assert row.causes == ("LT1",)


def test_two_contactors_in_series_need_two_failures(copy: Copy) -> None:
    """Neither contactor, nor either relay of the stop module, defeats a layer of the chipper alone."""
    row = rows(copy, "branch_chipper")["H1"]
    assert singles(row, "circuit") == {"stuck:F2", "F2.1!welded"}
    welds = {("Q1", "Q2"), ("Q1.main", "Q2"), ("Q1", "Q2.main"), ("Q1.main", "Q2.main")}
    keys = {"Q1": "Q1!sticks", "Q2": "Q2!sticks", "Q1.main": "Q1.main!welded", "Q2.main": "Q2.main!welded"}
    assert doubles(row, "circuit") == {frozenset({keys[a], keys[b]}) for a, b in welds}
    assert singles(row, "operator") == set()


def test_one_guard_switch_for_two_layers(copy: Copy) -> None:
    """The press reads circuit and program from one guard switch: its failure defeats both, and that is said."""
    row = rows(copy, "press_guard")["H1"]
    [finding] = [f for f in row.findings if f.code == "layers-share-one"]
    assert (finding.layers, finding.elements) == (("circuit", "program"), ("G1",))


def test_buttons_that_must_be_held_are_held_to_see_the_machine_run(copy: Copy) -> None:
    """Both palm buttons stand in the valve's own circuit, and the reset acts when let go: the ram is seen running,
    and each contact that is asked twice takes two failures."""
    row = rows(copy, "press_guard")["H1"]
    assert {each.layer.name: set(each.layer.sensors) for each in row.layers} == {
        "circuit": {"G1"},
        "program": {"G1"},
        "operator": {"S0", "S1", "S2"},
    }
    assert singles(row, "circuit") == {"stuck:G1"}
    assert frozenset({"K1!sticks", "K2.1!welded"}) in doubles(row, "circuit")
    assert singles(row, "operator") == set()
    assert doubles(row, "operator") == set()


@pytest.mark.parametrize(
    ("declared", "why"),
    [
        ("", "no safe state is declared"),
        (" safe state sump.level < 120 cm", "its safe state names no part that anything drives"),
        (" safe state PU1.energised or PU2.energised", "its safe state holds in every position of the sensors"),
    ],
)
def test_a_hazard_that_no_opening_contact_ends_is_not_looked_at(copy: Copy, declared: str, why: str) -> None:
    """It says why, and the result is no clean one."""
    as_it_is = 'flooded"                safe state PU1.energised or PU2.energised'
    row = rows(copy, "sump_pair", (as_it_is, f'flooded"{declared}'))["H1"]
    assert row.why_not.startswith(why)
    assert row.layers == ()


def test_a_stop_of_several_drives_takes_them_all(copy: Copy) -> None:
    """Two pumps that must both stop: one low float read for both outputs, and no wire beside the program."""
    row = rows(copy, "sump_pair")["H2"]
    [layer] = row.layers
    assert {tag for tag, _ in layer.layer.reads} == {"pump_1", "pump_2"}
    assert {"Q1!sticks", "Q2!sticks", "stuck:LS1"} <= singles(row, "program")
    assert codes(row) == {"program-alone"}


def test_without_a_plant_nothing_is_known() -> None:
    """Rungs alone have no wires: every hazard says that it was not seen."""
    text = 'controller "C" every 10 ms\n\ntags\n    a  input   bool\n    b  output  bool  on stop off\n\n'
    text += 'rung r\n    a\n    => b\n\nhazard H1 "It moves"\n\nrequirement R1 "No" against H1\n    never b and not a\n'
    program = understand_texts({"c.rung": text}).program
    assert program is not None
    result = independence_of(program)
    assert result.hazards[0].why_not.startswith("there is no plant")
    assert result.exit_code == 3


OVERFLOW_BY_LOOP = (
    ("    float_ok\n    supply_ok ", "    volume < 250 L\n    supply_ok "),
    ("    not float_ok\n    on-delay 500 ms as float_hold", "    volume > 250 L\n    on-delay 500 ms as float_hold"),
    ("    rising reset_pb\n    float_ok\n", "    rising reset_pb\n"),
    ("never pump_enable and (not float_ok or not estop_ok)", "never pump_enable and volume > 260 L"),
)


def test_the_loops_own_transmitter_as_the_only_guard(copy: Copy) -> None:
    """The transmitter that fills the tank is all that the program's high level rests on: cause and guard in one."""
    row = rows(copy, "header_tank", *OVERFLOW_BY_LOOP)["H1"]
    [finding] = [f for f in row.findings if f.code == "cause-is-the-guard"]
    assert (finding.layers, finding.elements) == (("program",), ("LT1",))
    assert singles(row, "program") >= {"stuck:LT1"}


def test_a_layer_that_needs_power_to_act(copy: Copy) -> None:
    """A trip relay that must pull in, on a supply of its own, is lost with that supply and with any wire of it."""
    row = rows(
        copy,
        "header_tank",
        (
            "contact opens on rise at 100 cm, closes on fall at 97 cm",
            "contact closes on rise at 100 cm, opens on fall at 97 cm",
        ),
        ("    relay K1 ", "    supply P25          24 V\n    relay K2            break contact\n    relay K1 "),
        ("        S0.1\n        LS2\n", "        S0.1\n        K2\n"),
        (
            'circuit "Pump supply',
            'circuit "Trip" from P25\n    rung trip\n        LS2\n        => K2\n\ncircuit "Pump supply',
        ),
    )["H1"]
    [finding] = [f for f in row.findings if f.code == "not-fail-safe" and f.layers == ("circuit",)]
    assert set(finding.elements) == {"LS2.1", "K2", "P25"}


def test_results_are_the_same_every_time(copy: Copy) -> None:
    """No chance is in it."""
    assert independence_of(copy("dosing")).to_json() == independence_of(copy("dosing")).to_json()


@pytest.mark.parametrize("name", ["header_tank", "own_part"])
def test_the_verb(name: str, tmp_path: Any) -> None:
    """`independence(PATH)` gives the typed result, which notebooks show with its cautions."""
    from pathlib import Path

    result = independence(Path(__file__).parents[3] / "examples" / name)
    assert result.hazards
    assert "no device is judged fit" in result._repr_html_()


def test_a_safe_state_of_tags_alone_says_what_to_write(copy: Copy) -> None:
    """A tag moves nothing: the answer asks for what the machine must do."""
    whole = "safe state not PR1.energised and not PR1.advancing"
    for said in ("safe state not ram_down", "safe state not ram_down and not PR1.advancing"):
        row = rows(copy, "press_guard", (whole, said))["H1"]
        assert "say what the machine must do" in row.why_not
