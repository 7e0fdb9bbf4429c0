"""What `compare` gives back: frozen, typed, JSON-ready, shown by notebooks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from rungproof.logic.checks.html import table
from rungproof.logic.checks.story_text import story_block
from rungproof.logic.checks.verdict import EXIT_FINE, EXIT_OPEN, EXIT_VIOLATED, IN_THE_MODEL
from rungproof.logic.checks.words import time_words
from rungproof.logic.compare_runs import parted_in_runs
from rungproof.logic.meaning.program import Program
from rungproof.logic.proofs.certificate import Certificate, stands
from rungproof.logic.proofs.compare import Comparison, Parting
from rungproof.logic.proofs.compare_apart import compare_apart
from rungproof.logic.proofs.sides import alone
from rungproof.logic.proofs.touched import Touched, touched_by

#: Seconds that a comparison of two versions may take, if nobody says otherwise, and the share that is left for
#: the stories of a search where no proof comes to an end.
COMPARE_S, RUNS_SHARE = 20.0, 0.4

_EXITS = {"equal": EXIT_FINE, "different": EXIT_VIOLATED, "undecided": EXIT_OPEN}


@dataclass(frozen=True, slots=True)
class CompareResult:
    """Two versions compared. `stories` are the story that parts them as text, for old and for new (one
    text, twice, where both have the same inputs). `certificates` say of each file given whether it still stands."""

    comparison: Comparison
    touched: tuple[Touched, ...]
    stories: tuple[str, str] | None = None
    certificates: Mapping[str, str] = field(default_factory=dict)

    @classmethod
    def of(
        cls,
        comparison: Comparison,
        touched: tuple[Touched, ...],
        versions: tuple[Program, Program],
        certificates: Mapping[str, str],
    ) -> CompareResult:
        """With the stories told in the words of `versions`, old and new."""
        parting = comparison.parting
        texts = None
        if parting is not None:
            title = f"{parting.tag} differs at {time_words(parting.at)}"
            old, new = versions if parting.in_plant else (alone(versions[0]), alone(versions[1]))
            texts = (story_block(old, parting.old_story, title), story_block(new, parting.new_story, title))
        return cls(comparison, touched, texts, certificates)

    @property
    def word(self) -> str:
        return self.comparison.word

    @property
    def exit_code(self) -> int:
        """0 equal, 1 different, 3 undecided."""
        return _EXITS[self.comparison.word]

    def to_json(self) -> dict[str, Any]:
        found = self.comparison
        return {
            "answer": found.word,
            "why": found.why,
            "found_by": found.engine,
            "outputs": list(found.outputs),
            "only_in_one": [{"version": which, "what": what} for which, what in found.only],
            "remarks": list(found.remarks),
            "no_difference_within": found.depth if found.word == "undecided" else None,
            "first_difference": None if found.parting is None else self._parting_json(found.parting),
            "requirements": [
                {"id": each.requirement, "how": each.how, "because": list(each.because)} for each in self.touched
            ],
            "certificates": [{"file": name, "stands": words} for name, words in self.certificates.items()],
        }

    def _parting_json(self, parting: Parting) -> dict[str, Any]:
        old, new = self.stories or ("", "")
        return {
            "at_ms": parting.at,
            "tag": parting.tag,
            "old": parting.old,
            "new": parting.new,
            "scans": parting.scans,
            "shortest": parting.shortest,
            "story": new,
            "story_for_old": old,
        }

    def _repr_html_(self) -> str:
        rows = [(self.word, self.comparison.why or self.comparison.engine)]
        rows += [(f"requirement {each.requirement}", f"{each.how} {'; '.join(each.because)}") for each in self.touched]
        return table(("Old and new", ""), rows, note=IN_THE_MODEL)


def compare_understood(
    old: Program, new: Program, *, time_s: float | None, seed: int = 0, certificates: Mapping[str, Certificate]
) -> CompareResult:
    """The comparison of programs at hand, in a process of its own; and what of `certificates` still stands in `new`."""
    limit = COMPARE_S if time_s is None else time_s
    found = compare_apart(old, new, time_s=limit * (1 - RUNS_SHARE), seed=seed)
    if found.word == "undecided":
        parting = parted_in_runs(old, new, found, seed=seed, time_s=limit * RUNS_SHARE)
        if parting is not None:
            found = replace(found, word="different", engine="search, replayed", parting=parting, why="")
    told = {name: stands(each, new) for name, each in certificates.items()}
    return CompareResult.of(found, touched_by(old, new), (old, new), told)
