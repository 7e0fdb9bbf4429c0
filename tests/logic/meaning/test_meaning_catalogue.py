"""Every diagnosis about names, types, units, numbers and rungs, by its own samples."""

from __future__ import annotations

import pytest
from rungproof.grammar.catalogue import findings_rungs, names, numbers, types, units
from rungproof.grammar.diagnosis import Entry, Sample
from rungproof.logic.meaning.understand import understand_texts

_ENTRIES = [entry for module in (names, types, units, numbers, findings_rungs) for entry in module.ENTRIES]
_SAMPLES = [
    pytest.param(entry, sample, id=f"{entry.code}-{n}") for entry in _ENTRIES for n, sample in enumerate(entry.samples)
]


@pytest.mark.parametrize(("entry", "sample"), _SAMPLES)
def test_a_sample_triggers_its_own_diagnosis_and_no_other(entry: Entry, sample: Sample) -> None:
    """Each sample holds one mistake, so one diagnosis comes out, with the grade of its entry."""
    found = understand_texts(sample.files).diagnoses
    assert [d.code for d in found] == [entry.code]
    assert found[0].grade == entry.grade


@pytest.mark.parametrize("entry", _ENTRIES, ids=lambda entry: entry.code)
def test_every_diagnosis_says_more_than_that_something_is_wrong(entry: Entry) -> None:
    """Each entry has a sample, and says what was expected, how to mend it, or both ends of the clash."""
    assert entry.samples
    assert entry.message.endswith(".")
    assert not (entry.mend or "").endswith(".")
