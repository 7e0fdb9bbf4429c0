"""What is known of a project's mutants: frozen, typed, ready for JSON."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from rungproof.grammar.tree import Span
from rungproof.logic.checks.html import table
from rungproof.logic.checks.verdict import IN_THE_MODEL

#: What became of a mutant.
#:
#: refused   its files no longer make sense, or bear a finding of grade error: `by` is the diagnosis's code.
#: killed    `by` objects, with `story`; the reference engine replayed it.
#: equal     proved to do the same at every output, whatever comes.
#: survivor  nobody objected; `story` shows what it does otherwise.
#: undecided  nobody objected and no run told it from the original, but equality is not proved; `reason` says why.
Fate = Literal["refused", "killed", "equal", "survivor", "undecided"]


@dataclass(frozen=True, slots=True)
class Suggestion:
    """A requirement or a scenario that would catch a survivor, as text of the language.

    `holds` says how it was found that the original keeps to it: `proved`, or `simulated` in the stories at
    hand. The mutant violates it in the survivor's story, as the reference engine shows.
    """

    text: str
    kind: Literal["requirement", "scenario"]
    holds: Literal["proved", "simulated"]


@dataclass(frozen=True, slots=True)
class MutantResult:
    """One mutant. `changed` are the lines of the changed text, marked `- ` and `+ ` where they changed.

    `story` is scenario text: of a kill the run that is objected to, of a survivor the shortest run found in
    which it differs from the original, as `differs` says. `warned` are codes of findings that the mutant alone has.
    """

    number: int
    kind: str
    rung: str
    change: str
    changed: tuple[str, ...]
    span: Span
    fate: Fate
    by: str | None = None
    at_ms: int | None = None
    story: str | None = None
    reason: str = ""
    differs: str | None = None
    suggestion: Suggestion | None = None
    warned: tuple[str, ...] = ()

    @property
    def equivalent(self) -> bool | None:
        """True where it was proved; None where it is undecided; else False."""
        return None if self.fate == "undecided" else self.fate == "equal"

    def to_json(self) -> dict[str, Any]:
        return {
            "number": self.number,
            "rung": self.rung,
            "change": self.change,
            "kind": self.kind,
            "file": self.span.file,
            "line": self.span.line,
            "changed": list(self.changed),
            "fate": self.fate,
            "killed": self.fate == "killed",
            "by": self.by,
            "at_ms": self.at_ms,
            "equivalent": self.equivalent,
            "story": self.story,
            "reason": self.reason,
            "differs": self.differs,
            "suggestion": None
            if self.suggestion is None
            else {"text": self.suggestion.text, "kind": self.suggestion.kind, "holds": self.suggestion.holds},
            "warned": list(self.warned),
        }


@dataclass(frozen=True, slots=True)
class MutantsResult:
    """All mutants of a project. `failing` are requirements that the original itself fails: they kill nothing."""

    mutants: tuple[MutantResult, ...]
    failing: tuple[str, ...]
    seed: int
    stories: int
    runs: int
    seconds: float

    def of(self, fate: Fate) -> tuple[MutantResult, ...]:
        return tuple(each for each in self.mutants if each.fate == fate)

    @property
    def score(self) -> float | None:
        """Share of killed among those that are neither refused nor equal; None where there is none."""
        there = sum(len(self.of(fate)) for fate in ("killed", "survivor", "undecided"))
        return len(self.of("killed")) / there if there else None

    @property
    def exit_code(self) -> int:
        """1 where somebody survives, else 3 where somebody is undecided, else 0."""
        if self.of("survivor"):
            return 1
        return 3 if self.of("undecided") else 0

    def by(self) -> Mapping[str, int]:
        """How many each requirement and each scenario killed first, most first."""
        counts: dict[str, int] = {}
        for each in self.of("killed"):
            if each.by is not None:
                counts[each.by] = counts.get(each.by, 0) + 1
        return dict(sorted(counts.items(), key=lambda item: -item[1]))

    def to_json(self) -> dict[str, Any]:
        return {
            "mutants": [each.to_json() for each in self.mutants if each.fate != "refused"],
            "refused": [each.to_json() for each in self.of("refused")],
            "summary": {
                "mutants": len(self.mutants),
                **{fate: len(self.of(fate)) for fate in ("refused", "killed", "equal", "survivor", "undecided")},
                "score": self.score,
                "stories": self.stories,
                "runs": self.runs,
                "seconds": round(self.seconds, 1),
                "failing": list(self.failing),
            },
        }

    def _repr_html_(self) -> str:
        rows = [(each.rung, each.change, each.fate, each.by or each.reason) for each in self.mutants]
        return table(("Rung", "Change", "Fate", "By"), rows, note=IN_THE_MODEL)
