"""What people write instead: how a pattern looks at a line that could not be read.

The patterns themselves stand in `hint_table`.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

#: Any blanks or none, and at least one. Neither holds a blank or a `_` itself.
BLANKS = r"[\t\x20]*"
BLANK = r"[\t\x20]+"

_QUOTED = re.compile(r'"[^"]*"')


@dataclass(frozen=True, slots=True)
class Hint:
    """A pattern, the diagnosis it leads to, and the kinds of line it speaks of (all, if empty).

    A group named `caret` is what the caret points at, else `found`, else the whole match.
    All named groups are fields of the message; `instead` is what `instead` gives for `found`.
    """

    code: str
    pattern: re.Pattern[str]
    kinds: tuple[str, ...]
    instead: Mapping[str, str]

    def look_at(self, kind: str, blotted: str) -> re.Match[str] | None:
        """The place of the mistake, if this line holds it."""
        if self.kinds and kind not in self.kinds:
            return None
        return self.pattern.search(blotted)

    def instead_of(self, found: str) -> str:
        """What is written for `found`: as it stands, or in small letters and without what joins its words."""
        return self.instead.get(found) or self.instead.get(plain(found), "")


def hint(code: str, pattern: str, *kinds: str, instead: Mapping[str, str] | None = None) -> Hint:
    """In a pattern a blank stands for any blanks or none, and `_` for at least one."""
    return Hint(code, re.compile(pattern.replace(" ", "[\\t\\x20]*").replace("_", "[\\t\\x20]+")), kinds, instead or {})


def plain(word: str) -> str:
    """A word in small letters, without hyphens, underscores and blanks."""
    return re.sub(r"[-_\s]", "", word).lower()


def blot(code: str) -> str:
    """The line with every character between quotes replaced, so that patterns pass over it."""
    return _QUOTED.sub(lambda quoted: '"' + "\x00" * (len(quoted[0]) - 2) + '"', code)
