"""Truths of all lanes at once: as a word, one whole number with lane i in bit i, or as a mask, an array.

Logic is done on words: one operation of Python's on whole numbers serves thousands of lanes, and
whether any lane is on, or anything has changed, is asked for next to nothing. Masks are made only
where numbers are chosen by a truth. The number of lanes is a multiple of 8.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

Bools = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.int64]


def word_of(mask: Bools) -> int:
    """The word of a mask."""
    return int.from_bytes(np.packbits(mask, None, "little").tobytes(), "little")


def mask_of(word: int, octets: int) -> Bools:
    """The mask of a word, 8 lanes an octet."""
    packed = np.frombuffer(word.to_bytes(octets, "little"), np.uint8)
    return np.unpackbits(packed, None, None, "little").view(np.bool_)


def squeezed(word: int, octets: int, keep: Ints) -> int:
    """The word of the lanes `keep`, in that order."""
    return word_of(mask_of(word, octets)[keep])


def lanes_in(word: int) -> Iterator[int]:
    """The lanes that are on, rising."""
    while word:
        lowest = word & -word
        yield lowest.bit_length() - 1
        word ^= lowest


class Counts:
    """How often each lane was on: digit k of all lanes' numbers, in base 2, is word k."""

    def __init__(self) -> None:
        self.digits: list[int] = []

    def add(self, word: int) -> None:
        """Count the lanes of `word` once more."""
        place = 0
        while word:
            if place == len(self.digits):
                self.digits.append(0)
            self.digits[place], word = self.digits[place] ^ word, self.digits[place] & word
            place += 1

    def numbers(self, octets: int) -> Ints:
        """The number of each lane."""
        total = np.zeros(8 * octets, np.int64)
        for place, digit in enumerate(self.digits):
            total += mask_of(digit, octets).astype(np.int64) << place
        return total

    def squeeze(self, octets: int, keep: Ints) -> None:
        """Go on with the lanes `keep`."""
        self.digits = [squeezed(digit, octets, keep) for digit in self.digits]
