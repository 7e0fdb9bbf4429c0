"""The search finds what a beginner, or a tired expert, writes; and finds it again."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor, ProcessPoolExecutor, ThreadPoolExecutor
from dataclasses import dataclass, replace
from textwrap import dedent

import pytest
from rungproof.logic.checks import search
from rungproof.logic.checks.check import check_program
from rungproof.logic.checks.replay import replay_story
from rungproof.logic.checks.verdict import CheckResult
from rungproof.logic.engines.reference import ReferenceEngine
from rungproof.logic.meaning.program import Program

Make = Callable[[str], Program]


@dataclass(frozen=True)
class Case:
    """Rungs as a diff: lines marked `-` stand in the wrong text only, `+` in the corrected one only."""

    name: str
    tags: str
    rungs: str
    requirement: str

    def text(self, mark: str) -> str:
        """The wrong text for mark `-`, the corrected one for `+`."""
        drop = "+" if mark == "-" else "-"
        kept = [line for line in dedent(self.rungs).strip().splitlines() if not line.startswith(drop)]
        rungs = "\n".join(" " + line[1:] if line.startswith(mark) else line for line in kept)
        lines = [line.strip() for line in self.tags.strip().splitlines()]
        tags = "".join(f"    {line.lstrip(mark)}\n" for line in lines if not line.startswith(drop))
        head = f'controller "{self.name}" every 10 ms\n\ntags\n{tags}\n'
        return f'{head}{rungs}\n\nrequirement R1 "As it should be"\n    {self.requirement}\n'


CASES = [
    Case(
        "restart on release of the emergency stop",
        """
        go        input   bool
        stop_ok   input   bool
        estop_ok  input   bool
        wanted    memory  bool
        saw       output  bool  on stop off
        """,
        """
        rung ask
            rising go
            => set wanted

        rung drop
        -   not stop_ok
        +   not stop_ok or not estop_ok
            => reset wanted

        rung saw
            wanted
            estop_ok
            => saw
        """,
        "after rising estop_ok never saw until rising go",
    ),
    Case(
        "seal-in round the guard",
        """
        go        input   bool
        guard_ok  input   bool
        mixer     output  bool  on stop off
        """,
        """
        rung mixer
            (rising go and guard_ok) or mixer
        +   guard_ok
            => mixer
        """,
        "never mixer and not guard_ok",
    ),
    Case(
        "a total that a power cut empties",
        """
        eye       input   bool
        reset_pb  input   bool
        full      memory  bool  retained
        lamp      output  bool  on stop off
        """,
        """
        rung count
            eye
        -   count-up 5 as items clear by reset_pb
        +   count-up 5 as items clear by reset_pb retained
            => full

        rung lamp
            full
            => lamp
        """,
        "never falling full and not reset_pb",
    ),
    Case(
        "one hand tied down",
        """
        left      input   bool
        right     input   bool
        fresh     memory  bool
        ram       output  bool  on stop off
        """,
        """
        rung fresh
            not left
            not right
            => set fresh

        rung ram
            left
            right
        +   fresh or ram
            => ram

        rung spent
            falling ram
            => reset fresh
        """,
        "after falling ram never ram until not left and not right",
    ),
    Case(
        "a reset that wins over a live cause",
        """
        cool      input   bool
        reset_pb  input   bool
        trip      memory  bool  retained
        heater    output  bool  on stop off
        """,
        """
        rung trip
            not cool
            => set trip

        rung reset
            reset_pb
        +   cool
            => reset trip

        rung heat
            not trip
            => heater
        """,
        "never not cool and not trip",
    ),
    Case(
        "two causes in one scan make two firsts",
        """
        oil_ok     input   bool
        heat_ok    input   bool
        oil_first  memory  bool  retained
        heat_first memory  bool  retained
        lamp       output  bool  on stop off
        """,
        """
        rung heat
            not heat_ok
            not oil_first
            => set heat_first

        rung oil
            not oil_ok
        +   not heat_first
            => set oil_first

        rung lamp
            oil_first or heat_first
            => lamp
        """,
        "never oil_first and heat_first",
    ),
    Case(
        "a change of direction without a pause",
        """
        up_pb     input   bool
        down_pb   input   bool
        rested    memory  bool
        up        output  bool  on stop off
        down      output  bool  on stop off
        """,
        """
        rung rest
            not up
            not down
        -   on-delay 20 ms as pause
        +   on-delay 110 ms as pause
            => rested

        rung up
            (rising up_pb and rested) or up
            not down_pb
            => up

        rung down
            (rising down_pb and rested) or down
            not up_pb
            not up
            => down
        """,
        "whenever up then not down for 100 ms",
    ),
    Case(
        "a start button that is jammed when power comes",
        """
        go        input   bool
        stop_ok   input   bool
        belt      output  bool  on stop off
        """,
        """
        rung belt
        -   go or belt
        +   rising go or belt
            stop_ok
            => belt
        """,
        "after power_up never belt until rising go",
    ),
    Case(
        "a retained run that restarts after a power cut",
        """
        go        input   bool
        stop_ok   input   bool
        running   memory  bool  retained
        drill     output  bool  on stop off
        """,
        """
        rung run
            rising go or running
            stop_ok
        +   not power_up
            => running
            => drill
        """,
        "after power_up never drill until rising go",
    ),
    Case(
        "a retained trip that was not retained",
        """
        cool      input   bool
        reset_pb  input   bool
        heater    output  bool  on stop off
        -trip     memory  bool
        +trip     memory  bool  retained
        """,
        """
        rung trip
            not cool
            => set trip

        rung reset
            rising reset_pb
            cool
            => reset trip

        rung heat
            not trip
            => heater
        """,
        "never falling trip and not reset_pb",
    ),
    Case(
        "a pulse that a bounce makes twice",
        """
        eye       input   bool
        seen      memory  bool
        kick      output  bool  on stop off
        """,
        """
        rung see
            eye
        +   on-delay 60 ms as steady
            => seen

        rung kick
            seen
            => kick
        """,
        "at most 1 rising kick in any 50 ms",
    ),
    Case(
        "a trip that comes one scan too late",
        """
        hot       input   int 0..1000
        trip      memory  bool
        burner    output  bool  on stop off
        """,
        """
        rung burn
            not trip
        +   hot <= 900
            => burner

        rung trip
            hot > 900
            => trip
        """,
        "never burner and hot > 950",
    ),
]
SEAL_IN = CASES[1]


def told(result: CheckResult) -> object:
    """All of a result but how long it took."""
    return replace(result, searched=replace(result.searched, elapsed_s=0.0))


@pytest.mark.parametrize("case", CASES, ids=[case.name for case in CASES])
def test_the_wrong_one_is_violated_and_its_story_replays(make: Make, case: Case) -> None:
    """A short story is found, in seconds; run again as text it violates at the same instant."""
    program = make(case.text("-"))
    verdict = check_program(program, unhurried=True).verdict("R1")
    assert verdict.word == "violated", verdict.reason
    assert verdict.story is not None and verdict.story_text is not None
    assert len(verdict.story.events) <= 12
    assert replay_story(program, verdict.story_text).violated == {"R1": verdict.violated_at}


@pytest.mark.parametrize("case", CASES, ids=[case.name for case in CASES])
def test_the_corrected_one_is_not(make: Make, case: Case) -> None:
    """The same search finds nothing against the corrected text, and its trigger did come."""
    verdict = check_program(make(case.text("+")), runs=1000, unhurried=True).verdict("R1")
    assert verdict.word == "simulated", (verdict.reason, verdict.story_text)


def test_one_seed_one_result(barrel: Program) -> None:
    """Checked twice with one seed, everything is the same but the time it took."""
    first, again = (check_program(barrel, seed=11, runs=24) for _ in range(2))
    assert told(first) == told(again)


def test_another_seed_other_stories(barrel: Program) -> None:
    """Another seed searches elsewhere: the counts differ."""
    first, other = (check_program(barrel, seed=seed, runs=24) for seed in (1, 2))
    assert told(first) != told(other)


@pytest.mark.parametrize("pool", [ThreadPoolExecutor, ProcessPoolExecutor])
def test_the_executor_plays_no_part(barrel: Program, pool: type[Executor]) -> None:
    """Threads, processes or nothing: the same result."""
    alone = check_program(barrel, runs=24, unhurried=True)
    with pool(2) as executor:  # type: ignore[call-arg]
        assert told(check_program(barrel, runs=24, executor=executor, unhurried=True)) == told(alone)


def test_own_processes_play_no_part(barrel: Program, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where a plan is long enough for processes of our own, they change nothing."""
    alone = check_program(barrel, runs=24, unhurried=True)
    monkeypatch.setattr(search, "PARALLEL_FROM_S", 0.0)
    assert told(check_program(barrel, runs=24, unhurried=True)) == told(alone)


