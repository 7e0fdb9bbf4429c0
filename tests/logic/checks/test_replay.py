"""Stories replayed: from a file of their own, pasted, and both."""

from __future__ import annotations

from rungproof.logic.checks.replay import replay_story
from rungproof.logic.meaning.program import Program
from rungproof.logic.meaning.understand import understand_texts

STORY = 'scenario "Door open"\n    at 0 s   set go on\n    ends at  20 ms\n'
TEXT = """controller "Fan" every 10 ms

tags
    go   input   bool
    fan  output  bool  on stop off

rung fan
    go
    => fan

requirement R1 "Never"
    never fan
"""


def understood(text: str) -> Program:
    understanding = understand_texts({"fan.rung": text})
    assert understanding.program is not None
    assert "scenario-expects-nothing" not in {d.code for d in understanding.diagnoses}, "a story with an end may stand"
    return understanding.program


def test_a_story_violates_when_it_is_replayed() -> None:
    """The requirement and the instant are told."""
    assert replay_story(understood(TEXT), STORY).violated == {"R1": 10}


def test_a_story_pasted_into_the_project_still_replays_from_its_file() -> None:
    """The same title in both places is no mistake; the file's own story is the one that is told."""
    result = replay_story(understood(TEXT + "\n" + STORY), STORY)
    assert result.diagnoses == ()
    assert [scenario.name for scenario in result.scenarios] == ["Door open, again"]
    assert result.violated == {"R1": 10}


def test_a_mistake_in_a_story_stands_in_the_file_that_the_user_named() -> None:
    """A file of the project bears the same name: the story is read under another, which nobody sees."""
    result = replay_story(understood(TEXT), STORY.replace("set go", "set goo"), "fan.rung")
    assert result.scenarios == ()
    assert result.diagnoses
    assert {diagnosis.span.file for diagnosis in result.diagnoses} == {"fan.rung"}
