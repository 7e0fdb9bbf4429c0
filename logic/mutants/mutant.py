"""A mutant: the project with one mistake in it, of the kind that people really make."""

from __future__ import annotations

import difflib
from dataclasses import dataclass, field
from typing import Literal

from rungproof.grammar import tree
from rungproof.grammar.tree import Block, Span
from rungproof.grammar.unparse import to_text

#: The mistakes, in the order in which they are tried and told.
Kind = Literal[
    "make for break",
    "edge for level",
    "level for edge",
    "other edge",
    "line lost",
    "branch lost",
    "line added",
    "lines swapped",
    "branch widened",
    "rungs exchanged",
    "coil for set",
    "set for coil",
    "reset dropped",
    "output lost",
    "when lost",
    "wrong tag",
    "preset by a scan",
    "preset by ten",
    "scaling end swapped",
    "direction turned",
    "comparison turned",
    "comparison off by one",
    "retained lost",
]


@dataclass(frozen=True, slots=True)
class Change:
    """One block changed: `after` takes its place. `words` say what was done, `span` where.

    `after` None takes the block out.
    """

    kind: Kind
    span: Span
    words: str
    after: Block | None


@dataclass(frozen=True, slots=True)
class Mutant:
    """The blocks of a project with one change in them.

    `rung` names the rung that was changed, or the tag whose line was. `before` and `after` are
    the changed blocks as text, as the formatter lays them out.
    """

    number: int
    kind: Kind
    rung: str
    span: Span
    words: str
    before: str
    after: str
    blocks: tuple[Block, ...] = field(repr=False)

    @property
    def change(self) -> str:
        """`line lost: float_ok`."""
        return f"{self.kind}: {self.words}"

    @property
    def changed_lines(self) -> tuple[str, ...]:
        """The changed text: `- ` before what goes, `+ ` before what comes, two blanks before what stays."""
        lines = difflib.ndiff(self.before.splitlines(), self.after.splitlines())
        return tuple(line for line in lines if not line.startswith("? "))


def text_of(blocks: tuple[Block, ...]) -> str:
    """Blocks as text, one after another, with a blank line between."""
    return to_text(tree.SourceFile("", blocks))
