"""What might have stood here, in the words of the trade and not of the parser."""

from __future__ import annotations

from collections.abc import Iterable

_SPELLED = {
    "NAME": "a name",
    "WORD": "a name",
    "NUMBER": "a number",
    "SIGNED": "a number",
    "NUMERAL": "a whole number",
    "TEXT": "a text in quotes",
    "UNIT": "a unit",
    "OPEN": "`(`",
    "CLOSE": "`)`",
    "COMMA": "`,`",
    "DOTS": "`..`",
    "COLON": "`:`",
    "EQUALS": "`=`",
    "COMPARE": "`<`",
    "PLUS": "`+`",
    "MINUS": "`-`",
    "TIMES": "`*`",
    "OVER": "`/`",
    "ARROW": "`=>`",
    "ASSIGN": "`:=`",
    "TERMINAL": "a terminal such as `X1:1`",
    "ROLE": "a role: `input`, `output`, `memory` or `parameter`",
    "TYPE": "a type: `bool`, `int` or `real`",
    "DELAY": "a stage such as `on-delay 5 s as NAME`",
    "COUNT_UP": "",
    "COUNT_DOWN": "",
    "ACCUMULATING": "",
    "$END": "the end of the line",
}

_ARITHMETIC = {"PLUS", "MINUS", "TIMES", "OVER"}
_COMPARISON = {"COMPARE", "EQUALS", "BETWEEN"}

#: Sets that are better named than listed, biggest first. `(` behind a name would call a function.
_SETS = (
    (_ARITHMETIC | _COMPARISON | {"AND", "OR", "OPEN"}, "an operator such as `and`, `or`, `<` or `+`"),
    (_ARITHMETIC | _COMPARISON | {"AND", "OR"}, "an operator such as `and`, `or`, `<` or `+`"),
    (_ARITHMETIC | {"OPEN"}, "`+`, `-`, `*` or `/`"),
    ({"NAME", "NUMBER", "OPEN", "NOT", "RISING", "FALLING", "MINUS", "ON", "OFF"}, "a contact, a comparison or `(`"),
    ({"NAME", "NUMBER", "OPEN", "MINUS", "ON", "OFF"}, "a name, a number or `(`"),
    ({"NAME", "NUMBER", "OPEN", "ON", "OFF"}, "a name, a number or `(`"),
    (_COMPARISON, "a comparison such as `<`"),
    (_ARITHMETIC, "`+`, `-`, `*` or `/`"),
    ({"AND", "OR"}, "`and` or `or`"),
    (
        {"AT", "PARAMETER", "SCANS", "NOISE", "ENDS", "EXPECT"},
        "`at TIME ...`, `expect ...`, `parameter`, `scans`, `noise` or `ends at`",
    ),
    (
        {"SET", "PRESS", "RELEASE", "FAULT", "CLEAR", "CUT", "RESTORE", "STOP", "RESUME"},
        "what happens: set, press, release, fault, clear, cut, restore, stop or resume",
    ),
)


def expected_words(accepted: Iterable[str]) -> str:
    """A list for people: `a name, a number or `(``."""
    left = set(accepted)
    said: list[str] = []
    for members, words in _SETS:
        if members <= left:
            said.append(words)
            left -= members
    for terminal in sorted(left, key=lambda name: (name == "$END", name)):
        words = _SPELLED.get(terminal, f"`{terminal.lower()}`")
        if words and words not in said:
            said.append(words)
    return _listed(said)


def _listed(words: list[str]) -> str:
    if len(words) < 2:
        return "".join(words) or "nothing more"
    return f"{', '.join(words[:-1])} or {words[-1]}" if len(words) > 2 else " or ".join(words)
