"""Requirement patterns: our monitors against published formulas, through two oracles.

Patterns: Dwyer, Avrunin and Corbett, Patterns in property specifications for finite-state
verification, ICSE 1999 (formulas from the authors' catalogue page); Konrad and Cheng,
Real-time specification patterns, ICSE 2005 (names and meaning from a secondary source).
Oracles: the temporal logic library rtamt, for the exact instant of violation; and an
evaluation of the published future formula over lasso words, for whether there is one.

Not expressible in our forms, so not here: existence and unbounded response (liveness), and
the scopes "before R" and "between Q and R", which judge only once R has come.

Where a bound of d scans runs out, the formulas are violated at scan d; ours at the next
instant, because an obligation of exactly that age may still be met at it.
"""

from __future__ import annotations

import re
from functools import cache

import pytest
import rtamt
from hypothesis import given, settings
from hypothesis import strategies as st
from lasso import Lasso, holds
from rungproof.logic.engines.contract import Judgement
from tables import ENGINES, program_of, story_of

LETTERS = "pqrs"
SCAN = 10
BOUND = 3
T = BOUND * SCAN

FORMS = {
    "absence": "never p",
    "universality": "always p",
    "precedence": "s before p",
    "absence_after": "after q never p until idle",
    "absence_after_until": "after q never p until r",
    "response_at_once": "whenever p then s",
    "bounded_response": f"whenever p then s within {T} ms",
    "bounded_invariance": f"whenever p then s for {T} ms",
    "bounded_recurrence": f"whenever p or not p then p within {T} ms",
    "minimum_duration": f"whenever rising p then p for {T} ms",
    "maximum_duration": f"whenever rising p then not p within {T} ms",
    "stood": f"whenever p has stood for {T} ms then s",
    "bounded_existence": "at most 2 rising p in any 1 h",
    "rate": f"at most 2 rising p in any {2 * T} ms",
    "from": f"from {T} ms never p",
}

_TAGS = "".join(f"    {letter} input bool\n" for letter in LETTERS)
TEXT = (
    f'controller "Words" every {SCAN} ms\n\ntags\n{_TAGS}    idle input bool\n    seen memory bool\n'
    "\nrung seen\n    p or q or r or s or idle or seen\n    => seen\n"
    + "".join(f'\nrequirement {name} "{name}"\n    {form}\n' for name, form in FORMS.items())
)

Word = list[frozenset[str]]
LETTER_SETS = st.frozensets(st.sampled_from(LETTERS))


def judged(word: Word) -> dict[str, Judgement]:
    """What the engines say of a word, one letter set a scan; all of them say the same."""
    inputs = {letter: [letter in each for each in word] for letter in LETTERS}
    program, story = program_of(TEXT), story_of(inputs, (SCAN,))
    found = [dict(engine.run(program, story).judgements) for engine in ENGINES.values()]
    assert all(each == found[0] for each in found)
    return found[0]


def instant(place: int | None) -> int | None:
    """The instant (ms) at which the scan of a word's place is seen: its end."""
    return None if place is None else (place + 1) * SCAN


# ----------------------------------------------------------- exact instants

#: Violated at the samples at which this past formula is true.
_RISE = "((p > 0.5) and once[1:1](p < 0.5))"
VIOLATED = {
    "absence": "p > 0.5",
    "universality": "p < 0.5",
    "precedence": "(p > 0.5) and not (once(s > 0.5))",
    "absence_after": "(p > 0.5) and once(q > 0.5)",
    "absence_after_until": "(p > 0.5) and ((r < 0.5) since ((q > 0.5) and (r < 0.5)))",
    "response_at_once": "(p > 0.5) and (s < 0.5)",
    "bounded_response": f"once[{BOUND}:{BOUND}](p > 0.5) and historically[0:{BOUND}](s < 0.5)",
    "bounded_invariance": f"(s < 0.5) and once[0:{BOUND}](p > 0.5)",
    "bounded_recurrence": f"historically[0:{BOUND}](p < 0.5) and once[{BOUND}:{BOUND}](p < 0.5)",
    "minimum_duration": f"(p < 0.5) and once[0:{BOUND}]{_RISE}",
    "maximum_duration": f"once[{BOUND}:{BOUND}]{_RISE} and historically[0:{BOUND}](p > 0.5)",
    "stood": f"historically[0:{BOUND}](p > 0.5) and once[{BOUND}:{BOUND}](p > 0.5) and (s < 0.5)",
}
#: These are seen one instant after their bound has run out.
LATE = {"bounded_response", "bounded_recurrence", "maximum_duration"}


@cache
def spec_of(formula: str) -> rtamt.StlDiscreteTimeOfflineSpecification:
    """A formula over the letters, ready to evaluate. `s` means seconds there, so each letter gets a prefix."""
    spec = rtamt.StlDiscreteTimeOfflineSpecification()
    for letter in LETTERS:
        spec.declare_var(f"is_{letter}", "float")
    spec.spec = re.sub(rf"\b([{LETTERS}])\b", r"is_\1", formula)
    spec.parse()
    return spec


