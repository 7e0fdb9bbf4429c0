"""The file's own scenarios: expectations, and what their runs say of requirements."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import pytest
from rungproof.logic.checks.check import check_program
from rungproof.logic.checks.confirm import confirm
from rungproof.logic.checks.engine_choice import reference_engine
from rungproof.logic.checks.scenarios import run_scenario
from rungproof.logic.engines.compiled import CompiledEngine
from rungproof.logic.engines.contract import Judgement, Outcome
from rungproof.logic.meaning.program import Program, Story

Make = Callable[[str], Program]

FILL = """
scenario "A fill"
    at 0 s      press S1 for 100 ms
    expect      riser.energised within 500 ms
    expect      not riser.turning
"""
STOPPED = """
scenario "Stopped, and a contact is welded"
    at 0 s      press S1 for 100 ms
    at 500 ms   fault S0.1 welded
    at 1 s      press S0
    ends        at 3 s
    expect      riser.energised
"""
TWO_FAULTS = """
scenario "Two faults at once"
    at 0 s      press S1 for 100 ms
    at 500 ms   fault S0.1 welded
    at 500 ms   fault L1 echo_lost
    at 1 s      press S0
    ends        at 3 s
    expect      riser.energised
"""


def test_an_expectation_is_met_or_not(make: Make, barrel: Program) -> None:
    """One is met, the other is not, and the scenario is not as expected: exit code 1."""
    program = make(barrel.sources[0].text + FILL)
    (result,) = run_scenario(program)
    assert [e.words for e in result.expectations] == ["met", "not met"]
    assert result.word == "not as expected" and result.violated
    assert check_program(program, runs=5).exit_code == 1


SEEN = """controller "Seen" every 10 ms

tags
    a  input  bool
    l  input  real cm 0..50
    b  output bool on stop off

rung r
    a
    l < 20 cm
    on-delay 30 ms as w
    => b

scenario "s"
    at 0 s      press a
    at 100 ms   set l 12.5 cm
    expect      not b within 20 ms
    expect      b for 100 ms
    expect      l > 13 cm
    expect      w.elapsed > 40 ms within 10 ms
    expect      l < 1 cm and b for 50 ms
