"""Proofs come to their end in the processes of grading, too, where nobody may write a file."""

from __future__ import annotations

from pathlib import Path

from rungproof.logic import api

SEAL_IN = Path(__file__).parents[3] / "examples" / "exercises" / "01_seal_in"


def test_a_solution_is_proved_in_the_process_that_grades_it() -> None:
    """The second solver is asked and answers: what speaks of tags alone is not only searched."""
    (grade,) = api.grade(SEAL_IN, [SEAL_IN / "solution.rung"])
    assert "proved" in {item.word for item in grade.items}