def first_true(formula: str, word: Word) -> int | None:
    """The first place at which rtamt finds the formula true."""
    samples = {f"is_{letter}": [float(letter in each) for each in word] for letter in LETTERS}
    found = spec_of(formula).evaluate({"time": list(range(len(word))), **samples})
    return next((place for place, (_, robustness) in enumerate(found) if robustness > 0), None)


@settings(max_examples=60, deadline=None)
@given(st.lists(LETTER_SETS, min_size=2, max_size=24))
def test_first_violation_is_where_the_past_formula_says(word: Word) -> None:
    """Every form is violated at the sample rtamt finds, or one later where a bound runs out."""
    found = judged(word)
    for name, formula in VIOLATED.items():
        place = first_true(formula, word)
        if place is not None and name in LATE:
            place = place + 1 if place + 1 < len(word) else None
        assert found[name].violated_at == instant(place), name


@settings(max_examples=60, deadline=None)
@given(st.lists(LETTER_SETS, min_size=2, max_size=24))
def test_obligation_is_open_where_the_bound_has_not_run_out(word: Word) -> None:
    """A bounded response stands open at the end where some trigger has had no response since."""
    found = judged(word)["bounded_response"]
    waiting = False
    for letters in word:
        waiting = ("p" in letters or waiting) and "s" not in letters
    assert found.open == waiting
    assert found.triggers == sum("p" in letters for letters in word)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.booleans(), min_size=2, max_size=30))
def test_rises_are_counted_within_their_window(rises: list[bool]) -> None:
    """The third rise within (t - T, t] violates; `p` at the first instant is no rise."""
    word = [frozenset("p") if each else frozenset() for each in rises]
    places = [i for i in range(1, len(rises)) if rises[i] and not rises[i - 1]]
    found = judged(word)
    assert found["bounded_existence"].violated_at == instant(places[2] if len(places) > 2 else None)
    crowded = [c for a, c in zip(places, places[2:], strict=False) if (c - a) * SCAN < 2 * T]
    assert found["rate"].violated_at == instant(crowded[0] if crowded else None)
    assert found["rate"].triggers == len(places)


@settings(max_examples=40, deadline=None)
@given(st.lists(LETTER_SETS, min_size=2, max_size=24))
def test_from_looks_at_nothing_before_its_time(word: Word) -> None:
    """`from T` judges the instants at T and later, and counts no others."""
    found = judged(word)["from"]
    late = [i for i in range(len(word)) if (i + 1) * SCAN >= T]
    assert found.violated_at == instant(next((i for i in late if "p" in word[i]), None))
    assert found.triggers == len(late)


# ------------------------------------------------- published future formulas

P, Q, R, S = (("p",), ("q",), ("r",), ("s",))
PUBLISHED = {
    "absence": ("G", ("not", P)),
    "universality": ("G", P),
    "precedence": ("W", ("not", P), S),
    "absence_after": ("G", ("implies", Q, ("G", ("not", P)))),
    "absence_after_until": ("G", ("implies", ("and", Q, ("not", R)), ("W", ("not", P), R))),
    "response_at_once": ("G", ("implies", P, S)),
    "bounded_response": ("G", ("implies", P, ("F", BOUND, S))),
    "bounded_invariance": ("G", ("implies", P, ("G", BOUND, S))),
    "bounded_recurrence": ("G", ("F", BOUND, P)),
}


@settings(max_examples=80, deadline=None)
@given(st.lists(LETTER_SETS, max_size=3), st.lists(LETTER_SETS, min_size=1, max_size=3))
def test_violated_exactly_where_the_published_formula_fails(stem: Word, loop: Word) -> None:
    """On a word that goes on for ever, a form is violated in the end if and only if its formula is false."""
    word = Lasso(tuple(stem), tuple(loop))
    found = judged(word.prefix(len(stem) + 4 * len(loop) + 3 * BOUND))
    for name, formula in PUBLISHED.items():
        assert (found[name].violated_at is None) == holds(formula, word), name


@pytest.mark.parametrize(
    ("formula", "stem", "loop", "expected"),
    [
        (("G", P), "pp", "p", True),
        (("G", P), "p-", "p", False),
        (("W", ("not", P), S), "-s", "p", True),
        (("W", ("not", P), S), "-p", "s", False),
        (("F", 2, P), "--", "p", True),
        (("F", 1, P), "--", "p", False),
        (("G", 1, P), "pp", "-", True),
        (("G", 2, P), "pp", "-", False),
    ],
)
def test_the_lasso_oracle_on_words_worked_by_hand(formula: object, stem: str, loop: str, expected: bool) -> None:
    """The oracle itself agrees with words small enough to see."""
    word = Lasso(*(tuple(frozenset(each.strip("-")) for each in part) for part in (stem, loop)))
    assert holds(formula, word) is expected
