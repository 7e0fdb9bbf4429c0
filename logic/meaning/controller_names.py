"""One namespace for tags, stages and named functions: who bears which name."""

from __future__ import annotations

from dataclasses import dataclass, field

from rungproof.grammar.diagnosis import Reporter
from rungproof.grammar.reserved import RESERVED
from rungproof.grammar.tree import Span

_RESERVED = {word.casefold(): word for word in RESERVED}


@dataclass
class Names:
    """Names taken so far, by folded case, with the place of the first."""

    taken: dict[str, tuple[str, Span]] = field(default_factory=dict)

    def claim(self, name: str, span: Span, kind: str, reporter: Reporter) -> bool:
        """Take a name for a `kind` ("tag", "stage"). Reports and returns False where it cannot be had."""
        folded = name.casefold()
        if folded in _RESERVED:
            reporter.report("reserved-name", span, name=name, kind=kind, suggestion=f"{name}_{_SUFFIX[kind]}")
            return False
        if folded in self.taken:
            first, place = self.taken[folded]
            how = "stands already" if first == name else f"differs from `{first}` by letter case only"
            reporter.report("name-taken", span, name=name, how=how, related=((place, f"`{first}` stands here first"),))
            return False
        self.taken[folded] = (name, span)
        return True


_SUFFIX = {"tag": "tag", "stage": "stage", "function": "loop"}
