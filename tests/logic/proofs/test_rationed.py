"""Proofs rationed by steps: what is tried does not hang on the clock, so the same comes out again."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from rungproof.logic.checks.check import check_program
from rungproof.logic.meaning.program import Program
from rungproof.logic.meaning.understand import understand, understand_texts
from rungproof.logic.proofs import portfolio
from rungproof.logic.proofs.prove import prove_program

EXAMPLES = Path(__file__).parents[3] / "examples"

#: R1 holds for the timer's sake, R2 does not hold.
TEXT = """\
controller "Rest" every 10 ms

tags
    start_pb  input   bool
    stop_ok   input   bool
    pump      output  bool
    rested    memory  bool

rung rest
    not pump
    on-delay 200 ms as rest_time
    => rested

rung pump
    (start_pb and rested) or pump
    stop_ok
    => pump

requirement R1 "A pump that has stopped rests first"
    after falling pump never pump until rested

requirement R2 "It never runs"
    never pump
"""


@pytest.fixture(scope="module")
def program() -> Program:
    program = understand_texts({"rest.rung": TEXT}).program
    assert program is not None
    return program


def test_the_same_proofs_come_out_twice_in_fresh_processes(program: Program) -> None:
    """Words, engines and invariants are the same, whatever else the machine does."""
    first, second = (prove_program(program, time_s=60, rationed=True) for _ in range(2))
    assert first["R1"].word == "proved"
    assert first["R2"].word == "violated"
    for name, found in first.items():
        again = second[name]
        assert (found.word, found.engine, found.invariant, found.depth) == (
            again.word,
            again.engine,
            again.invariant,
            again.depth,
        )


def test_steps_end_what_no_clock_ends(program: Program, monkeypatch: pytest.MonkeyPatch) -> None:
    """With hardly a step to take, the answer is that it came to no end within them; no time was asked for."""
    monkeypatch.setattr(portfolio, "FIRST_STEPS", 1)
    monkeypatch.setattr(portfolio, "MOST_STEPS", 1)
    monkeypatch.setattr(portfolio, "MOST_DEPTHS", 1)
    from rungproof.logic.proofs.system import requirement_system

    system = requirement_system(program, program.requirements[0])
    answer = portfolio.decide(system, system.bad, 60.0, rationed=True)
    assert (answer.word, answer.why) == ("unknown", "no end within 1 steps of each engine")


def test_an_unhurried_check_is_cut_by_no_clock() -> None:
    """However little time was named, the plan is done to its end, twice the same."""
    program = understand(EXAMPLES / "press_guard").program
    assert program is not None
    one = replace(program, requirements=tuple(each for each in program.requirements if each.name in ("R4", "R6")))
    first, second = (check_program(one, time_s=0.05, unhurried=True) for _ in range(2))
    assert not first.searched.cut_by_time
    assert first.searched.runs == first.searched.planned_runs + len(one.scenarios)
    assert [replace(v) for v in first.verdicts] == list(second.verdicts)


def test_a_script_without_a_guard_may_ask_for_a_check_outright(tmp_path: Path) -> None:
    """The processes that prove and compare do not run the script that started them again."""
    (tmp_path / "rest.rung").write_text(TEXT, encoding="utf-8")
    script = tmp_path / "script.py"
    script.write_text(
        "from rungproof.logic import api\n"
        f"path = {str(tmp_path / 'rest.rung')!r}\n"
        "print(api.check(path, prove_s=60.0).verdicts[0].word)\n"
        "print(api.compare(path, path).word)\n",
        encoding="utf-8",
    )
    done = subprocess.run([sys.executable, str(script)], capture_output=True, text=True, timeout=600, check=False)
    assert (done.stdout.split(), done.stderr) == (["proved", "equal"], "")
