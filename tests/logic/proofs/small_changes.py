"""One small change of a program's text, drawn at random: some change what it does, some do not."""

from __future__ import annotations

import re
from random import Random

#: What may be written in place of what, within the rungs and the tags.
_CHANGES = (
    (r" and ", " or "),
    (r" or ", " and "),
    (r"\bnot ", ""),
    (r"=> (flag_\d)", r"=> not \1"),
    (r"=> set ", "=> reset "),
    (r"=> (flag_\d)", r"=> set \1"),
    (r"rising (?!as)", ""),
    (r"rising (?!as)", "falling "),
    (r"falling ", "rising "),
    (r" retained", ""),
    (r"(delay|pulse) 1 ms", r"\1 2 ms"),
    (r"(delay|pulse) 2 ms", r"\1 3 ms"),
    (r"(delay|pulse) 3 ms", r"\1 2 ms"),
    (r"on-delay (\d ms as s\d+)$", r"off-delay \1"),
    (r"count-up 2", "count-up 3"),
    (r"count-up 1", "count-up 2"),
    (r"count-down 2", "count-down 1"),
    (r"on stop off", "on stop hold"),
    (r" = on", ""),
    (r" >= ", " > "),
    (r" < ", " <= "),
    (r"number \+ 1", "number"),
    (r"^    (\w+) and (\w+)$", r"    \2 and \1"),
    (r"^    (\w+) or (\w+)$", r"    \2 or \1"),
    (r"^    (\w+)$", r"    \1 or \1 and not \1"),
)


def changed(text: str, random: Random) -> str:
    """`text` with one place of it changed; as it was where nothing in it can be."""
    body, mark, rest = text.partition("\nrequirement")
    places = [
        (found.start(), found.end(), found.expand(new))
        for old, new in _CHANGES
        for found in re.finditer(old, body, re.MULTILINE)
    ]
    if not places:
        return text
    begin, end, new = random.choice(places)
    return body[:begin] + new + body[end:] + mark + rest
