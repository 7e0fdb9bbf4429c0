"""The noise generator: pinned draws, uniformity, independence, and the same bits in numpy."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from rungproof.logic.engines.chance import _mixed, bits, stream_of, uniform, uniform_lanes
from scipy import stats

WORDS = st.integers(-(2**63), 2**64 - 1)
STREAM = stream_of("LT1~noise")


def test_mixing_gives_the_known_sequence() -> None:
    """The mixing gives the first outputs of SplitMix64 from seed 0 (values from memory, widely published)."""
    golden = 0x9E3779B97F4A7C15
    known = [0xE220A8397B1DCDAF, 0x6E789E6AA1B965F4, 0x06C45D188009454F]
    assert [_mixed(golden * k % 2**64) for k in range(3)] == known


def test_draws_are_pinned() -> None:
    """Draws never change: a story of last year replays today."""
    assert STREAM == 16527412838480540820
    assert uniform(0, 0, 0, 0) == -0.7407087634005052
    assert uniform(1, 2, 3, 4) == 0.6668945899786876
    assert uniform(-1, 5, STREAM, 10**6) == -0.957261140513205


@given(WORDS, WORDS, WORDS, st.integers(0, 2**40))
def test_draws_stay_in_their_interval(seed: int, lane: int, stream: int, index: int) -> None:
    """Every draw lies in [-1, 1)."""
    assert -1 <= uniform(seed, lane, stream, index) < 1


@given(WORDS, st.lists(st.integers(-(2**63), 2**63 - 1), max_size=20), st.text(max_size=20), st.integers(0, 2**40))
def test_lanes_draw_the_same_bits(seed: int, lanes: list[int], key: str, index: int) -> None:
    """The numpy form gives each lane the very draw that it would have alone."""
    many = uniform_lanes(seed, np.array(lanes, dtype=np.int64), stream_of(key), index)
    assert many.tolist() == [uniform(seed, lane, stream_of(key), index) for lane in lanes]


@pytest.mark.parametrize("part", ["seed", "lane", "stream", "index"])
def test_draws_are_uniform_along_every_part_of_the_key(part: str) -> None:
    """20,000 draws along one part pass a Kolmogorov-Smirnov test, and neighbours do not correlate."""
    count = 20_000
    key = {"seed": 7, "lane": 3, "stream": STREAM, "index": 11}
    draws = np.array([uniform(**{**key, part: k}) for k in range(count)])
    assert stats.kstest(draws, "uniform", args=(-1, 2)).pvalue > 1e-3
    assert abs(np.corrcoef(draws[1:], draws[:-1])[0, 1]) < 4 / math.sqrt(count)


def test_streams_do_not_correlate() -> None:
    """Draws of two streams, two lanes and two seeds at the same indices are uncorrelated."""
    count = 20_000
    base = np.array([uniform(0, 0, STREAM, k) for k in range(count)])
    others = [
        [uniform(0, 0, stream_of("LT2~noise"), k) for k in range(count)],
        [uniform(0, 1, STREAM, k) for k in range(count)],
        [uniform(1, 0, STREAM, k) for k in range(count)],
    ]
    assert all(abs(np.corrcoef(base, each)[0, 1]) < 4 / math.sqrt(count) for each in others)


def test_one_bit_of_the_key_turns_half_the_bits() -> None:
    """Each single bit of each part turns 32 of 64 bits on average, within 4 at worst over 64 bits."""
    key = [5, 6, STREAM, 7]
    before = bits(*key)
    for part in range(4):
        turned = []
        for bit in range(64):
            other = list(key)
            other[part] ^= 1 << bit
            turned.append((bits(*other) ^ before).bit_count())
        assert 28 < sum(turned) / 64 < 36
        assert min(turned) > 12


def test_key_order_matters() -> None:
    """Lane 1 of seed 2 is not lane 2 of seed 1."""
    assert uniform(1, 2, STREAM, 0) != uniform(2, 1, STREAM, 0)
