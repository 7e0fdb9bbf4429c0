"""Bounds on the leads of clocks: response from above, sequences from below, and the mistakes that they could make."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import pytest
from lemma_proofs import finished, system_of, wrong_proofs
from rungproof.logic.proofs import leads as clocks
from rungproof.logic.proofs.contract import Engine
from rungproof.logic.proofs.literals import Invariant, Literal
from rungproof.logic.proofs.portfolio import Forms, decide
from rungproof.logic.proofs.recheck import Verified, recheck
from rungproof.logic.proofs.signs import signs_in
from rungproof.logic.proofs.system import BAD, LAST_SCAN
from rungproof.logic.steps.node import ON, apply, both, constant, either, inverse, least, select, variable


def led(forms: Forms) -> Engine:
    return clocks.leads(forms.system, forms.coarse, forms.fine, BAD)


def trip(ms: int, every: str = "5..20 ms") -> str:
    """A trip after 500 ms, and `ms` asked for: a timer is behind by the scan under way, less the first one."""
    return f"""\
controller "Trip" every {every}

tags
    over   input   bool
    clear  input   bool
    trip   memory  bool retained
    run    output  bool on stop off

rung trip
    over
    on-delay 500 ms as hold
    => set trip

rung clear
    rising clear
    not over
    => reset trip

rung run
    not trip
    => run

requirement R1 "It trips"
    whenever over and scanning has stood for {ms} ms then not run
"""


def steps(count: int, ms: int, every: str = "5..20 ms") -> str:
    """A sequence going round, each step after 100 ms: its last step never sooner than `ms` after its second one."""
    tags = ["go input bool", *(f"step_{i} memory bool{'' if i else ' = on'}" for i in range(count))]
    rungs = [
        f"rung leave_{i}\n    step_{i}\n    go\n    on-delay 100 ms as time_{i}\n"
        f"    => set step_{(i + 1) % count}\n    => reset step_{i}\n"
        for i in range(count)
    ]
    lines = [f'controller "Steps" every {every}', "", "tags", *(f"    {each}" for each in tags), "", *rungs]
    sooner = f"whenever rising step_1 then not step_{count - 1} for {ms} ms"
    return "\n".join([*lines, 'requirement R1 "Not sooner"', f"    {sooner}", ""])


@pytest.mark.parametrize(("every", "most", "less"), [("5..20 ms", 515, 1), ("10 ms", 500, 10), ("9..12 ms", 503, 1)])
def test_a_bounded_response_is_proved_to_the_ms(every: str, most: int, less: int) -> None:
    """The latest response, worked by hand, is proved; an instant less is not."""
    forms = Forms(system_of(trip(most, every)), BAD)
    found = finished(led(forms))
    assert found.word == "proved"
    assert isinstance(recheck(forms.system, Invariant(found.clauses), 30.0), Verified)
    sooner = Forms(system_of(trip(most - less, every)), BAD)
    assert finished(led(sooner), 60).word != "proved"


@pytest.mark.parametrize(("every", "least", "later"), [("10 ms", 199, 200), ("5..20 ms", 184, None)])
def test_the_least_time_of_a_sequence_is_proved_to_the_ms(every: str, least: int, later: int | None) -> None:
    """Two steps of 100 ms lie between: with scans of 10 ms the last one comes 200 ms after the second at the soonest.
    Of scans that vary the first may be long and the last one short: 185 ms."""
    forms = Forms(system_of(steps(4, least, every)), BAD)
    found = finished(led(forms))
    assert found.word == "proved"
    assert isinstance(recheck(forms.system, Invariant(found.clauses), 30.0), Verified)
    if later is not None:
        assert decide(system_of(steps(4, later, every)), BAD, 30.0).word == "refuted"


def test_leads_never_prove_what_does_not_hold() -> None:
    """On generated programs: what is proved holds in every state, and the second solver agrees."""
    counts, wrong = wrong_proofs(led, range(160))
    assert wrong == []
    assert counts["proved"] > 5
    assert counts["tried"] > 5


def test_bounds_that_are_not_raised_are_caught(monkeypatch: pytest.MonkeyPatch) -> None:
    """A seeded mistake: what runs have shown is taken for all there is. They do not follow, or the solver objects."""

    def believed(self: Any) -> Iterator[None]:
        yield None

    def all_of_them(self: Any, clauses: Any) -> list[Any]:
        return [*clauses, *self.clauses(self.marks)]

    sooner = Forms(system_of(trip(450)), BAD)
    monkeypatch.setattr(clocks._Bounds, "rise", believed)
    monkeypatch.setattr(clocks._Bounds, "enough", all_of_them)
    monkeypatch.setattr(clocks._Bounds, "_seen", lambda self, subject, rows: self._span(subject)[0] + 3)
    found = finished(led(sooner))
    assert found.word == "proved"
    assert not isinstance(recheck(sooner.system, Invariant(found.clauses), 30.0), Verified)


Edit = Callable[[Literal], Literal]

#: Ways to write down wrongly what was found.
WRITTEN: dict[str, Edit] = {
    "the last scan the wrong way": lambda each: -each if each.name == LAST_SCAN else each,
    "a bound one ms too low": lambda each: replace(each, bound=each.bound - 1) if each.minus else each,  # type: ignore[operator]
    "the clocks exchanged": lambda each: replace(each, name=each.minus, minus=each.name) if each.minus else each,
}


@pytest.mark.parametrize("name", WRITTEN)
def test_bounds_written_down_wrongly_are_caught(name: str) -> None:
    """A seeded mistake in the clauses of a proof: the second solver does not agree."""
    forms = Forms(system_of(trip(515)), BAD)
    clauses = finished(led(forms)).clauses
    assert isinstance(recheck(forms.system, Invariant(clauses), 30.0), Verified)
    wrong = tuple(tuple(WRITTEN[name](each) for each in clause) for clause in clauses)
    assert wrong != clauses
    assert not isinstance(recheck(forms.system, Invariant(wrong), 30.0), Verified)


def test_a_sense_follows_what_makes_a_truth_more() -> None:
    """`3 < x` comes on as x rises, `not (y <= 5)` too; of a choice either way; of a lesser one as its parts."""
    x, y, z = (variable(name, "int") for name in "xyz")
    c = variable("c", "bool")
    root = either(apply("lt", constant(3), x), inverse(apply("le", y, constant(5))), both(c, inverse(c)))
    root = either(root, apply("lt", least(z, constant(9)), constant(4)), select(c, ON, inverse(variable("d", "bool"))))
    signs = signs_in(root)
    assert (signs[x], signs[y], signs[z]) == ({1}, {1}, {-1})
    assert signs[variable("d", "bool")] == {-1}
    chosen = signs_in(apply("le", constant(4), select(c, x, apply("sub", constant(0), y))))
    assert (chosen[x], chosen[y], chosen[c]) == ({1}, {-1}, {1, -1})
