"""What `reaction` gives back: frozen, typed, JSON-ready, shown by notebooks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from rungproof.logic.checks.html import table
from rungproof.logic.checks.verdict import EXIT_FINE, EXIT_OPEN, IN_THE_MODEL
from rungproof.logic.checks.words import time_words
from rungproof.logic.meaning.program import Program
from rungproof.logic.proofs.reaction import Reaction, reactions

#: Seconds that each proof of a chain may take, if nobody says otherwise; a chain needs about a dozen.
PROVE_S = 2.0


@dataclass(frozen=True, slots=True)
class ReactionResult:
    """The reaction chains of a project, one for each requirement that says within what time an effect comes."""

    chains: tuple[Reaction, ...]

    @property
    def exit_code(self) -> int:
        """0 every chain is proved to end in time, 3 not every one (or there is none)."""
        proved = self.chains and all(each.proved is not None for each in self.chains)
        return EXIT_FINE if proved else EXIT_OPEN

    def to_json(self) -> list[dict[str, Any]]:
        return [
            {
                "id": each.requirement,
                "sentence": each.sentence,
                "restatement": each.restatement,
                "allowed_ms": each.asked,
                "proved_ms": each.proved,
                "margin_ms": each.margin,
                "seen_ms": each.seen,
                "story": each.story,
                "through": list(each.through),
                "why": each.why,
            }
            for each in self.chains
        ]

    def _repr_html_(self) -> str:
        rows = [
            (
                each.requirement,
                time_words(each.asked),
                "not proved" if each.proved is None else time_words(each.proved),
                "" if each.seen is None else time_words(each.seen),
            )
            for each in self.chains
        ]
        return table(("Requirement", "Allowed", "Proved at the most", "Seen above"), rows, note=IN_THE_MODEL)


def reaction_of(program: Program, *, prove_s: float | None = None) -> ReactionResult:
    """The chains of a program at hand."""
    return ReactionResult(reactions(program, prove_s=PROVE_S if prove_s is None else prove_s))
