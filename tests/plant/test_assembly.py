"""Putting parts together: what fits, what is declared, and what does not fit."""

from __future__ import annotations

import ast
import json
from collections.abc import Callable
from pathlib import Path

import pytest
import rungproof.plant
from rungproof.plant.assembly import Assembly
from rungproof.plant.fitting import AssemblyError
from rungproof.plant.operators import PLAIN
from rungproof.plant.part import CONTACT_FAULTS

Plants = Callable[..., Assembly]


@pytest.mark.parametrize(
    ("text", "part", "slot", "says"),
    [
        ("pump P1 from well, 0..1 L/min", "P1", "source", "there is no part `well`"),
        ("supply P24 24 V\npump P1 into P24, 0..1 L/min", "P1", "destination", "holds none"),
        ("float_switch LS1 in tub, contact opens on rise at 9 cm", "LS1", "vessel", "there is no part `tub`"),
        (
            "reservoir tub holds 5 L\nfloat_switch LS1 in tub, contact opens on rise at 9 cm",
            "LS1",
            "vessel",
            "reservoir `tub` shows no level",
        ),
        (
            "reservoir a holds 5 L, additive 1 g/L\nreservoir b holds 5 L\npump P1 from a into b, 0..1 L/min",
            "P1",
            "destination",
            "keeps no account of it",
        ),
    ],
)
def test_parts_that_do_not_fit(plant: Plants, text: str, part: str, slot: str, says: str) -> None:
    """A part that cannot do its work among the others is named, with the clause at fault."""
    with pytest.raises(AssemblyError) as refused:
        plant(text)
    (problem,) = refused.value.problems
    assert (problem.part, problem.slot) == (part, slot)
    assert says in problem.message


def test_all_misfits_come_out_at_once(plant: Plants) -> None:
    """Every part that does not fit is reported, not only the first."""
    with pytest.raises(AssemblyError) as refused:
        plant("pump P1 from a into b, 0..1 L/min\nfloat_switch LS1 in c, contact opens on rise at 9 cm")
    assert [p.slot for p in refused.value.problems] == ["source", "destination", "vessel"]


def test_a_misfit_names_the_parts_that_would_do(plant: Plants) -> None:
    """Looking at something that shows no level, one is told what does."""
    with pytest.raises(AssemblyError) as refused:
        plant(
            """
            tank header rectangular, length 1 m, width 1 m, height 1 m
            reservoir tub holds 5 L
            float_switch LS1 in tub, contact opens on rise at 9 cm
            """
        )
    assert refused.value.problems[0].mend == "name one that does: header"


def test_keys(plant: Plants) -> None:
    """Everything has the flat name that the files use."""
    assembly = plant(
        """
        tank header            rectangular, length 1 m, width 1 m, height 1 m
        outlet tap             from header, orifice 8 mm, opening 0..80 %
        level_transmitter LT1  above header at 1 m, sees 0 m..1 m as 0..10 V, noise 2 mm
        emergency_stop S0      latching, break contact
        relay K1               make contacts 2
        """
    )
    assert list(assembly.contacts) == ["S0.1", "K1.1", "K1.2"]
    assert list(assembly.driven) == ["K1.coil"]
    assert {"tap.opening", "S0.pressed", "LT1~noise", "LT1!echo_lost", "S0.1!welded"} <= set(assembly.environment)
    assert (assembly.environment["tap.opening"].low, assembly.environment["tap.opening"].high) == (0, 80)
    assert {"header.level", "header.volume", "tap.flow", "LT1.signal"} <= set(assembly.outputs)
    assert len([key for key in assembly.faults if key.startswith("K1.")]) == 2 * len(CONTACT_FAULTS)


def test_look_and_state_have_exactly_the_declared_keys(everything: Assembly) -> None:
    """What is declared is shown and kept, nothing else; types are the declared ones."""
    state = everything.start()
    look = everything.look(PLAIN, state, {})
    assert look.keys() == everything.outputs.keys() | everything.contacts.keys()
    assert everything.tick(PLAIN, state, look, {}, {}).keys() == state.keys() == everything.variables.keys()
    inputs = everything.driven.keys() | everything.environment.keys()
    assert not inputs & (look.keys() | state.keys()), "no input shares its name with what is shown or kept"


def test_missing_inputs_take_their_start_value(everything: Assembly) -> None:
    """An empty drive and environment are those in which everything has its start value."""
    state = everything.start()
    drive = {key: each.start for key, each in everything.driven.items()}
    env = {key: each.start for key, each in everything.environment.items()}
    bare = everything.tick(PLAIN, state, everything.look(PLAIN, state, {}), {}, {})
    full = everything.tick(PLAIN, state, everything.look(PLAIN, state, env), drive, env)
    assert json.dumps(bare) == json.dumps(full)
    assert json.dumps(everything.look(PLAIN, state, {})) == json.dumps(everything.look(PLAIN, state, env))
    types = {"bool": bool, "int": int, "real": float}
    for declared in (everything.driven, everything.environment, everything.variables):
        for key, each in declared.items():
            assert type(each.start) is types[each.type], key
    for key, value in bare.items():
        assert type(value) is types[everything.variables[key].type], key


def test_start_values_are_settled_in_the_declarations(plant: Plants) -> None:
    """A float in a full tank is declared to start up, so that every engine starts alike."""
    assembly = plant(
        """
        tank header       rectangular, length 1 m, width 1 m, height 1 m, starts at 96 cm
        float_switch LS1  in header, contact opens on rise at 95 cm, closes on fall at 92 cm
        """
    )
    assert assembly.variables["LS1.up"].start is True
    assert assembly.start() == {key: each.start for key, each in assembly.variables.items()}


def test_part_docstrings_say_where_the_equations_come_from(everything: Assembly) -> None:
    """Every part's docstring names a source, or says that it is common practice."""
    for kind in {type(part) for part in everything.parts}:
        assert "Source" in (kind.__doc__ or ""), kind.kind


def test_faults_are_named_in_plain_words(everything: Assembly) -> None:
    """Every fault has a lower-case name and says what is wrong."""
    for key, fault in everything.faults.items():
        assert fault.name == fault.name.lower(), key
        assert len(fault.words.split()) >= 3, key


def test_the_package_imports_nothing_of_ours_but_itself() -> None:
    """`plant` knows neither grammar nor logic."""
    folder = Path(rungproof.plant.__file__).parent
    for path in folder.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            names += [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            for name in names:
                assert not name.startswith("rungproof") or name.startswith("rungproof.plant"), (path.name, name)


def test_exports() -> None:
    """The front door offers what it says, each name once."""
    names = rungproof.plant.__all__
    assert len(names) == len(set(names))
    assert all(hasattr(rungproof.plant, name) for name in names)
