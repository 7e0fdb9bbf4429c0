"""Two variables compared with each other: proved and refuted by the engines' own arithmetic."""

from __future__ import annotations

from functools import cache
from random import Random

import pytest
from rungproof.logic.meaning.program import Program
from rungproof.logic.meaning.understand import understand_texts
from rungproof.logic.proofs import order, thresholds
from rungproof.logic.proofs.evaluate import transition
from rungproof.logic.proofs.explicit import TooLargeError, explore
from rungproof.logic.proofs.literals import Invariant
from rungproof.logic.proofs.portfolio import Answer, decide
from rungproof.logic.proofs.prove import prove_program
from rungproof.logic.proofs.reach import reach
from rungproof.logic.proofs.recheck import Verified, recheck
from rungproof.logic.proofs.run import first_bad, least_inputs
from rungproof.logic.proofs.system import BAD, System, requirement_system
from rungproof.logic.proofs.thresholds import to_bits
from rungproof.logic.steps.node import apply, constant, variable

from .test_thresholds import possible

TANK = """
controller "Tank" every 10 ms
tags
    level   input      real cm 0..120
    other   input      real cm 0..120
    limit   parameter  real cm 80..100 = 90
    high    output     bool  on stop off
    higher  output     bool  on stop off
    held    memory     bool
    last    memory     real cm 0..120
    alarm   output     bool  on stop off

rung high
    level > limit
    => high

rung higher
    level > other
    => higher

rung hysteresis
    level > limit or (held and level > limit - 5 cm)
    => held

rung keep
    => last := level

rung alarm
    last > limit
    => alarm

"""

HOLD = [
    ("what is above the parameter is seen", "never scanning and level > limit and not high"),
    ("above its greatest value it is always seen", "never scanning and level > 100 cm and not high"),
    ("below its least value never", "never level < 80 cm and high"),
    ("with hysteresis no lower than that", "never held and level < 70 cm"),
    ("not below the parameter less the hysteresis", "never held and level < limit - 5 cm"),
    ("nor further below", "never held and level < limit - 7.5 cm"),
    ("two analogs on both sides of a number", "never scanning and level > 60 cm and other < 60 cm and not higher"),
    ("not both ways", "never level > other and other > level"),
    ("what was kept", "whenever level > 100 cm and scanning then alarm"),
]
BREAK = [
    ("with power away the output is off", "never level > limit and not high"),
    ("inside the parameter's range it depends", "never scanning and level > 95 cm and not high"),
    ("lower than the other, it may be higher", "never higher and level < 10 cm"),
    ("just above the parameter", "never high and level <= limit + 0.5 cm"),
    ("the hysteresis is 5 cm", "never held and level < limit - 4.9 cm"),
    ("equal is not above", "never scanning and level >= limit and not high"),
]


@cache
def tank(form: str) -> tuple[Program, System]:
    understood = understand_texts({"tank.rung": f'{TANK}requirement R1 "asked"\n    {form}\n'})
    assert understood.program is not None, understood.diagnoses
    return understood.program, requirement_system(understood.program, understood.program.requirements[0])


def decided(form: str) -> Answer:
    system = tank(form)[1]
    return decide(system, system.bad, 20.0)


@pytest.mark.parametrize(("words", "form"), HOLD)
def test_what_holds_is_proved_and_checked_again(words: str, form: str) -> None:
    """Comparisons of two variables, held against numbers and against each other."""
    answer = decided(form)
    assert answer.word == "proved"
    assert isinstance(recheck(tank(form)[1], Invariant(answer.clauses), 20.0), Verified)


@pytest.mark.parametrize(("words", "form"), BREAK)
def test_what_breaks_is_refuted_with_numbers(words: str, form: str) -> None:
    """The run has a value for each variable, and plain evaluation of the system says that it is bad."""
    answer = decided(form)
    assert answer.word == "refuted"
    assert answer.run is not None
    assert first_bad(tank(form)[1], answer.run) == len(answer.run.given) - 1


def test_a_story_says_the_numbers() -> None:
    """A level just above the parameter: the reference engine replays it."""
    program = tank(BREAK[1][1])[0]
    found = prove_program(program, time_s=60, workers=1)["R1"]
    assert (found.word, found.shortest) == ("violated", True)


# ------------------------------------------------------------------ differential


def comparison(random: Random) -> str:
    amounts = ["x", "y", "p", "s"]
    a, b = random.sample(amounts, 2)
    if random.random() < 0.35:
        b = str(random.randint(0, 4))
    elif random.random() < 0.4:
        b = f"{b} {random.choice('+-')} {random.randint(1, 2)}"
    return f"{a} {random.choice(['<', '<=', '>', '>=', '=', '<>'])} {b}"


def condition(random: Random) -> str:
    return f"{comparison(random)} {random.choice(['and', 'or'])} {comparison(random)}"