def test_time_cuts_the_search_and_the_result_says_so(barrel: Program) -> None:
    """Without time nothing is searched, and nothing is claimed."""
    result = check_program(barrel, time_s=0.0)
    assert result.searched.cut_by_time
    assert {v.word for v in result.verdicts} == {"undecided"}
    assert result.exit_code == 3


def test_progress_is_told(kettle: Program) -> None:
    """The callback hears runs done, runs planned and words."""
    heard: list[tuple[int, int, str]] = []
    check_program(kettle, runs=50, progress=lambda done, total, words: heard.append((done, total, words)))
    assert heard and all(done <= total + 5 and words for done, total, words in heard)


def test_the_reference_engine_searches_too(make: Make) -> None:
    """Any engine can be given; the slow one finds the same kind of thing."""
    verdict = check_program(make(SEAL_IN.text("-")), engine=ReferenceEngine(), time_s=10, unhurried=True).verdict("R1")
    assert verdict.word == "violated"


def test_all_requirements_are_watched_at_once(make: Make) -> None:
    """One is violated, the search goes on, and the other is violated as well."""
    wrong = SEAL_IN.text("-") + '\nrequirement R2 "Nor without stop"\n    never mixer and go and not guard_ok\n'
    words = {v.requirement: v.word for v in check_program(make(wrong), unhurried=True).verdicts}
    assert words == {"R1": "violated", "R2": "violated"}


