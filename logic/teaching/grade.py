"""What grading gives back: frozen results, for the screen, the teacher's table and the student's page."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Literal

#: Stands on every page and in every table.
NO_LICENCE = (
    "Passing does not qualify anyone to work on live equipment. In the model; verify on the real machine; local codes "
    "and licensed practice decide."
)

Outcome = Literal["graded", "does not run", "refused", "stopped"]


@dataclass(frozen=True, slots=True)
class Hint:
    """A hint in three stages: a question, the place, the rule. `code` names the misconception; `sure` where what
    mends it was shown to mend it altogether, not only in the story."""

    code: str
    title: str
    question: str
    place: str
    rule: str
    sure: bool = False

    def up_to(self, stage: int) -> tuple[str, ...]:
        """The stages up to `stage`, 0 to 3."""
        return (self.question, self.place, self.rule)[:stage]


@dataclass(frozen=True, slots=True)
class Item:
    """One thing that must hold. `word` is a verdict, or a scenario's result. `story`: a `scenario` block in which
    it fails, replayed in the reference engine, and `at_ms` when."""

    name: str
    hidden: bool
    sentence: str
    restatement: str
    word: str
    points: int
    worth: int
    reason: str = ""
    story: str | None = None
    at_ms: int | None = None
    hint: Hint | None = None

    @property
    def holds(self) -> bool:
        return self.points == self.worth


@dataclass(frozen=True, slots=True)
class Grade:
    """One submission, graded or refused with a reason."""

    student: str
    exercise: str
    outcome: Outcome
    items: tuple[Item, ...] = ()
    reason: str = ""
    notes: tuple[str, ...] = ()
    hint: Hint | None = None
    seconds: float = 0.0

    @property
    def points(self) -> int:
        return sum(item.points for item in self.items)

    @property
    def worth(self) -> int:
        return sum(item.worth for item in self.items)

    @property
    def first_hint(self) -> Hint | None:
        """The one hint that a student should read first."""
        return self.hint or next((item.hint for item in self.items if item.hint is not None), None)

    def concealed(self) -> Grade:
        """The same without what hidden requirements say: their names, sentences and formulas."""
        items = []
        count = 0
        for item in self.items:
            count += item.hidden
            items.append(_concealed(item, f"hidden {count}") if item.hidden else item)
        return replace(self, items=tuple(items))

    def to_json(self, hints: int) -> dict[str, Any]:
        first = self.first_hint
        return {
            "student": self.student,
            "exercise": self.exercise,
            "outcome": self.outcome,
            "reason": self.reason,
            "points": self.points,
            "worth": self.worth,
            "misconception": None if first is None else first.code,
            "hints": [] if first is None else list(first.up_to(hints)),
            "notes": list(self.notes),
            "items": [_item_json(item, hints) for item in self.items],
            "caution": NO_LICENCE,
        }


def _concealed(item: Item, name: str) -> Item:
    """A story that was found against the answer may be shown; that of a hidden scenario is what is hidden."""
    story = _renamed(item.story, name) if item.story is not None and item.word == "violated" else None
    return replace(item, name=name, sentence="", restatement="", reason="", story=story)


def _renamed(story: str, name: str) -> str:
    """A story's text under another title."""
    _, _, rest = story.partition("\n")
    return f'scenario "{name} fails here"\n{rest}'


def _item_json(item: Item, hints: int) -> dict[str, Any]:
    return {
        "name": item.name,
        "hidden": item.hidden,
        "sentence": item.sentence,
        "restatement": item.restatement,
        "verdict": item.word,
        "points": item.points,
        "worth": item.worth,
        "reason": item.reason,
        "story": item.story,
        "violated_at_ms": item.at_ms,
        "misconception": None if item.hint is None else item.hint.code,
        "hints": [] if item.hint is None else list(item.hint.up_to(hints)),
    }
