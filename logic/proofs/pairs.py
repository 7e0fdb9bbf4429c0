"""Two bools against each other: facts such as `never step_3 and step_7`, guessed from runs and kept where they
follow from themselves.

Of a sequence of steps at most one is on. That is a fact about every two of them, and none of these facts follows
without the others: reachability, which learns one clause at a time, walks through the sequence for each. Guessed
together and checked together (`houdini`) they take one question or two. Reachability goes on from what is left.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
from rungproof.logic.proofs.bits import Bits
from rungproof.logic.proofs.chance import states_drawn
from rungproof.logic.proofs.contract import Engine, Result
from rungproof.logic.proofs.houdini import Houdini
from rungproof.logic.proofs.lemmas import with_lemmas
from rungproof.logic.proofs.literals import Clause, Literal
from rungproof.logic.proofs.near import nearest_states
from rungproof.logic.proofs.system import System
from rungproof.logic.proofs.tape import Column

#: Transitions of the runs that guesses are made from; bools that are paired, and guesses made, at most.
STEPS, MOST_BOOLS, MOST_GUESSES = 160, 130, 12_000
#: Steps of reachability with the lemmas.
MOST_REACH = 400
#: How the state of a monitor that has looked at an instant ends.
HAS_LOOKED = "/ran"


def pairs(system: System, bits: Bits, output: str) -> Engine:
    """Prove that no run shows `output`, with lemmas about two bools; never refutes."""
    near = _nearest(bits, output)
    tags = [name for name in near if name in system.step.states and not set("#/ ") & set(name)]
    for names in (tags, [*tags, *(name for name in near if name not in tags)]):
        result = yield from _of_names(system, bits, output, names[:MOST_BOOLS])
        if result.word == "proved":
            return result
    return Result("unknown", 0)


def _of_names(system: System, bits: Bits, output: str, names: Sequence[str]) -> Engine:
    if len(names) < 2:
        return Result("unknown", 0)
    guesses = list(_guesses(replace(system, step=bits.step), bits, names))[:MOST_GUESSES]
    yield None
    return (yield from with_lemmas(bits, output, guesses, MOST_REACH))


def lemmas_of_pairs(system: System, bits: Bits, output: str, found: list[Clause]) -> Iterator[None]:
    """Fills `found` with facts about two bools that hold in every reachable state; yields between two questions."""
    names = _nearest(bits, output)[:MOST_BOOLS]
    kept = Houdini(bits, output)
    yield from kept.drop_what_breaks(list(_guesses(replace(system, step=bits.step), bits, names))[:MOST_GUESSES])
    found += kept.clauses


def _nearest(bits: Bits, output: str) -> list[str]:
    """The bools of the system's own, those that the output reads soonest first. What a number has reached is none:
    it changes with the times of things, not with their order."""
    without = bits.free | bits.facts.keys()
    near = nearest_states(bits.step, output)
    return [each.name for each in near if each.type == "bool" and each.name not in without]


def _guesses(system: System, bits: Bits, names: Sequence[str]) -> Iterator[Clause]:
    """Bools that never changed, and two of which one was always as said, in the states that runs came through;
    and the same once a monitor has looked, for before that it does not remember what it has seen."""
    if not names:
        return
    rows = states_drawn(system, bits, seed=0, steps=STEPS)
    seen = np.stack([np.asarray(rows[name], bool) for name in names], axis=1)
    always = dict.fromkeys(_held(names, seen))
    yield from always
    for name in bits.step.states:
        if name.endswith(HAS_LOOKED):
            later = _held(names, seen[np.asarray(rows[name], bool)])
            yield from ((Literal(name, None, False), *clause) for clause in later if clause not in always)


def _held(names: Sequence[str], seen: Column) -> Iterator[Clause]:
    never = {on: ~(seen == on).any(axis=0) for on in (True, False)}
    steady = never[True] | never[False]
    yield from ((Literal(names[place], None, not never[True][place]),) for place in map(int, np.flatnonzero(steady)))
    both_on = _together(seen, seen)
    on_and_off, both_off = _together(seen, ~seen), _together(~seen, ~seen)
    # The commonest first: that two are never on together.
    for table, a, b in ((both_on, False, False), (on_and_off, False, True), (both_off, True, True)):
        for one, other in zip(*np.nonzero(~table), strict=True):
            # Of one that never changed the runs say little; but of steps they have not come to, this much.
            told = table is both_on or not (steady[one] or steady[other])
            if told and (one < other or (a is not b and one != other)):
                yield (Literal(names[one], None, a), Literal(names[other], None, b))


def _together(one: Column, other: Column) -> Column:
    """Which column of `one` was on with which of `other`, in any row. (In packed words: a product of matrices
    starts threads of its own, which wait for each other wherever the machine is busy.)"""
    a, b = (np.packbits(each, axis=0).T.copy() for each in (one, other))
    return np.stack([(b & column).any(axis=1) for column in a])