def test_a_fault_is_found_only_where_a_requirement_allows_for_one(barrel: Program) -> None:
    """The same sentence holds without faults and fails with one: a welded contact of the stop."""
    result = check_program(barrel, runs=150, unhurried=True)
    assert result.verdict("R1").word == "simulated"
    failed = result.verdict("R2")
    assert failed.word == "violated" and failed.scope == "with any one fault"
    assert failed.story is not None
    faults = {e.key for e in failed.story.events if barrel.knobs[e.key].kind == "fault"}
    assert len(faults) == 1
    assert result.verdict("R3").word == "violated"


def test_free_outputs_are_found_and_replay(make: Make, barrel: Program) -> None:
    """A requirement that only the program keeps falls when the outputs are free, and the story pastes."""
    text = barrel.sources[0].text + (
        '\nrequirement R4 "No riser without its button"\n    with outputs free\n'
        "    never riser.energised and filling and not S1.pressed\n"
    )
    program = make(text)
    verdict = check_program(program, runs=60).verdict("R4")
    assert verdict.word == "violated" and verdict.story_text is not None
    assert replay_story(program, verdict.story_text).violated.get("R4") == verdict.violated_at


def test_a_run_outside_a_requirements_scope_is_no_violation(barrel: Program, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever comes up with it: a story with a fault, held against a requirement that allows for none, is an error of
    ours, and no verdict."""
    failed = check_program(barrel, runs=150, unhurried=True).verdict("R2")
    assert failed.story is not None and failed.violated_at is not None
    held = {"R1": (failed.story, failed.violated_at)}
    monkeypatch.setattr(search.Search, "run", lambda self: search.Found(violations=held))
    result = check_program(barrel, unhurried=True)
    assert result.verdict("R1").word != "violated"
    (disagreement,) = [each for each in result.disagreements if each.requirement == "R1"]
    assert "held against R1 (not its verdict: a fault stands" in disagreement.words
