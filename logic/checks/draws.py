"""Where the search takes its choices from. 0 is the simplest choice everywhere."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Protocol, TypeVar

T = TypeVar("T")

_MASK = (1 << 64) - 1


class Draws(Protocol):
    """A source of choices."""

    def below(self, count: int) -> int:
        """A whole number in 0..count-1; `count` is at least 1."""


class SeededDraws:
    """A counter through a mixing function: the same on every machine and Python, no hidden state.

    Source: the SplitMix64 generator (Steele, Lea, Flood, OOPSLA 2014), constants from memory.
    """

    def __init__(self, *seeds: int) -> None:
        self._state = 0
        for seed in seeds:
            self._state = _mix((self._state + seed + 0x9E3779B97F4A7C15) & _MASK)

    def below(self, count: int) -> int:
        self._state = (self._state + 0x9E3779B97F4A7C15) & _MASK
        return (_mix(self._state) * count) >> 64


def _mix(z: int) -> int:
    z = ((z ^ (z >> 30)) * 0xBF58476D1CE4E5B9) & _MASK
    z = ((z ^ (z >> 27)) * 0x94D049BB133111EB) & _MASK
    return z ^ (z >> 31)


class BitDraws:
    """Choices made of single truths, for hypothesis.

    Its strategies for numbers also offer constants that it finds in the modules that happen
    to be loaded (and keeps a folder of them beside the user's files): then the same seed would
    not give the same result in every process. Truths are free of that.
    """

    def __init__(self, truth: Callable[[], bool]) -> None:
        self._truth = truth

    def below(self, count: int) -> int:
        value = 0
        for _ in range((count - 1).bit_length()):
            value = value * 2 + self._truth()
        return value % count


def pick(draws: Draws, options: Sequence[T]) -> T:
    """One of the options; the first is the simplest."""
    return options[draws.below(len(options))]


def chance(draws: Draws, parts: int, of: int) -> bool:
    """True in `parts` of `of` cases; False is the simpler."""
    return draws.below(of) >= of - parts


def some(draws: Draws, options: Sequence[T], most: int) -> list[T]:
    """Up to `most` different options, at least one where there is one."""
    left = list(options)
    count = min(len(left), 1 + draws.below(most))
    return [left.pop(draws.below(len(left))) for _ in range(count)]
