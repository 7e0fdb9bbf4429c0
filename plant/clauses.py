"""Matching what stands in a part's line with the clauses that its class declares.

The items are neutral data, so that `plant` need not know the grammar; unit conversion is
given as a function. `match` returns what fits as `given` and everything else as problems:

    code                fields                       what is wrong
    clause-unknown      written, known               no clause of this part begins like this
    clause-shape        written, expected, found,    a clause goes wrong at the item pointed at; `others` may
                        others                       stand there too
    clause-repeated     written, pattern             the same clause stands twice
    clause-missing      pattern                      a required clause is not there (no place: indices None)
    clause-unit         slot, unit, expected         a number is in a unit of another dimension
    clause-unit-lacks   slot, expected, written      a number lacks its unit
    clause-unit-excess  slot, unit, written          a pure number has been given a unit
    clause-not-whole    slot, written                a count is not a whole number
    clause-reversed     slot, low, high              an interval whose lower end is not the lower

Whether the values make sense together, and lie in range, the part's constructor says by
`PartError`, whose slot `Matched.places` leads back to a clause and an item.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from typing import Literal

from rungproof.plant.part import Clause, Given, Part

#: `convert(value, from_unit, to_unit)`: the value in the other unit, None where dimensions differ
#: or the unit is not known. Units are as written in the line and in the patterns.
Convert = Callable[[float, str, str], float | None]


@dataclass(frozen=True, slots=True)
class Word:
    """A bare word: `from`, `header`."""

    text: str


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number with its unit as written, None where it has none."""

    value: float
    unit: str | None = None


@dataclass(frozen=True, slots=True)
class Interval:
    """`25 cm..125 cm`. A bare lower end takes the upper's unit."""

    low: Quantity
    high: Quantity


@dataclass(frozen=True, slots=True)
class Quoted:
    """A text in quotes."""

    text: str


Item = Word | Quantity | Interval | Quoted


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong. `clause_index` None: the line as a whole; `item_index` None: the clause as a whole."""

    clause_index: int | None
    item_index: int | None
    code: str
    fields: Mapping[str, str]


@dataclass(slots=True)
class Matched:
    """`given` for the part's constructor, in the order of the clauses, and what did not fit.

    `places` leads from a slot to the clause and item that filled it. `parts` maps a slot
    that names another part to the kinds it may be of, empty for any.
    """

    given: dict[str, Given] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    places: dict[str, tuple[int, int]] = field(default_factory=dict)
    parts: dict[str, tuple[str, ...]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Slot:
    """One `{name:unit}` of a pattern."""

    name: str
    kind: Literal["number", "interval", "row", "int", "part", "texts"]
    unit: str = ""

    def words(self) -> str:
        """How the slot is spelt out to people: `N cm`, `A..B cm`, `NAME`."""
        unit = "" if self.unit in ("", "1") else f" {self.unit}"
        known = {"part": "NAME", "int": "N", "row": f"N N N{unit}", "interval": f"A..B{unit}", "texts": '"A" "B"'}
        return known.get(self.kind, f"N{unit}")


_SLOT = re.compile(r"\{([a-z][a-z0-9_]*):([^{}]+)\}")


@cache
def elements(pattern: str) -> tuple[str | Slot, ...]:
    """The pattern's words and slots. Raises `ValueError` where the pattern itself is malformed."""
    found: list[str | Slot] = []
    for piece in pattern.split():
        slot = _SLOT.fullmatch(piece)
        if slot is None:
            if not re.fullmatch(r"[A-Za-z][A-Za-z0-9_-]*", piece):
                raise ValueError(f"`{piece}` in the pattern `{pattern}` is neither a word nor a slot")
            found.append(piece)
            continue
        name, what = slot.groups()
        if what in ("part", "int"):
            found.append(Slot(name, "part" if what == "part" else "int"))
        elif what == "text+":
            found.append(Slot(name, "texts"))
        elif what.endswith(".."):
            found.append(Slot(name, "interval", what[:-2]))
        elif what.endswith("+"):
            found.append(Slot(name, "row", what[:-1]))
        else:
            found.append(Slot(name, "number", what))
    if not found:
        raise ValueError("a clause's pattern is empty")
    return tuple(found)


def readable(clause: Clause) -> str:
    """A pattern as people would read it: `diameter N cm`."""
    return " ".join(each if isinstance(each, str) else each.words() for each in elements(clause.pattern))


def match(part_class: type[Part], items_by_clause: Sequence[Sequence[Item]], convert: Convert) -> Matched:
    """Match the clauses of one line; see the module's docstring."""
    matcher = _Matcher(part_class.clauses, convert)
    for index, items in enumerate(items_by_clause):
        matcher.clause(index, items)
    matcher.finish()
    return matcher.matched


