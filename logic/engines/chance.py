"""Random draws without hidden state: the n-th draw of a stream is a function of its number.

A draw is keyed by (seed, lane, stream, index), so any lane of any campaign, and any moment
of any run, replays alone and in any order. The mixing is the finaliser of SplitMix64
(Steele, Lea and Flood, Fast splittable pseudorandom number generators, OOPSLA 2014;
constants from memory), applied once for each part of the key.
"""

from __future__ import annotations

import hashlib

import numpy as np
import numpy.typing as npt

_MASK = (1 << 64) - 1
_GOLDEN = 0x9E3779B97F4A7C15
_FIRST, _SECOND = 0xBF58476D1CE4E5B9, 0x94D049BB133111EB

#: A draw keeps 53 bits, all that a float holds, centred: -1 + k * 2^-52.
_SHIFT = 11
_STEP = 2.0**-52


def stream_of(key: str) -> int:
    """The 64-bit number of a stream named by `key`; the same in every process."""
    return int.from_bytes(hashlib.blake2b(key.encode(), digest_size=8).digest(), "big")


def _mixed(z: int) -> int:
    z = (z + _GOLDEN) & _MASK
    z = ((z ^ (z >> 30)) * _FIRST) & _MASK
    z = ((z ^ (z >> 27)) * _SECOND) & _MASK
    return z ^ (z >> 31)


def bits(seed: int, lane: int, stream: int, index: int) -> int:
    """64 bits for a key of four whole numbers, each taken modulo 2^64."""
    z = _mixed(seed & _MASK)
    for part in (lane, stream, index):
        z = _mixed(z ^ (part & _MASK))
    return z


def uniform(seed: int, lane: int, stream: int, index: int) -> float:
    """A draw from [-1, 1), uniform in steps of 2^-52."""
    return (bits(seed, lane, stream, index) >> _SHIFT) * _STEP - 1.0


_Words = npt.NDArray[np.uint64]


def _mixed_many(z: _Words) -> _Words:
    z = z + np.uint64(_GOLDEN)
    z = (z ^ (z >> np.uint64(30))) * np.uint64(_FIRST)
    z = (z ^ (z >> np.uint64(27))) * np.uint64(_SECOND)
    return z ^ (z >> np.uint64(31))


class LaneStream:
    """The draws of one stream in many lanes at once, to the bits of `uniform`."""

    def __init__(self, seed: int, lanes: npt.NDArray[np.int64], stream: int) -> None:
        z = np.full(lanes.shape, _mixed(seed & _MASK), dtype=np.uint64)
        self._keyed = _mixed_many(_mixed_many(z ^ lanes.astype(np.uint64)) ^ np.uint64(stream & _MASK))

    def uniform(self, index: int) -> npt.NDArray[np.float64]:
        """Draw number `index` of every lane."""
        z = _mixed_many(self._keyed ^ np.uint64(index & _MASK))
        return (z >> np.uint64(_SHIFT)).astype(np.float64) * _STEP - 1.0


def uniform_lanes(seed: int, lanes: npt.NDArray[np.int64], stream: int, index: int) -> npt.NDArray[np.float64]:
    """`uniform` of every lane in `lanes` at once, to the same bits."""
    return LaneStream(seed, lanes, stream).uniform(index)
