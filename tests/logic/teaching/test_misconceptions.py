"""Every misconception of the catalogue is recognised in its sample and not in the other one."""

from __future__ import annotations

import string

import pytest
from rungproof.grammar.catalogue import CATALOGUE
from rungproof.logic.teaching.exercise import GIVEN, SHOWN, Exercise
from rungproof.logic.teaching.grade import Grade
from rungproof.logic.teaching.grading import grade_text
from rungproof.logic.teaching.misconceptions.catalogue import MISCONCEPTIONS
from rungproof.logic.teaching.misconceptions.entry import SAMPLE_GIVEN, Misconception, Sample
from rungproof.logic.teaching.misconceptions.right import right_sample

ENTRIES = list(MISCONCEPTIONS.values())


def graded(sample: Sample, tmp_path) -> Grade:  # type: ignore[no-untyped-def]
    texts = {GIVEN: SAMPLE_GIVEN, SHOWN: sample.requirements}
    return grade_text(Exercise(tmp_path, "Sample", 5, "Sample.", "rungs", texts), sample.answer)


@pytest.mark.parametrize("entry", ENTRIES, ids=lambda entry: entry.code)
def test_the_sample_gets_the_hint_and_the_other_one_does_not(entry: Misconception, tmp_path) -> None:  # type: ignore[no-untyped-def]
    """Recognised by what mends the story, in three stages; another mistake gets another hint."""
    grade = graded(entry.sample, tmp_path)
    assert grade.outcome == "graded", grade.reason
    words = [item.word for item in grade.items]
    assert words == ["violated", *["proved"] * (len(words) - 1)], grade.items
    assert grade.first_hint is not None
    assert grade.first_hint.code == entry.code, grade.first_hint
    assert grade.first_hint.sure
    assert len(grade.first_hint.up_to(3)) == 3
    other = graded(entry.other, tmp_path)
    assert other.outcome == "graded", other.reason
    assert other.first_hint is None or other.first_hint.code != entry.code


@pytest.mark.parametrize("entry", ENTRIES, ids=lambda entry: entry.code)
def test_the_right_sample_keeps_to_what_the_wrong_one_fails(entry: Misconception, tmp_path) -> None:  # type: ignore[no-untyped-def]
    """Where the mistake is undone by a change, the changed rungs read back and the requirement is proved of them."""
    right = right_sample(entry)
    if right is None:
        assert entry.code in ("never-driven", "two-coils-one-output", "no-hysteresis"), "only a pattern is known"
        return
    texts = {GIVEN: SAMPLE_GIVEN, SHOWN: entry.sample.requirements}
    grade = grade_text(Exercise(tmp_path, "Sample", 5, "Sample.", "rungs", texts), right)
    assert grade.outcome == "graded", grade.reason
    assert grade.items[0].word in ("proved", "simulated")


def test_there_are_thirty_and_more_and_each_reads_as_a_hint() -> None:
    """A question first, which ends in a question mark; then the place; then the rule, a sentence."""
    assert len(ENTRIES) >= 30
    assert not set(MISCONCEPTIONS) & set(CATALOGUE), "`explain CODE` knows both by their codes"
    for entry in ENTRIES:
        assert entry.question.rstrip().endswith((".", "?")), entry.code
        assert "?" in entry.question or "count" in entry.question.lower(), entry.code
        assert entry.look.endswith(".")
        assert entry.rule.endswith(".")
        fields = {
            name
            for text in (entry.question, entry.look, entry.rule)
            for _, name, _, _ in string.Formatter().parse(text)
        }
        assert fields <= {None, "tag"}, entry.code
