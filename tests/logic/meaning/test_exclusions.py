"""Exclusions: which faults a file leaves out of account, and what is said of mistakes in them."""

from __future__ import annotations

from rungproof.grammar.catalogue import CATALOGUE
from rungproof.logic.checks.profile import profile_of
from rungproof.logic.meaning.understand import understand_texts

HEAD = next(iter(CATALOGUE["excluded-twice"].samples[0].files.values())).partition("exclude")[0]


def _excluded(lines: str) -> tuple[dict[str, str], list[str]]:
    understood = understand_texts({"a.rung": f'{HEAD}exclude "Sealed"\n{lines}'})
    codes = [each.code for each in understood.diagnoses]
    if understood.program is None:
        return {}, codes
    return {each.key: each.reason for each in understood.program.exclusions}, codes


def test_an_exclusion_names_one_fault_or_all_of_a_name() -> None:
    """`fault K1 slow` is one; `fault any welded` is that fault of every contact; a sole contact may go unnamed."""
    found, codes = _excluded("    fault K1 slow\n    fault any welded\n    fault K1 stays_open\n")
    assert codes == []
    assert set(found) == {"K1!slow", "S1.1!welded", "S1.2!welded", "K1.1!welded", "K1.1!stays_open"}
    assert set(found.values()) == {"Sealed"}


def test_what_is_left_out_is_no_fault_for_a_check() -> None:
    """The search does not draw it, and nobody waits for a run of it."""
    understood = understand_texts({"a.rung": f'{HEAD}exclude "Sealed"\n    fault any welded\n'})
    assert understood.program is not None
    faults = profile_of(understood.program).faults
    assert "K1!slow" in faults
    assert not any(key.endswith("!welded") for key in faults)


def test_a_mistake_in_an_exclusion_is_explained() -> None:
    """A fault that there is not, a part that there is not, and one said twice."""
    assert _excluded("    fault K1 slwo\n")[1] == ["fault-unknown"]
    assert _excluded("    fault K9 slow\n")[1] == ["story-target-unknown"]
    assert _excluded("    fault any slwo\n")[1] == ["excludes-nothing"]
    assert _excluded("    fault S1 welded\n")[1] == ["fault-of-contact"]
    assert _excluded("    fault K1 slow\n    fault K1 slow\n")[1] == ["excluded-twice"]