def generated(random: Random) -> str:
    rungs = [
        f"rung keep\n    {comparison(random)}\n    => s := {random.choice(['x', 'y', 'p'])}\n",
        f"rung out\n    {condition(random)}\n    => out\n",
        f"rung held\n    {comparison(random)} or (held and {comparison(random)})\n    => held\n",
    ]
    random.shuffle(rungs)
    tags = "    x input int 0..4\n    y input int 0..4\n    p parameter int 1..3 = 2\n    s memory int 0..4\n"
    tags += "    out memory bool\n    held memory bool\n"
    asked = [f"never {random.choice(['out', 'held', 'not out'])} and {condition(random)}" for _ in range(3)]
    asked += [f"never {comparison(random)} and {comparison(random)} and {comparison(random)}" for _ in range(3)]
    forms = "".join(f'\nrequirement Q{place} "asked"\n    {form}\n' for place, form in enumerate(asked))
    return f'controller "Small" every 1 ms\n\ntags\n{tags}\n' + "\n".join(rungs) + forms


def wrong_words(seeds: range) -> tuple[list[str], int, int]:
    """Proofs on the rewritten form alone that trying everything shows to be wrong; proofs; and requirements."""
    wrong, proved, done = [], 0, 0
    for seed in seeds:
        program = understand_texts({"small.rung": generated(Random(seed))}).program
        for requirement in program.requirements if program is not None else ():
            assert program is not None
            system = requirement_system(program, requirement)
            step = system.step.slice([BAD])
            free = system.free_starts & step.states.keys()
            try:
                truth = explore(step, BAD, free_starts=free).depth is None
            except TooLargeError:
                continue
            bits = to_bits(step, free)
            engine, word = reach(bits, BAD), "unknown"
            for _ in range(600):
                try:
                    next(engine)
                except StopIteration as end:
                    word = end.value.word
                    break
            done, proved = done + 1, proved + (word == "proved")
            if word == "proved" and not truth:
                wrong.append(f"seed {seed} {requirement.name}")
    return wrong, proved, done


def test_no_proof_on_ordered_comparisons_is_wrong() -> None:
    """Generated programs over whole numbers, truth by trying every state and every input."""
    wrong, proved, done = wrong_words(range(40))
    assert not wrong
    assert done > 150
    assert proved > 20


def test_every_transition_is_still_possible() -> None:
    """Whatever a generated program does in a random run, its rewritten form can do as well."""
    done = 0
    for seed in range(30):
        random = Random(seed)
        text = generated(random).replace(" int 0..4", " real 0..4").replace(" int 1..3", " real 1..3")
        understood = understand_texts(
            {"small.rung": text.replace(" = ", " >= ").replace(" <> ", " < ").replace(">= 2\n", "= 2\n", 1)}
        )
        for requirement in understood.program.requirements[:3] if understood.program is not None else ():
            assert understood.program is not None
            system = requirement_system(understood.program, requirement)
            step = system.step.slice([BAD])
            bits = to_bits(step, system.free_starts)
            state = {each.name: each.start for each in step.states.values()}
            for name in system.free_starts & step.states.keys():
                state[name] = random.choice([1.0, 1.5, 2.0, 3.0])
            for _ in range(12):
                drawn = {n: random.choice([0.0, 1.0, 1.5, 2.0, 3.0, 4.0]) for n in ("x", "y")}
                values = {n: v for n, v in {**least_inputs(system), **drawn}.items() if n in step.inputs}
                after, outputs = transition(step, state, values)
                assert possible(bits, state, values, after, outputs[BAD]), f"seed {seed} {requirement.name}"
                state, done = after, done + 1
    assert done > 300


def test_adding_more_gives_no_less() -> None:
    """`p <= p + 5`, `p - 5 <= p`, `p + 1 <= p + 2`; nothing is said of two different numbers."""
    p, q = variable("p", "real"), variable("q", "real")
    plus, minus = apply("add", p, constant(5.0)), apply("sub", p, constant(5.0))
    assert order.at_most(p, plus)
    assert order.at_most(minus, p)
    assert order.at_most(apply("add", p, constant(1.0)), apply("add", p, constant(2.0)))
    assert not order.at_most(plus, p)
    assert not order.at_most(p, q)


# --------------------------------------------------------------- seeded mistakes


def test_an_order_the_wrong_way_round_is_caught(monkeypatch: pytest.MonkeyPatch) -> None:
    """A seeded mistake: what is more is taken for less."""
    right = order.at_most
    monkeypatch.setattr(order, "at_most", lambda a, b: right(b, a))
    assert wrong_words(range(40))[0]


def test_a_place_between_that_is_off_by_one_is_caught(monkeypatch: pytest.MonkeyPatch) -> None:
    """A seeded mistake: a number that stands at a place is taken to have passed it."""
    monkeypatch.setattr(thresholds, "above", lambda value: value)
    form = BREAK[5][1]
    system = tank(form)[1]
    answer = decide(system, system.bad, 10.0)
    assert answer.word != "proved" or not isinstance(recheck(system, Invariant(answer.clauses), 20.0), Verified)


# ------------------------------------------------------------------------ words


def test_what_stands_in_the_way_is_named() -> None:
    """A product of two tags has no exact form: the reason says which numbers it is made of, and comes at once."""
    system = tank("never level * other > 14399 cm2 and other < 1 cm")[1]
    answer = decide(system, system.bad, 20.0)
    assert answer.word == "unknown"
    assert "made of `level`, `other`" in answer.why
    assert answer.seconds < 15
