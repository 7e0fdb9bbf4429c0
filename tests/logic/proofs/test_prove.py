"""Proving a program: words, stories, deadlines, and what happens when a process dies."""

from __future__ import annotations

import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import pytest
from rungproof.logic.checks.confirm import violated_at
from rungproof.logic.checks.engine_choice import reference_engine
from rungproof.logic.meaning.program import Program
from rungproof.logic.meaning.understand import understand, understand_texts
from rungproof.logic.proofs import job as job_module
from rungproof.logic.proofs.job import job_of
from rungproof.logic.proofs.prove import ProofResult, prove_program
from rungproof.logic.proofs.system import requirement_system
from rungproof.logic.proofs.workers import decide_all

MISTAKES = Path(__file__).parents[3] / "examples" / "mistakes"

TWO_HANDS = """
controller "Press" every 10 ms
tags
    left input bool
    right input bool
    press output bool on stop off
    spare memory bool

rung press
    left
    right
    => press

rung spare
    spare and not spare
    => spare

requirement R1 "both hands"
    never press and not left

requirement R2 "one hand is not enough"
    never press

requirement R3 "nothing to say"
    whenever spare then press
"""


def program_of(text: str) -> Program:
    program = understand_texts({"a.rung": text}).program
    assert program is not None
    return program


@pytest.fixture(scope="module")
def two_hands() -> dict[str, ProofResult]:
    return prove_program(program_of(TWO_HANDS), time_s=60)


def test_what_holds_is_proved(two_hands: dict[str, ProofResult]) -> None:
    """A requirement that no run breaks is proved, its invariant agreed to by the second solver."""
    assert two_hands["R1"].word == "proved"
    assert two_hands["R1"].invariant is not None


def test_what_breaks_is_violated_by_the_shortest_story(two_hands: dict[str, ProofResult]) -> None:
    """A requirement that a run breaks comes with a story that the reference engine replays, of the fewest scans."""
    result = two_hands["R2"]
    assert (result.word, result.shortest, result.depth) == ("violated", True, 1)
    assert result.story is not None
    assert violated_at(reference_engine(), program_of(TWO_HANDS), result.story, "R2") == result.violated_at == 10


def test_what_never_begins_is_vacuous(two_hands: dict[str, ProofResult]) -> None:
    """A requirement whose trigger never comes is vacuous, not proved."""
    assert (two_hands["R3"].word, two_hands["R3"].triggered) == ("vacuous", False)


def test_only_what_is_asked_for_is_decided() -> None:
    """`only` names the requirements to decide; `progress` hears of each; any executor will do."""
    heard: list[tuple[str, int, int]] = []
    with ThreadPoolExecutor(1) as executor:
        results = prove_program(
            program_of(TWO_HANDS),
            time_s=60,
            only={"R2"},
            executor=executor,
            progress=lambda name, done, of: heard.append((name, done, of)),
        )
    assert list(results) == ["R2"]
    assert heard == [("R2", 1, 1)]


def test_without_a_second_solver_nothing_is_proved(monkeypatch: pytest.MonkeyPatch) -> None:
    """An invariant that nobody has checked is no certificate: everything is tried instead, and the word says so."""
    monkeypatch.setattr(job_module, "RECHECK", "rungproof.logic.proofs.nobody")
    with ThreadPoolExecutor(1) as executor:
        results = prove_program(program_of(TWO_HANDS), time_s=60, only={"R1"}, executor=executor)
    assert results["R1"].word == "exhausted"
    assert results["R1"].invariant is None


FACTORS = """
controller "Factors" every 10 ms
tags
    a input int 2..90000000
    b input int 2..90000000
    found output bool on stop off
    product memory int 0..9000000000000000

rung multiply
    => product := a * b

rung found
    product = 4606061759128693
    a <= b
    => found

requirement R1 "the number has factors"
    never found
"""


def test_a_process_that_overruns_is_killed() -> None:
    """A question too hard for the time is undecided soon after the time is up."""
    program = program_of(FACTORS)
    job = replace(job_of(requirement_system(program, program.requirements[0]), 0.2))
    began = time.monotonic()
    answers = dict(decide_all([job], workers=1))
    assert time.monotonic() - began < 120
    assert (answers[0].bad.word, answers[0].bad.why) == ("unknown", "the time was up")


def test_a_process_that_dies_leaves_its_job_undecided() -> None:
    """A job that its process cannot even read ends as unknown; the others are decided."""
    program = program_of(TWO_HANDS)
    good = job_of(requirement_system(program, program.requirements[0]), 60.0)
    broken = replace(good, step="nonsense")
    answers = dict(decide_all([broken, good], workers=1))
    assert answers[0].bad.word == "unknown"
    assert "internal error" in answers[0].bad.why
    assert answers[1].bad.word == "proved"


def test_importing_the_prover_loads_no_solver() -> None:
    """z3 and the SAT solvers are loaded when a proof runs, not before."""
    code = (
        "import sys, rungproof.logic.proofs.prove, rungproof.logic.proofs.recheck;"
        "raise SystemExit(any(m.split('.')[0] in ('z3', 'pysat') for m in sys.modules))"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def on_tags_alone(path: Path) -> bool:
    program = understand(path).program
    return program is not None and program.plant is None


WRONG = sorted(p for p in MISTAKES.glob("*.rung") if not p.stem.endswith("corrected") and on_tags_alone(p))
#: Wrong in what the compiler finds, not in what any run shows.
BY_FINDING = {"two_coils_one_tag"}


@pytest.fixture(scope="module")
def mistakes() -> dict[str, dict[str, ProofResult]]:
    """Every mistake without a plant, wrong and corrected, decided in this process."""
    found = {}
    with ThreadPoolExecutor(1) as executor:
        for wrong in WRONG:
            for path in (wrong, wrong.with_stem(f"{wrong.stem}_corrected")):
                program = understand(path).program
                assert program is not None
                found[path.stem] = prove_program(program, time_s=60, executor=executor)
    return found


def test_every_wrong_file_is_refuted(mistakes: dict[str, dict[str, ProofResult]]) -> None:
    """Each mistake of logic violates a requirement, by a story shown to be the shortest."""
    for path in WRONG:
        violated = [r for r in mistakes[path.stem].values() if r.word == "violated"]
        assert bool(violated) is (path.stem not in BY_FINDING), path.stem
        assert all(r.shortest for r in violated), path.stem


def test_every_corrected_file_is_proved(mistakes: dict[str, dict[str, ProofResult]]) -> None:
    """Each corrected file keeps every requirement on tags, proved."""
    for path in WRONG:
        words = {r.word for r in mistakes[f"{path.stem}_corrected"].values()}
        assert words == {"proved"}, path.stem
