"""Matching the clauses of a part's line."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from rungproof.plant.catalogue import KINDS
from rungproof.plant.clauses import Matched, Slot, elements, readable
from rungproof.plant.part import Clause

Match = Callable[[str], Matched]

GIVEN = [
    (
        "tank header upright cylinder, diameter 60 cm, height 1.1 m, starts at 60 L",
        {"upright": True, "diameter": 60.0, "height": 110.0, "start": 60.0},
    ),
    ("tank header rectangular, starts at 300 mm", {"rectangular": True, "start_level": 30.0}),
    (
        "pump feed_pump from cistern into header, 0..12 L/min, deadband 0.8 V, lag 400 ms",
        {"source": "cistern", "destination": "header", "capacity": (0.0, 12.0), "deadband": 0.8, "lag": 0.4},
    ),
    (
        "outlet drip_lines from header into cistern, orifice 8 mm, coefficient 0.61, opening 0..100 %",
        {"source": "header", "destination": "cistern", "orifice": 8.0, "coefficient": 0.61, "openings": (0.0, 100.0)},
    ),
    (
        "level_transmitter LT1 above header at 135 cm, sees 25 cm..125 cm as 0..10 V, on lost echo 10 V,"
        " noise 2 mm, every 100 ms",
        {
            "vessel": "header",
            "mounting": 135.0,
            "sees": (25.0, 125.0),
            "voltage": (0.0, 10.0),
            "lost_voltage": 10.0,
            "noise": 0.2,
            "every": 100.0,
        },
    ),
    (
        "level_transmitter LT2 above well at 5 m, sees 500 mm..5 m as 4..20 mA",
        {
            "vessel": "well",
            "mounting": 500.0,
            "sees": (50.0, 500.0),
            "current": (4.0, 20.0),
        },
    ),
    (
        "float_switch LS1 in header, contact opens on rise at 95 cm, closes on fall at 92 cm",
        {"vessel": "header", "opens_on_rise": 95.0, "closes_on_fall": 92.0},
    ),
    ("push_button S1 make contact", {"make_contact": True}),
    ("push_button S3 make contacts 2, break contact", {"make_contacts": 2, "break_contact": True}),
    ("emergency_stop S0 latching, break contacts 2", {"latching": True, "break_contacts": 2}),
    (
        "relay K1 pulls in 20 ms, drops out 30 ms, make contacts 3",
        {"pulls_in": 20.0, "drops_out": 30.0, "make_contacts": 3},
    ),
    ("supply P24 24 V", {"voltage": 24.0}),
    ("reservoir cistern holds 2000 L, starts at 1.5 m3", {"capacity": 2000.0, "start": 1500.0}),
    ("demand street from tower, hourly 2 1 4 L/min", {"source": "tower", "hourly": (2.0, 1.0, 4.0)}),
    ("lamp H1", {}),
]


@pytest.mark.parametrize(("line", "given"), GIVEN)
def test_lines_as_the_language_writes_them(matched: Match, line: str, given: dict[str, object]) -> None:
    """Every clause gives its slots in the slot's unit, in the order in which the clauses stand."""
    result = matched(line)
    assert not result.problems
    assert list(result.given) == list(given)
    for slot, value in given.items():
        assert result.given[slot] == (pytest.approx(value) if isinstance(value, float | tuple) else value)
        assert type(result.given[slot]) is type(value)


def test_places_lead_back_to_the_line(matched: Match) -> None:
    """A slot's place is its clause and item, so that a refused value can be pointed at."""
    places = matched("pump P1 from cistern into header, 0..12 L/min, deadband 0.8 V, fixed speed").places
    assert places == {
        "source": (0, 1),
        "destination": (0, 3),
        "capacity": (1, 0),
        "deadband": (2, 1),
        "fixed_speed": (3, 0),
    }


