"""Where choices come from."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st
from rungproof.logic.checks.draws import BitDraws, SeededDraws, chance, pick, some

seeds = st.integers(0, 2**40)


@given(seeds, st.integers(1, 10**6))
def test_below_stays_below(seed: int, count: int) -> None:
    """Every source gives whole numbers in 0..count-1."""
    draws = SeededDraws(seed)
    assert all(0 <= draws.below(count) < count for _ in range(20))


@given(seeds)
def test_one_seed_gives_one_row_of_choices(seed: int) -> None:
    """Two sources of one seed agree for ever; another number in the seed changes the row."""
    first, again, other = SeededDraws(seed, 1), SeededDraws(seed, 1), SeededDraws(seed, 2)
    rows = [[draws.below(1 << 30) for _ in range(8)] for draws in (first, again, other)]
    assert rows[0] == rows[1] != rows[2]


def test_the_row_is_the_published_one() -> None:
    """The generator is SplitMix64: from state 0 its first outputs are those that its authors' code
    prints (0xE220A8397B1DCDAF, 0x6E789E6AA1B965F4, 0x06C45D188009454F; values from memory)."""
    draws = SeededDraws()
    assert [draws.below(1 << 64) for _ in range(3)] == [0xE220A8397B1DCDAF, 0x6E789E6AA1B965F4, 0x06C45D188009454F]


def test_choices_are_spread_evenly() -> None:
    """Six thousand throws of a die give each face about a thousand times."""
    draws = SeededDraws(7)
    faces = [draws.below(6) for _ in range(6000)]
    assert all(850 < faces.count(face) < 1150 for face in range(6))


def test_no_bits_set_is_the_simplest_choice() -> None:
    """A source of truths that says off to everything picks the first option and takes no chance."""
    draws = BitDraws(lambda: False)
    assert pick(draws, "abc") == "a" and not chance(draws, 1, 8) and some(draws, [1, 2, 3], 3) == [1]


def test_truths_reach_every_option() -> None:
    """Two truths choose among four; three options are reached as well."""
    reached = set()
    for high in (False, True):
        for low in (False, True):
            bits = iter((high, low))
            reached.add(BitDraws(lambda bits=bits: next(bits)).below(3))
    assert reached == {0, 1, 2}


@given(seeds, st.lists(st.integers(), min_size=1, max_size=6, unique=True))
def test_some_takes_different_ones(seed: int, options: list[int]) -> None:
    """`some` gives at least one and never the same twice."""
    taken = some(SeededDraws(seed), options, 4)
    assert 1 <= len(taken) == len(set(taken)) and set(taken) <= set(options)
