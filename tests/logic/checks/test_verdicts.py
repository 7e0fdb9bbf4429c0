"""Which word a requirement gets, and what is said with it."""

from __future__ import annotations

from dataclasses import replace

import pytest
from rungproof.grammar.diagnosis import Diagnosis
from rungproof.logic.checks.story_text import NOWHERE
from rungproof.logic.checks.tally import Count, Tally
from rungproof.logic.checks.verdict import AssumptionResult, CheckResult, SearchFigures, Verdict
from rungproof.logic.checks.verdicts import Violation, verdict_of, word_of
from rungproof.logic.engines.contract import Judgement, Outcome
from rungproof.logic.meaning.program import Event, Program, Story

MANY = Count(runs=100, triggers=40, simulated_ms=90_000, decided=30, long_enough=100, longest_ms=1000, scoped=100)


LOOKED = "no violation in 100 runs, 90 s in all"
SPOKEN = "the 200 ms that it speaks of"
CAME = "its trigger stood at 40 instants"


@pytest.mark.parametrize(
    ("change", "word", "reason"),
    [
        ({}, "simulated", f"{LOOKED}; {CAME}"),
        ({"long_enough": 7}, "simulated", f"{LOOKED}; 7 lasted {SPOKEN}; {CAME}"),
        ({"triggers": 0, "decided": 0}, "vacuous", "its trigger never came in 100 runs"),
        (
            {"longest_ms": 0, "cut_at_start": 99},
            "undecided",
            "the time was out before any of 100 runs had begun",
        ),
        (
            {"longest_ms": 0, "cut_at_start": 100},
            "vacuous",
            "the assumptions leave nothing of any run: all 100 runs were cut at their start",
        ),
        (
            {"long_enough": 0},
            "undecided",
            f"no run lasted {SPOKEN}; the longest was 1000 ms: give the search more time",
        ),
        (
            {"triggers": 0, "long_enough": 3},
            "undecided",
            f"its trigger never came, but only 3 runs lasted {SPOKEN}",
        ),
        ({"decided": 0}, "undecided", "in each of 100 runs that had its trigger something was still open at the end"),
        ({"runs": 0}, "undecided", "no run watched it: the time was out before"),
    ],
)
def test_the_word_follows_from_the_counts(barrel: Program, change: dict[str, int], word: str, reason: str) -> None:
    """Each word has its condition, and the reason says it in numbers."""
    third = barrel.requirements[2]
    assert word_of(third, replace(MANY, **change)) == (word, reason)


def test_a_fault_that_never_came_decides_nothing(barrel: Program) -> None:
    """`even with any one fault` is not answered by runs without faults."""
    second = barrel.requirements[1]
    assert word_of(second, replace(MANY, scoped=0)) == (
        "undecided",
        "no run had one fault in it: the time was out before",
    )
    assert "; 60 of them with one fault; " in word_of(second, replace(MANY, scoped=60))[1]


def test_no_word_is_ever_passed(barrel: Program) -> None:
    """Nothing that is said contains the word, whatever the counts."""
    for requirement in barrel.requirements:
        for runs in (0, 1, 50):
            verdict = verdict_of(requirement, replace(MANY, runs=runs), None, None)
            assert "pass" not in f"{verdict.word} {verdict.reason}"


def judged(at: int | None = None, triggers: int = 1, *, open: bool = False) -> Outcome:
    return Outcome({"R3": Judgement(at, triggers, open)}, (), 400, 40, None, {}, None)


def test_an_open_end_settles_nothing(barrel: Program) -> None:
    """One trigger, still open at the end: no obligation was settled."""
    tally = Tally()
    tally.take(barrel, Story(400), judged(open=True))
    assert tally.counts["R3"].decided == 0
    tally.take(barrel, Story(400), judged(open=False))
    assert tally.counts["R3"].decided == 1


def test_more_triggers_than_fit_into_the_horizon_settle_the_first(barrel: Program) -> None:
    """200 ms hold 40 ticks: of 60 triggers the first must be settled, open end or not."""
    tally = Tally()
    tally.take(barrel, Story(400), judged(triggers=60, open=True))
    assert tally.counts["R3"].decided == 1


def test_a_fault_that_a_run_did_not_reach_was_not_tried(barrel: Program) -> None:
    """A run that the time cuts short has in it what happened before; one that it does not let begin has nothing."""
    fault = next(knob.key for knob in barrel.knobs.values() if knob.kind == "fault")
    story = Story(400, (Event(300, fault, True),))
    for ended_at, tried in ((0, ()), (300, ()), (305, (fault,)), (400, (fault,))):
        tally = Tally()
        tally.take(barrel, story, Outcome({"R2": Judgement(None, 1, False)}, (), ended_at, 40, None, {}, None))
        assert (tally.counts["R2"].faults, tally.counts["R2"].scoped) == (tried, len(tried))


