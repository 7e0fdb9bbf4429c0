"""An exercise: a folder with the task in words, what is given, a hidden solution, what must hold.

    exercise.toml     title, minutes, task; points, hints and what varies, where wanted
    given.rung        the controller line and the tags that the task has
    plant.rung        the plant, its circuits and its wiring, if there is one
    shown.rung        requirements and scenarios that the student sees
    hidden.rung       the same, unseen
    solution.rung     rungs that are right, and the tags they need besides
    wrong/*.rung      answers that are known to be wrong; `# expect: CODE` names the first hint

The kinds: `rungs` (the student writes rungs), `predict` (the student says what given rungs will
do in a story, scan by scan, before seeing it) and `requirements` (the student writes what given
rungs must keep to, and is judged by the mistakes that would be noticed).
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal, get_args

Kind = Literal["rungs", "predict", "requirements"]

#: The files of an exercise, in the order in which they are read.
GIVEN, PLANT, SHOWN, HIDDEN, SOLUTION, STORY = (
    "given.rung", "plant.rung", "shown.rung", "hidden.rung", "solution.rung", "story.rung",
)  # fmt: skip

_KEYS = {"title", "minutes", "task", "kind", "points", "hints", "varies", "answer", "ask", "story"}


class ExerciseError(ValueError):
    """The exercise itself is wrong: a message for its author."""


@dataclass(frozen=True, slots=True)
class Exercise:
    """An exercise as read. `texts`: its `.rung` files by name. `points`: by requirement or scenario, 1 where
    none is said. `hints`: by requirement, codes of misconceptions to try first. `varies`: words of the
    files with the words that may stand in their place. `ask`: the tags of a prediction."""

    folder: Path
    title: str
    minutes: int
    task: str
    kind: Kind
    texts: Mapping[str, str]
    wrong: Mapping[str, str] = field(default_factory=dict)
    points: Mapping[str, int] = field(default_factory=dict)
    hints: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    varies: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    answer: tuple[str, ...] = ("rungs",)
    ask: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        return self.folder.resolve().name


def load_exercise(folder: Path) -> Exercise:
    """Read an exercise. Raises `ExerciseError` for what is missing or wrong in it."""
    table = _table(folder / "exercise.toml")
    texts = {name: _text(folder / name) for name in _names(folder)}
    kind = table.get("kind", "rungs")
    if kind not in get_args(Kind):
        raise ExerciseError(f"exercise.toml: kind is one of {', '.join(get_args(Kind))}, not {kind!r}")
    needed = {"rungs": (GIVEN, SOLUTION), "predict": (GIVEN, STORY), "requirements": (GIVEN,)}[kind]
    for name in needed:
        if name not in texts:
            raise ExerciseError(f"{folder / name} is missing: an exercise of kind {kind} needs it")
    return Exercise(
        folder=folder,
        title=_string(table, "title"),
        minutes=_minutes(table),
        task=_string(table, "task").strip(),
        kind=kind,
        texts=texts,
        wrong={path.stem: _text(path) for path in sorted((folder / "wrong").glob("*"))},
        points=_points(table),
        hints={key: tuple(_words(value, f"hints.{key}")) for key, value in _section(table, "hints").items()},
        varies={key: tuple(_words(value, f"varies.{key}")) for key, value in _section(table, "varies").items()},
        answer=tuple(_words(table.get("answer", ["rungs"]), "answer")),
        ask=tuple(_words(table.get("ask", []), "ask")),
    )


def _names(folder: Path) -> list[str]:
    return [name for name in (GIVEN, PLANT, SHOWN, HIDDEN, SOLUTION, STORY) if (folder / name).is_file()]


def _text(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise ExerciseError(f"{path} cannot be read: {(error.strerror or 'no reason given').lower()}") from error
    except UnicodeDecodeError as error:
        raise ExerciseError(f"{path} is no text in UTF-8") from error


def _table(path: Path) -> dict[str, Any]:
    try:
        table = tomllib.loads(_text(path))
    except tomllib.TOMLDecodeError as error:
        raise ExerciseError(f"{path} is no TOML: {error}") from error
    strange = sorted(set(table) - _KEYS)
    if strange:
        raise ExerciseError(f"{path}: nobody knows the key {strange[0]}; there are {', '.join(sorted(_KEYS))}")
    return table


def _string(table: Mapping[str, Any], key: str) -> str:
    value = table.get(key)
    if not isinstance(value, str) or not value.strip():
        raise ExerciseError(f'exercise.toml: {key} is missing; write {key} = "..."')
    return value


def _minutes(table: Mapping[str, Any]) -> int:
    value = table.get("minutes")
    if not isinstance(value, int) or not 1 <= value <= 600:
        raise ExerciseError("exercise.toml: minutes is the time a beginner needs, a whole number from 1 to 600")
    return value


def _section(table: Mapping[str, Any], key: str) -> dict[str, Any]:
    value = table.get(key, {})
    if not isinstance(value, dict):
        raise ExerciseError(f"exercise.toml: {key} is a table; write [{key}] on a line of its own")
    return value


def _points(table: Mapping[str, Any]) -> dict[str, int]:
    points = _section(table, "points")
    for key, value in points.items():
        if not isinstance(value, int) or isinstance(value, bool) or not 0 <= value <= 100:
            raise ExerciseError(f"exercise.toml: points.{key} is a whole number from 0 to 100")
    return points


def _words(value: Any, key: str) -> list[str]:
    if not isinstance(value, list) or not all(isinstance(each, str) for each in value):
        raise ExerciseError(f'exercise.toml: {key} is a list of words, such as ["one", "two"]')
    return value
