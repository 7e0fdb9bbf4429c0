"""Plant lines for tests, read by a small reader of our own: `plant` knows no grammar."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping

import pint
import pytest
from rungproof.plant.assembly import Assembly
from rungproof.plant.catalogue import KINDS
from rungproof.plant.clauses import Interval, Item, Matched, Quantity, Quoted, Word, match
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
    names = {"%": "percent", "mL": "milliliter", "L": "liter"}
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


@pytest.fixture
def plant() -> Callable[..., Assembly]:
    """Builds a plant from its lines."""
    return plant_of


@pytest.fixture
def part() -> Callable[..., Part]:
    """Builds a part from its line."""
    return part_of