def test_a_run_that_an_assumption_ends_at_its_start_is_told_from_one_that_never_began(barrel: Program) -> None:
    """Only of the first kind is it said that the assumptions leave nothing."""
    for broken, cut in (((0, 5), 1), (None, 0)):
        tally = Tally()
        tally.take(barrel, Story(400), Outcome({"R3": Judgement(None, 0, False)}, (), 0, 0, broken, {}, None))
        assert (tally.counts["R3"].longest_ms, tally.counts["R3"].cut_at_start) == (0, cut)


def test_tallies_add_up_in_any_order(barrel: Program) -> None:
    """Batches counted apart and together give the same."""
    outcomes = [judged(triggers=n, open=bool(n % 2)) for n in range(5)]
    whole, parts = Tally(), [Tally(), Tally()]
    for place, outcome in enumerate(outcomes):
        whole.take(barrel, Story(400), outcome)
        parts[place % 2].take(barrel, Story(400), outcome)
    for order in (parts, parts[::-1]):
        added = Tally()
        for part in order:
            added.add(part)
        assert added == whole


def result(*words: str, **more: object) -> CheckResult:
    verdicts = tuple(
        Verdict(f"R{n}", "A <b>sentence</b>", "Restated", word, "at the machine", "no faults", False, "why", 1, 1, 1)  # type: ignore[arg-type]
        for n, word in enumerate(words)
    )
    return CheckResult(verdicts, (), (), SearchFigures(0, "compiled", 1, 1, 1, 1), **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("simulated", "proved", "exhausted"), 0),
        (("simulated", "violated", "undecided"), 1),
        (("simulated", "undecided"), 3),
        (("vacuous",), 3),
        ((), 0),
    ],
)
def test_exit_codes(words: tuple[str, ...], code: int) -> None:
    """0 nothing violated, 1 violated, 3 something open: as the exact rules say."""
    assert result(*words).exit_code == code


def test_a_finding_of_grade_error_wins(barrel: Program) -> None:
    """Exit code 2 where the text has an error, verdicts or not."""
    diagnosis = Diagnosis("two-coils", "error", NOWHERE, "two coils")
    assert result("violated", diagnoses=(diagnosis,)).exit_code == 2
    assert result("simulated", diagnoses=(replace(diagnosis, grade="warning"),)).exit_code == 0


def test_html_is_escaped() -> None:
    """What a file says cannot become markup."""
    html = result("simulated")._repr_html_()
    assert "<b>sentence" not in html and "A &lt;b&gt;sentence&lt;/b&gt;" in html and "In the model" in html


def test_json_says_it_all(barrel: Program) -> None:
    """A violated requirement carries its story, instant and scope."""
    violation = Violation(Story(40), 'scenario "x"\n', 40)
    told = verdict_of(barrel.requirements[1], MANY, violation, None).to_json()
    assert told == {
        "id": "R2",
        "sentence": "The same even if something fails",
        "restatement": barrel.requirements[1].restatement,
        "verdict": "violated",
        "looked_at": "at the machine",
        "fault_set": "with any one fault",
        "outputs_free": False,
        "reason": "violated by this story at 40 ms; the reference engine shows the same",
        "triggers": 40,
        "runs": 100,
        "simulated_ms": 90_000,
        "violated_at_ms": 40,
        "scenario": None,
        "story": 'scenario "x"\n',
        "because": [],
        "nearest_miss": None,
    }


def test_an_assumption_that_never_bit_is_reported() -> None:
    """It says that nothing shows the need for it."""
    assert "never bit" in AssumptionResult("a", "b", 0, 50).words
    assert AssumptionResult("a", "b", 3, 50).words == "cut 3 of 50 runs"


def test_a_fault_requirement_wants_every_known_fault(barrel: Program) -> None:
    """`even with any one fault` is not simulated before every fault that the model knows stood in a run."""
    second = next(each for each in barrel.requirements if each.any_one_fault)
    some = replace(MANY, faults=("L1!echo_lost",), known_faults=2)
    word, reason = word_of(second, some)
    assert word == "undecided"
    assert "1 of 2 known faults tried" in reason
    assert word_of(second, replace(some, faults=("K1!slow", "L1!echo_lost")))[0] == "simulated"