WRONG = [
    ("tank t upright cylindr", "clause-shape", (0, 1), {"expected": "upright cylinder", "found": "cylindr"}),
    ("pump p from a to b, 0..1 L/min", "clause-shape", (0, 2), {"expected": "from NAME into NAME", "found": "to"}),
    ("pump p from a, 0..1 L/min, deadbnd 0.8 V", "clause-shape", (2, 0), {"expected": "deadband N V"}),
    ("pump p from a to b, 0..1 L/min", "clause-shape", (0, 2), {"others": "from NAME"}),
    (
        "relay K make contacts",
        "clause-shape",
        (0, None),
        {"expected": "make contacts N", "others": "make contact"},
    ),
    (
        "pump p from a, 0..1 L/min, lag 1 s, made speed",
        "clause-shape",
        (3, 0),
        {"expected": "fixed speed", "others": "from NAME into NAME; into NAME; deadband N V; loses prime when dry"},
    ),
    ("supply P24 from", "clause-shape", (0, 0), {"expected": "N V", "found": "from"}),
    (
        "float_switch F in t, contact opens on rise at",
        "clause-shape",
        (1, None),
        {"expected": "contact opens on rise at N cm", "found": "the end of the clause"},
    ),
    ("reservoir r holds 5 L, painted green", "clause-unknown", (1, 0), {"written": "painted green"}),
    ("reservoir r holds 5 L, holds 6 L", "clause-repeated", (1, None), {"pattern": "holds N L"}),
    ("reservoir r starts at 5 L", "clause-missing", (None, None), {"pattern": "holds N L"}),
    ("reservoir r holds 5 cm", "clause-unit", (0, 1), {"slot": "capacity", "unit": "cm", "expected": "L"}),
    (
        "level_transmitter L above t at 3 m, sees 1..2 m as 0..10 L",
        "clause-unit",
        (1, 3),
        {"unit": "L", "expected": "V or mA"},
    ),
    ("reservoir r holds 5", "clause-unit-lacks", (0, 1), {"expected": "L", "written": "5"}),
    ("outlet o from t, orifice 3 mm, coefficient 0.6 cm", "clause-unit-excess", (2, 1), {"unit": "cm"}),
    ("selector s positions 3 V", "clause-unit-excess", (0, 1), {"unit": "V"}),
    ("selector s positions 2.5", "clause-not-whole", (0, 1), {"written": "2.5"}),
    (
        "pump p from a, 12..2 L/min",
        "clause-reversed",
        (1, 0),
        {"low": "12", "high": "2 L/min", "turned": "2..12 L/min"},
    ),
    ("dial R1 gives 20..4 mA", "clause-reversed", (0, 1), {"low": "20", "high": "4 mA", "turned": "4..20 mA"}),
    ("lamp H1 red", "clause-unknown", (0, 0), {"written": "red", "known": "none at all"}),
]


@pytest.mark.parametrize(("line", "code", "place", "fields"), WRONG)
def test_wrong_lines(
    matched: Match, line: str, code: str, place: tuple[int | None, int | None], fields: dict[str, str]
) -> None:
    """One slip gives one problem, at the clause and item at fault, with what was expected."""
    (problem,) = matched(line).problems
    assert (problem.code, (problem.clause_index, problem.item_index)) == (code, place)
    assert {key: problem.fields[key] for key in fields} == fields


def test_all_slips_come_out_at_once(matched: Match) -> None:
    """Independent slips of one line are reported together, in the order of the line."""
    problems = matched("pump p from a to b, 0..12 cm, deadbnd 0.8 V, wibble").problems
    assert [(p.clause_index, p.code) for p in problems] == [
        (0, "clause-shape"),
        (1, "clause-unit"),
        (2, "clause-shape"),
        (3, "clause-unknown"),
    ]


@pytest.mark.parametrize("kind", KINDS)
def test_declared_patterns_are_sound(kind: str) -> None:
    """Every pattern reads, gives something, and no flag shares its name with a slot."""
    slots: list[str] = []
    for clause in KINDS[kind].clauses:
        found = [each.name for each in elements(clause.pattern) if isinstance(each, Slot)]
        assert found or clause.flag
        assert "{" not in readable(clause)
        slots += [*found, *([clause.flag] if clause.flag else [])]
    repeated = {slot for slot in slots if slots.count(slot) > 1}
    assert repeated <= {"source", "destination", "sees", "reads"}, "only alternatives may fill the same slot"


@pytest.mark.parametrize("pattern", ["", "{Upper:cm}", "{open", "a {b}", "what? {x:cm}"])
def test_malformed_patterns_are_refused(pattern: str) -> None:
    """A pattern that is no pattern raises, so that a user's own part is told."""
    with pytest.raises(ValueError, match="pattern"):
        elements(Clause(pattern).pattern)