@dataclass(slots=True)
class _Matcher:
    """Matches one line, clause by clause."""

    clauses: Sequence[Clause]
    convert: Convert
    matched: Matched = field(default_factory=Matched)
    used: set[int] = field(default_factory=set)

    def clause(self, index: int, items: Sequence[Item]) -> None:
        """Match one clause; of several patterns of its shape the one with the fewest problems wins."""
        attempts = [
            (position, filled, *_values(filled, items, index, self.convert))
            for position, clause in enumerate(self.clauses)
            if (filled := _fit(elements(clause.pattern), items)) is not None
        ]
        if not attempts:
            problem, meant = _no_fit(self.clauses, items, index, self.used)
            self.matched.problems.append(problem)
            if meant is not None:
                self.used.add(meant)  # so that the same slip is not reported as a missing clause too
            return
        position, filled, given, problems = min(attempts, key=lambda attempt: _badness(attempt[3]))
        if problems and len(attempts) > 1:
            problems = _join_units(problems, [p for attempt in attempts for p in attempt[3]])
        clause = self.clauses[position]
        if position in self.used:
            fields = {"written": written(items), "pattern": readable(clause)}
            problems = [Problem(index, None, "clause-repeated", fields)]
        self.used.add(position)
        self.matched.problems += problems
        if not problems:
            self._take(clause, index, filled, given)

    def _take(self, clause: Clause, index: int, filled: Filled, given: Mapping[str, Given]) -> None:
        self.matched.given.update(given)
        if clause.flag:
            self.matched.given[clause.flag] = True
            self.matched.places[clause.flag] = (index, 0)
        for slot, places in filled:
            self.matched.places[slot.name] = (index, places[0])
            if slot.kind == "part":
                self.matched.parts[slot.name] = clause.kinds

    def finish(self) -> None:
        """Report the required clauses that are not there."""
        for position, clause in enumerate(self.clauses):
            if clause.required and position not in self.used:
                self.matched.problems.append(Problem(None, None, "clause-missing", {"pattern": readable(clause)}))


Filled = list[tuple[Slot, list[int]]]


def _fit(pattern: Sequence[str | Slot], items: Sequence[Item]) -> Filled | None:
    """Which items fill which slots, None where the shapes differ."""
    filled, reached = _walk(pattern, items)
    return filled if reached is None else None


def _walk(pattern: Sequence[str | Slot], items: Sequence[Item]) -> tuple[Filled, int | None]:
    """The slots filled so far, and the index of the first item that does not fit (None: all fit)."""
    filled: Filled = []
    at = 0
    for element in pattern:
        if at >= len(items) or not _suits(element, items[at]):
            return filled, at
        if isinstance(element, Slot):
            end = at + 1
            while element.kind in ("row", "texts") and end < len(items) and _suits(element, items[end]):
                end += 1
            filled.append((element, list(range(at, end))))
            at = end
        else:
            at += 1
    return filled, None if at == len(items) else at


def _suits(element: str | Slot, item: Item) -> bool:
    if isinstance(element, str):
        return isinstance(item, Word) and item.text == element
    if element.kind == "part":
        return isinstance(item, Word)
    if element.kind == "texts":
        return isinstance(item, Quoted)
    return isinstance(item, Interval if element.kind == "interval" else Quantity)


def _values(
    filled: Filled, items: Sequence[Item], index: int, convert: Convert
) -> tuple[dict[str, Given], list[Problem]]:
    given: dict[str, Given] = {}
    problems: list[Problem] = []
    for slot, places in filled:
        reader = _Reader(slot, index, places[0], convert, problems)
        value = reader.read([items[place] for place in places])
        if value is not None:
            given[slot.name] = value
    return given, problems


@dataclass(slots=True)
class _Reader:
    """Reads the items of one slot into the slot's unit."""

    slot: Slot
    clause: int
    item: int
    convert: Convert
    problems: list[Problem]

    def read(self, items: Sequence[Item]) -> Given | None:
        first = items[0]
        if isinstance(first, Word):
            return first.text
        if isinstance(first, Interval):
            return self._interval(first)
        if self.slot.kind == "texts":
            return tuple(item.text for item in items if isinstance(item, Quoted))
        numbers = [item for item in items if isinstance(item, Quantity)]
        if self.slot.kind == "int":
            return self._count(numbers[0])
        last = numbers[-1].unit
        values = [self._number(Quantity(n.value, n.unit or last)) for n in numbers]
        known = tuple(v for v in values if v is not None)
        if len(known) < len(values):
            return None
        return known if self.slot.kind == "row" else known[0]

    def _problem(self, code: str, **fields: str) -> None:
        self.problems.append(Problem(self.clause, self.item, code, {"slot": self.slot.name, **fields}))

    def _count(self, number: Quantity) -> int | None:
        if number.unit is not None:
            self._problem("clause-unit-excess", unit=number.unit, written=spelt(number))
        elif not number.value.is_integer():
            self._problem("clause-not-whole", written=spelt(number))
        else:
            return int(number.value)
        return None

    def _number(self, number: Quantity) -> float | None:
        unit = self.slot.unit
        if unit == "1":
            if number.unit is None:
                return number.value
            self._problem("clause-unit-excess", unit=number.unit, written=spelt(number))
            return None
        if number.unit is None:
            self._problem("clause-unit-lacks", expected=unit, written=spelt(number))
            return None
        value = number.value if number.unit == unit else self.convert(number.value, number.unit, unit)
        if value is None:
            self._problem("clause-unit", unit=number.unit, expected=unit)
        return value

    def _interval(self, interval: Interval) -> tuple[float, float] | None:
        high = self._number(interval.high)
        if high is None:
            return None
        low = self._number(Quantity(interval.low.value, interval.low.unit or interval.high.unit))
        if low is None:
            return None
        if not low < high:
            self._problem(
                "clause-reversed", low=spelt(interval.low), high=spelt(interval.high), turned=_turned(interval)
            )
            return None
        return low, high


