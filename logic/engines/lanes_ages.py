"""Ages of many lanes by deadline (`steps/ages.py`): a lane costs nothing until something changes in it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from rungproof.logic.engines.lanes_words import Ints, lanes_in, mask_of, squeezed


class LaneAges:
    """One age in every lane. `resting`: the lanes where it is 0; `past`: for each of `firsts` (ms), the lanes where,
    a tick older than at the last instant, it is so much or more. `limit` is where it stops."""

    def __init__(self, firsts: Sequence[int], limit: int, tick: int, octets: int) -> None:
        self.firsts, self.limit, self.tick = tuple(firsts), limit, tick
        self.resting = (1 << 8 * octets) - 1
        self.past = [0] * len(self.firsts)
        self._since = [0] * (8 * octets)
        self._due: dict[int, int] = {}

    def come(self, t: int) -> list[int]:
        """The lanes that are past, by place of `firsts`, at the instant `t`."""
        word = self._due.pop(t, 0) & ~self.resting
        if word:
            since = self._since
            for place in lanes_in(word):
                age = t - since[place]
                for i, first in enumerate(self.firsts):
                    if age == first:
                        self.past[i] |= 1 << place
        return self.past

    def rest(self, word: int, t: int) -> None:
        """At `t` it becomes 0 in the lanes of `word`, and grows in all others."""
        if word == self.resting:
            return
        began = self.resting & ~word
        if began:
            since = t - self.tick
            for place in lanes_in(began):
                self._since[place] = since
            for first in self.firsts:
                self._due[since + first] = self._due.get(since + first, 0) | began
        self.past = [past & ~word for past in self.past]
        self.resting = word

    def ages(self, t: int, octets: int) -> Ints:
        """The age of every lane after the instant `t`."""
        grown = np.minimum(t - np.array(self._since, np.int64), self.limit)
        return np.where(mask_of(self.resting, octets), 0, grown)

    def squeeze(self, octets: int, keep: Ints) -> None:
        """Go on with the lanes `keep`."""
        self.resting, *self.past = (squeezed(word, octets, keep) for word in (self.resting, *self.past))
        self._due = {t: squeezed(word, octets, keep) for t, word in self._due.items()}
        self._since = [self._since[place] for place in keep]
