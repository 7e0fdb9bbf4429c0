"""What students handed in, graded."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rungproof.logic.teaching.exercise import Exercise
    from rungproof.logic.teaching.grade import Grade


def grade(
    exercise: str | Path | Exercise,
    submissions: Iterable[str | Path],
    *,
    seed: int = 0,
    reveal: bool = False,
    variants: bool = False,
) -> list[Grade]:
    """Grade what students handed in (`.rung` files or folders), each in a process of its own with limits.

    `reveal` leaves in what hidden requirements say. Raises `ExerciseError` where the exercise itself is wrong.
    """
    from rungproof.logic.teaching.exercise import Exercise, load_exercise
    from rungproof.logic.teaching.handed import handed_in
    from rungproof.logic.teaching.sandbox import grade_all

    loaded = exercise if isinstance(exercise, Exercise) else load_exercise(Path(exercise))
    grades = grade_all(loaded, handed_in(Path(each) for each in submissions), seed=seed, variants=variants)
    return grades if reveal else [each.concealed() for each in grades]