def _badness(problems: list[Problem]) -> tuple[int, bool]:
    """Few problems before many; a slip in the figures before a unit that the pattern does not know."""
    return len(problems), any(problem.code == "clause-unit" for problem in problems)


def _join_units(chosen: list[Problem], every: list[Problem]) -> list[Problem]:
    """Where patterns differ in units only, one message offers all of them."""
    first = chosen[0]
    units = sorted({p.fields["expected"] for p in every if "expected" in p.fields and p.item_index == first.item_index})
    if "expected" not in first.fields:
        return chosen
    joined = {**first.fields, "expected": " or ".join(units)}
    return [Problem(first.clause_index, first.item_index, first.code, joined), *chosen[1:]]


def _no_fit(clauses: Sequence[Clause], items: Sequence[Item], index: int, used: set[int]) -> tuple[Problem, int | None]:
    """Where the clause leaves the nearest pattern, and that pattern's position where it was clearly meant."""
    text = written(items)
    left = [readable(clause) for position, clause in enumerate(clauses) if position not in used]
    known = "; ".join(left or map(readable, clauses)) or "none at all"
    unknown = Problem(index, 0 if items else None, "clause-unknown", {"written": text, "known": known})
    if not clauses or not items:
        return unknown, None
    meant = max(range(len(clauses)), key=lambda p: (_walk_score(clauses[p], items), _likeness(clauses[p], items)))
    nearest = clauses[meant]
    at = _walk_score(nearest, items)
    alike = _likeness(nearest, items) >= 0.5 or len(elements(nearest.pattern)) == 1
    if at == 0 and not alike:
        return unknown, None
    found = spelt(items[at]) if at < len(items) else "the end of the clause"
    others = "; ".join(readable(clause) for clause in _others(clauses, meant, at, used))
    fields = {"written": text, "expected": readable(nearest), "found": found, "others": others}
    return Problem(index, at if at < len(items) else None, "clause-shape", fields), meant


def _others(clauses: Sequence[Clause], meant: int, at: int, used: set[int]) -> list[Clause]:
    """What else may stand there: clauses that begin with the same word, or any where it is the first that is wrong."""
    begins = elements(clauses[meant].pattern)[0]
    return [
        clause
        for position, clause in enumerate(clauses)
        if position != meant and position not in used and (at == 0 or elements(clause.pattern)[0] == begins)
    ]


def _walk_score(clause: Clause, items: Sequence[Item]) -> int:
    """How many items fit before the first that does not."""
    pattern = elements(clause.pattern)
    _, at = _walk(pattern, items)
    return at or 0


def _likeness(clause: Clause, items: Sequence[Item]) -> float:
    words = " ".join(_literals(elements(clause.pattern)))
    spoken = " ".join(item.text for item in items if isinstance(item, Word))
    return difflib.SequenceMatcher(None, words, spoken).ratio()


def _literals(pattern: Sequence[str | Slot]) -> Iterator[str]:
    return (each for each in pattern if isinstance(each, str))


def spelt(item: Item) -> str:
    """An item as it was written."""
    if isinstance(item, Word):
        return item.text
    if isinstance(item, Quoted):
        return f'"{item.text}"'
    if isinstance(item, Interval):
        return f"{spelt(item.low)}..{spelt(item.high)}"
    return f"{item.value:g}" + (f" {item.unit}" if item.unit else "")


def _turned(interval: Interval) -> str:
    """An interval that runs backwards, the other way round: `4..20 mA` for `20..4 mA`."""
    unit = interval.low.unit or interval.high.unit
    lower = interval.high if interval.low.unit else Quantity(interval.high.value)
    return f"{spelt(lower)}..{spelt(Quantity(interval.low.value, unit))}"


def written(items: Sequence[Item]) -> str:
    """A clause as it was written."""
    return " ".join(spelt(item) for item in items)
