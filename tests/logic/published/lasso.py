"""Linear temporal logic over infinite words of the shape stem, loop, loop, loop, ...: a plain oracle.

A formula is a tuple: `("p",)` a letter, `("not", f)`, `("and", f, g)`, `("or", f, g)`,
`("implies", f, g)`, `("G", f)`, `("W", f, g)` (weak until), and within the next d steps, this
one included, `("G", d, f)` and `("F", d, f)`. Semantics: textbook (Baier and Katoen, Principles
of Model Checking, chapter 5, from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

Letters = frozenset[str]


@dataclass(frozen=True)
class Lasso:
    """A word: `stem`, then `loop` for ever; `loop` has a letter set or more."""

    stem: tuple[Letters, ...]
    loop: tuple[Letters, ...]

    @property
    def positions(self) -> tuple[Letters, ...]:
        return self.stem + self.loop

    def after(self, i: int) -> int:
        return i + 1 if i + 1 < len(self.positions) else len(self.stem)

    def prefix(self, length: int) -> list[Letters]:
        """The first `length` letter sets."""
        found, i = [], 0
        for _ in range(length):
            found.append(self.positions[i])
            i = self.after(i)
        return found


def holds(formula: Any, word: Lasso) -> bool:
    """Whether the word satisfies the formula at its beginning."""
    return _everywhere(formula, word)[0]


def _everywhere(formula: Any, word: Lasso) -> Sequence[bool]:
    count = len(word.positions)
    match formula:
        case (str(letter),):
            return [letter in each for each in word.positions]
        case ("not", f):
            return [not each for each in _everywhere(f, word)]
        case ("and", f, g):
            return [a and b for a, b in zip(_everywhere(f, word), _everywhere(g, word), strict=True)]
        case ("or", f, g):
            return [a or b for a, b in zip(_everywhere(f, word), _everywhere(g, word), strict=True)]
        case ("implies", f, g):
            return [not a or b for a, b in zip(_everywhere(f, word), _everywhere(g, word), strict=True)]
        case ("G", int(steps), f):
            return _bounded(_everywhere(f, word), word, steps, all)
        case ("F", int(steps), f):
            return _bounded(_everywhere(f, word), word, steps, any)
        case ("G", f):
            return _everywhere(("W", f, ("and", f, ("not", f))), word)
        case ("W", f, g):
            left, right = _everywhere(f, word), _everywhere(g, word)
            found = [True] * count
            for _ in range(count + 1):
                found = [right[i] or (left[i] and found[word.after(i)]) for i in range(count)]
            return found
    raise TypeError(formula)


def _bounded(inner: Sequence[bool], word: Lasso, steps: int, join: Any) -> list[bool]:
    found = []
    for i in range(len(word.positions)):
        values, at = [inner[i]], i
        for _ in range(steps):
            at = word.after(at)
            values.append(inner[at])
        found.append(join(values))
    return found