"""


def test_what_is_not_met_says_what_was_there_instead(make: Make) -> None:
    """For a time: at the last instant that counts; throughout: at the first that tells against it; else at the end."""
    (result,) = run_scenario(make(SEEN))
    assert [e.seen for e in result.expectations] == [
        "at 120 ms, the last instant that counts, b on",
        "",
        "at 200 ms l 12.5 cm",
        "at 110 ms, the last instant that counts, w.elapsed 30 ms",
        "at 110 ms l 12.5 cm, b on",
    ]
    assert [e.met for e in result.expectations] == [False, True, False, False, False]


def test_a_run_without_faults_speaks_of_every_requirement(make: Make, barrel: Program) -> None:
    """The scenario violates R3 and is its story; no search is needed for it."""
    program = make(barrel.sources[0].text + FILL)
    verdict = check_program(program, runs=5).verdict("R3")
    assert verdict.word == "violated" and verdict.scenario == "A fill"
    assert verdict.reason.startswith('violated by scenario "A fill" at ')


def test_one_fault_counts_only_where_it_is_allowed_for(make: Make, barrel: Program) -> None:
    """R2 allows for one fault and is violated by the run; R1 does not and is only mentioned beside it."""
    (result,) = run_scenario(make(barrel.sources[0].text + STOPPED))
    counted = {mention.requirement: mention.counts for mention in result.mentions}
    assert counted["R2"] and not counted["R1"]
    (apart,) = [m.words for m in result.mentions if m.requirement == "R1"]
    assert apart == "not its verdict: a fault stands in this scenario, and the requirement allows for none"


def test_two_faults_count_for_nothing(make: Make, barrel: Program) -> None:
    """Even a requirement that allows for one fault is not judged by two."""
    (result,) = run_scenario(make(barrel.sources[0].text + TWO_FAULTS))
    assert {mention.requirement: mention.counts for mention in result.mentions}["R2"] is False


def test_scenarios_are_chosen_by_name(make: Make, barrel: Program) -> None:
    """One by its name, all without; an unknown name is refused."""
    program = make(barrel.sources[0].text + FILL + STOPPED)
    assert [r.name for r in run_scenario(program, "A fill")] == ["A fill"]
    assert len(run_scenario(program)) == 2
    with pytest.raises(KeyError):
        run_scenario(program, "Nothing of the kind")


def test_a_run_that_an_assumption_ends_says_so(make: Make, barrel: Program) -> None:
    """The expectation is left undecided, and the scenario says where it ended and why."""
    assumption = '\nassume "Nobody opens the tap wide"\n    tap.opening <= 50 %\n'
    wide = '\nscenario "Wide open"\n    at 1 s  set tap.opening 80 %\n    expect  riser.energised within 1 s\n'
    program = make(barrel.sources[0].text + assumption + wide)
    (result,) = run_scenario(program)
    assert result.word == "undecided"
    assert result.cut == 'ended at 1 s, where "Nobody opens the tap wide" no longer holds'


class LateEngine:
    """The compiled engine, but it sees every violation a tick late."""

    def __init__(self) -> None:
        self.true = CompiledEngine()

    def run(
        self,
        program: Program,
        story: Story,
        *,
        watch: frozenset[str] | None = None,
        scenario: int | None = None,
        record: bool = False,
        stop_at_violation: bool = False,
    ) -> Outcome:
        longer = Story(story.duration_ms + 5, story.events, story.parameters, story.scans, story.seed, story.lane)
        told = self.true.run(program, longer, watch=watch, scenario=scenario, record=record)
        return Outcome(
            late(told.judgements),
            told.expectations,
            told.ended_at,
            told.scans,
            told.assumption_broken,
            told.final,
            None,
        )


def late(judgements: Mapping[str, Judgement]) -> dict[str, Judgement]:
    return {
        name: Judgement(None if j.violated_at is None else j.violated_at + 5, j.triggers, j.open)
        for name, j in judgements.items()
    }


def test_engines_that_disagree_give_no_verdict(barrel: Program) -> None:
    """A violation that the reference engine does not show is an internal error with a bundle."""
    result = check_program(barrel, runs=40, engine=LateEngine())
    verdict = result.verdict("R3")
    assert verdict.word == "undecided" and verdict.reason.startswith("internal error: ")
    (disagreement,) = [d for d in result.disagreements if d.requirement == "R3"]
    assert disagreement.bundle["files"] == {"main.rung": barrel.sources[0].text}
    assert disagreement.bundle["story"].startswith('scenario "R3: Two engines disagree"')
    assert result.exit_code == 2


def test_engines_that_agree_are_believed(barrel: Program) -> None:
    """The true engine's violation is confirmed."""
    verdict = check_program(barrel, runs=40).verdict("R3")
    assert verdict.story is not None and verdict.violated_at is not None
    assert confirm(barrel, verdict.story, "R3", verdict.violated_at, CompiledEngine()) is None
    assert confirm(barrel, verdict.story, "R3", verdict.violated_at + 5, CompiledEngine()) is not None


DARK = """
controller "Lamp" every 10 ms

tags
    a  input   bool
    q  output  bool   on stop off

rung lamp
    a
    => q

scenario "Power goes, and does not come back"
    at 100 ms   set a on
    at 200 ms   {what} controller
    {ends}
    expect      {expected}
"""


@pytest.mark.parametrize("what", ["cut", "stop"])
@pytest.mark.parametrize(
    ("expected", "ends", "word"),
    [
        ("not q for 5 s", "", "as expected"),
        ("q within 5 s", "", "not as expected"),
        ("not q within 5 s", "", "as expected"),
        ("q for 5 s", "", "not as expected"),
        ("not q for 5 s", "ends at 3 s", "undecided"),
    ],
)
def test_what_a_dark_controller_shows_stands_until_the_run_ends(
    make: Make, what: str, expected: str, ends: str, word: str
) -> None:
    """No scan ends any more, so nothing changes: it is judged for as long as the run lasts, by both engines."""
    program = make(DARK.format(what=what, expected=expected, ends=ends))
    (scenario,) = program.scenarios
    both = [engine.run(program, scenario.story, scenario=0) for engine in (CompiledEngine(), reference_engine())]
    assert both[0].expectations == both[1].expectations
    assert run_scenario(program)[0].word == word
