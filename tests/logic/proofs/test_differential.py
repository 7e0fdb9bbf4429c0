"""Verdicts of every engine against the truth, found by trying everything, on small random programs."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from random import Random

import pytest
from enumeration import shortest_bad
from lemma_proofs import finished
from rungproof.logic.meaning.understand import understand_texts
from rungproof.logic.proofs.bits import Bits
from rungproof.logic.proofs.bounded import bounded
from rungproof.logic.proofs.contract import Engine, run_of
from rungproof.logic.proofs.portfolio import Forms
from rungproof.logic.proofs.reach import reach
from rungproof.logic.proofs.run import first_bad
from rungproof.logic.proofs.system import BAD, System, requirement_system
from rungproof.logic.proofs.thresholds import to_bits
from small_programs import small_text

#: CI sets another start for every run; a failure prints its seed.
FIRST_SEED = int(os.environ.get("RUNGPROOF_SEED", "0"))


def systems(seed: int) -> Iterator[tuple[str, System]]:
    """The systems of one small program's requirements."""
    program = understand_texts({"small.rung": small_text(Random(seed))}).program
    for requirement in program.requirements if program is not None else ():
        whole = requirement_system(program, requirement)  # type: ignore[arg-type]
        yield f"seed {seed}, {requirement.name}", replace(whole, step=whole.step.slice([BAD]))


def engines(system: System) -> Iterator[tuple[str, Bits, Engine]]:
    forms = Forms(system, BAD)
    yield "reach on thresholds", forms.coarse, reach(forms.coarse, BAD)
    yield "reach on whole numbers", forms.fine, reach(forms.fine, BAD)
    deep = to_bits(system.step, system.free_starts, levels=7)
    yield "reach on deep thresholds", deep, reach(deep, BAD)


def judge(name: str, system: System, tally: Counter[tuple[str, str, str]]) -> list[str]:
    """What the engines say wrongly of one system."""
    truth, depth = shortest_bad(system, 20_000)
    wrong: list[str] = []
    for label, bits, engine in engines(system):
        result = finished(engine, 4000)
        word: str = result.word
        if result.found is not None and first_bad(system, run_of(system, bits, result.found)) is None:
            word = "spurious"
            if bits.exact:
                wrong.append(f"{name}: {label}: exact and yet spurious")
        if (truth, word) in (("bad", "proved"), ("good", "refuted")):
            wrong.append(f"{name}: {label}: says {word}, truth is {truth} at {depth}")
        tally[(label, truth, word)] += 1
    if truth == "bad":
        wrong += shortest_differs(name, system, depth)
    return wrong


def shortest_differs(name: str, system: System, depth: int) -> list[str]:
    """Bounded checking on an exact form finds the shortest bad run, no longer and no shorter one."""
    bits = Forms(system, BAD).fine
    result = finished(bounded(bits, BAD, depth), 4000)
    if bits.exact and (result.word, result.depth) != ("refuted", depth):
        return [f"{name}: bounded checking says {result.word} at {result.depth}, the shortest bad run has {depth}"]
    return []


def compare(seeds: range) -> tuple[Counter[tuple[str, str, str]], list[str]]:
    tally: Counter[tuple[str, str, str]] = Counter()
    wrong: list[str] = []
    for seed in seeds:
        for name, system in systems(seed):
            wrong += judge(name, system, tally)
    return tally, wrong


def test_no_verdict_is_wrong() -> None:
    """On some 300 pairs of program and requirement, good ones and bad ones, no engine errs."""
    tally, wrong = compare(range(FIRST_SEED, FIRST_SEED + 90))
    assert wrong == []
    assert sum(n for (_, truth, word), n in tally.items() if truth == "good" and word == "proved") > 250
    assert sum(n for (_, truth, word), n in tally.items() if truth == "bad" and word == "refuted") > 150


@pytest.mark.slow
def test_no_verdict_is_wrong_on_many() -> None:
    """The same on some 10,000 pairs."""
    tally, wrong = compare(range(FIRST_SEED, FIRST_SEED + 3600))
    assert wrong == []
    assert sum(tally.values()) > 30_000


def test_two_numbers_share_no_bit() -> None:
    """Two programs of which the rewriting once proved what is false: free bits of two sums had one name."""
    tally, wrong = compare(range(1362, 1363))
    more, also = compare(range(1524, 1525))
    assert wrong + also == []
    assert any(truth == "bad" for _, truth, _ in [*tally, *more])
