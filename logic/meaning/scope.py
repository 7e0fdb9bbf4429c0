"""The names an expression may use, and what it remembers while it is typed.

A `Scope` maps every name, dots included, to the typed leaf that stands for it. The
controller's names come from `logic.meaning.controller`; whoever types circuits and
requirements adds the parts' names to them.
"""

from __future__ import annotations

from collections.abc import Container, Mapping
from dataclasses import dataclass, field, replace
from difflib import get_close_matches
from functools import cached_property

from rungproof.grammar import tree
from rungproof.grammar.diagnosis import Reporter
from rungproof.grammar.trade_words import written_here
from rungproof.logic.meaning.typed import Expression

#: The nearest name is looked for only so often: on 10,000 unknown names it would take minutes.
_SUGGESTIONS = 200
_NEAR = 0.6


def nearest_name(name: str, known: Mapping[str, object]) -> str | None:
    """The known name that `name` most likely meant: letter case first, then likeness."""
    folded = name.casefold()
    for candidate in known:
        if candidate.casefold() == folded:
            return candidate
    # A name of half or twice the length is never near enough: leaving it out saves most of the work.
    alike = [k for k in known if len(name) // 2 <= len(k) <= 2 * len(name)]
    return next(iter(get_close_matches(name, alike, n=1, cutoff=_NEAR)), None)


@dataclass
class Scope:
    """Names to typed leaves.

    `entries` maps a name to the leaf that stands for it (its span is replaced by the place
    of use); a name whose own line is wrong maps to None, so that its uses stay silent.
    `elsewhere` maps names that exist but cannot be read here to a sentence that says why,
    for instance `header.level` to "the program cannot look at the plant itself".
    """

    entries: Mapping[str, Expression | None]
    elsewhere: Mapping[str, str] = field(default_factory=dict)
    _suggested: int = 0

    def resolve(self, name: tree.Name, reporter: Reporter) -> Expression | None:
        """The leaf for a name at its place; None after reporting (or for a name known to be wrong)."""
        if name.text in self.entries:
            leaf = self.entries[name.text]
            return None if leaf is None else replace(leaf, span=name.span)
        if name.text == "scanning":
            reporter.report("scanning-in-a-rung", name.span)
            return None
        if name.text in self.elsewhere:
            reporter.report("not-readable-here", name.span, name=name.text, reason=self.elsewhere[name.text])
            return None
        self.report_unknown(name, reporter)
        return None

    def report_unknown(self, name: tree.Name, reporter: Reporter) -> None:
        """Say that nobody bears this name, and which name was likely meant."""
        owner, _, last = name.text.rpartition(".")
        inside = sorted(key for key in self._inside.get(owner, ()))
        if owner and (inside or self.entries.get(owner) is not None):
            there = f"one of {_listed(inside)}" if inside else f"`{owner}` alone: there is nothing more inside it"
            reporter.report("unknown-reading", name.span, owner=owner, last=last, there=there)
            return
        nearest = self._nearest(name.text)
        if nearest is None:
            ours = written_here(name.text)
            mend = None if ours is None else f"add a line for it under `tags`; if it is meant as a word, {ours}"
        else:
            mend = f"did you mean `{nearest}`?"
        reporter.report("unknown-name", name.span, name=name.text, mend=mend)

    @cached_property
    def _inside(self) -> dict[str, list[str]]:
        inside: dict[str, list[str]] = {}
        for key in self.entries:
            owner, dot, _ = key.rpartition(".")
            if dot:
                inside.setdefault(owner, []).append(key)
        return inside

    def _nearest(self, text: str) -> str | None:
        if self._suggested >= _SUGGESTIONS:
            return None
        self._suggested += 1
        return nearest_name(text, self.entries)


def _listed(names: list[str]) -> str:
    return ", ".join(f"`{name}`" for name in names)


@dataclass
class Slots:
    """Gives every contact and function that remembers its own memory name.

    Names are unique within one `Slots` and say where the memory belongs: `run#1`. A
    function with a name of its own (`as level_loop`) has that name as its memory's.
    """

    prefix: str
    taken: int = 0

    def take(self, name: str | None = None) -> str:
        self.taken += 1
        return name or f"{self.prefix}#{self.taken}"


@dataclass
class Context:
    """What the typer carries along.

    `parameters` are the tags that a preset may name. `shortest_scan` (ms) bounds what `rate`
    can give. `may_remember` is false where numbers with memory (`filter`, `rate`, `ramp`,
    `pi`) have no meaning: outside a rung's `:=`. `betweens` counts the
    `between` met so far.
    """

    scope: Scope
    reporter: Reporter
    slots: Slots
    parameters: Container[str] = frozenset()
    shortest_scan: int = 1
    may_remember: bool = False
    betweens: int = 0
