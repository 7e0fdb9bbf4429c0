"""Names in the world of plant and circuits: near misses, and what is said of a name nobody bears."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from rungproof.grammar.diagnosis import Reporter
from rungproof.grammar.tree import Name
from rungproof.logic.meaning.scope import Scope, nearest_name
from rungproof.logic.meaning.typed import Expression

#: Designations such as `K1` are too short for likeness: one character may differ.
_SHORT = 4

#: Among more names than these, looking for a near one at every mistake would take minutes.
_MOST = 2000


def did_you_mean(name: str, known: Iterable[str]) -> str | None:
    """The mend for a name that nothing bears; None leaves the entry's own mend in place."""
    names = list(known)
    if len(names) > _MOST:
        return None
    near = nearest_name(name, dict.fromkeys(names)) or _nearest_designation(name, names)
    return f"did you mean `{near}`?" if near else None


def _nearest_designation(name: str, known: list[str]) -> str | None:
    if len(name) > _SHORT:
        return None
    same_length = [k for k in known if len(k) == len(name) and k[0].casefold() == name[0].casefold()]
    return next((k for k in same_length if sum(a != b for a, b in zip(k, name, strict=True)) == 1), None)


@dataclass
class NamedScope(Scope):
    """A scope that says, of a name nobody bears, what could stand in its place there."""

    code: Literal["unknown-contact", "unknown-in-project"] = "unknown-in-project"

    def resolve(self, name: Name, reporter: Reporter) -> Expression | None:
        """As everywhere; a name that stands elsewhere is told with its reason alone."""
        if name.text in self.elsewhere and name.text not in self.entries:
            reporter.report("cannot-stand-here", name.span, name=name.text, reason=self.elsewhere[name.text])
            return None
        return super().resolve(name, reporter)

    def report_unknown(self, name: Name, reporter: Reporter) -> None:
        """An unknown reading of a known owner is told as everywhere; the rest under `code`."""
        owner = name.text.rpartition(".")[0]
        if owner in self._inside:
            super().report_unknown(name, reporter)
            return
        known = [*self.entries, *self.elsewhere]
        reporter.report(self.code, name.span, name=name.text, mend=did_you_mean(name.text, known))
