"""What people write instead: patterns on a line that could not be read.

The first pattern that fits gives the diagnosis. Patterns see the line with the inside of
its quotes blotted out. A group named `caret` is what the caret points at, else the whole
match; all named groups are fields of the message.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from rungproof.grammar.reserved import EXPRESSION_WORDS

_QUOTED = re.compile(r'"[^"]*"')
_STAGE = r"(?:on-delay|off-delay|pulse|accumulating[ \t]+on-delay|count-up|count-down)\b"
_NAME = r"[A-Za-z][A-Za-z0-9_.]*"
_UNIT = r"(?:ms|s|min|h|mm|cm|m|L|mV|V|mA|A|%|°C)"
_WORDS = "|".join(sorted(EXPRESSION_WORDS | {"set", "reset"}))
_ACTIONS = "set|press|release|fault|clear|cut|restore|stop|resume"


@dataclass(frozen=True, slots=True)
class Hint:
    """A pattern, the diagnosis it leads to, and the kinds of line it speaks of (all, if empty)."""

    code: str
    pattern: re.Pattern[str]
    kinds: tuple[str, ...] = ()
    mends: dict[str, str] = field(default_factory=dict)

    def look_at(self, kind: str, blotted: str) -> re.Match[str] | None:
        if self.kinds and kind not in self.kinds:
            return None
        return self.pattern.search(blotted)


def blot(code: str) -> str:
    """The line with every character between quotes replaced, so that patterns pass over it."""
    return _QUOTED.sub(lambda quoted: '"' + "\x00" * (len(quoted[0]) - 2) + '"', code)


def _hint(code: str, pattern: str, *kinds: str, mends: dict[str, str] | None = None) -> Hint:
    return Hint(code, re.compile(pattern), kinds, mends or {})


#: In this order: the surest signs first.
HINTS: tuple[Hint, ...] = (
    _hint("wrong-quotes", r"(?P<found>[“”„‟«»‘’])"),
    _hint("wrong-quotes", r"(?P<found>'[^']*')"),
    _hint("foreign-comment", r"(?P<found>//|/\*|;)(?P<rest>.*)"),
    _hint(
        "wrong-arrow",
        r"(?P<found>-+>|==+>|=[ \t]+>|~>|→|⇒|>>|:=>)",
        "path",
    ),
    _hint(
        "comparison-symbol",
        r"(?P<found>==|!=|=<|><|≤|≥|≠)",
        mends={"==": "=", "!=": "<>", "=<": "<=", "><": "<>", "≤": "<=", "≥": ">=", "≠": "<>"},
    ),
    _hint(
        "logic-symbol",
        r"(?P<found>&&?|\|\|?|!|~|¬|∧|∨)",
        mends={
            "&": "and", "&&": "and", "∧": "and",
            "|": "or", "||": "or", "∨": "or",
            "!": "not", "~": "not", "¬": "not",
        },
    ),
    _hint(
        "arithmetic-symbol",
        r"(?P<found>\*\*|×|÷|−|–|—|\^|(?<=[A-Za-z0-9_)][ \t])%(?=[ \t]*[A-Za-z(])|·)",
        mends={"×": "*", "·": "*", "÷": "/", "−": "-", "–": "-", "—": "-", "**": "x * x", "^": "x * x", "%": "-"},
    ),
    _hint("wrong-brackets", r"(?P<found>[\[\]{}])"),
    _hint("capital-word", rf"(?<![A-Za-z0-9_.])(?P<found>(?!(?:{_WORDS})\b)(?i:{_WORDS}))(?![A-Za-z0-9_.])"),
    # ------------------------------------------------------------ rungs
    _hint("leading-connective", r"^[ \t]+(?P<found>and|or)\b", "path", "assume", "requirement"),
    _hint("leading-connective", r"^(?P<found>and|or)\b"),
    _hint("branching-word", r"^[ \t]*(?P<found>(?i:if|else|elsif|elif|endif|while|loop|goto|jump|return|end))\b", "path"),
    _hint("whenever-not-if", r"^[ \t]*(?P<found>(?i:if|when))\b", "requirement"),
    _hint("assign-without-arrow", rf"^[ \t]*(?P<caret>(?P<tag>{_NAME})[ \t]*:=)", "path"),
    _hint("equals-for-assign", rf"=>[ \t]*{_NAME}[ \t]*(?P<caret>=)(?![=>])", "path"),
    _hint("several-outputs", rf"=>[ \t]*(?:not[ \t]+|set[ \t]+|reset[ \t]+)?{_NAME}[ \t]*(?P<caret>,|\band\b|=>)", "path"),
    _hint("output-on-condition-line", r"[A-Za-z0-9_)][ \t]*(?P<caret>=>)", "path"),
    _hint("output-words", rf"=>[ \t]*(?P<found>(?P<word>on|off)\b|(?P<word2>turn|start|stop|latch|unlatch)[ \t]+{_NAME})", "path"),
    _hint("missing-arrow", rf"^[ \t]*(?P<found>(?:set|reset)[ \t]+{_NAME})[ \t]*$", "path"),
    _hint(
        "stage-hyphen",
        r"\b(?P<found>(?i:on|off)(?:[ \t]+|_|)(?i:delay)|(?i:count)(?:[ \t]+|_|)(?i:up|down))\b",
        "path",
    ),
    _hint("stage-inside", rf"(?:[(]|\b(?:and|or|not)\b)[ \t]*(?P<found>{_STAGE})", "path"),
    _hint("stage-inside", rf"^[ \t]*(?!{_STAGE})[^=]*[A-Za-z0-9_)][ \t]+(?P<found>{_STAGE})", "path"),
    _hint("stage-without-preset", rf"^[ \t]*(?P<found>{_STAGE})[ \t]+(?P<caret>as)\b", "path"),
    _hint("stage-without-name", rf"^[ \t]*(?P<caret>(?P<found>{_STAGE})[ \t]+[A-Za-z0-9_.]+(?:[ \t]*{_UNIT})?)[ \t]*$", "path"),
    _hint(
        "stage-without-clearing",
        rf"^[ \t]*(?P<caret>(?:accumulating[ \t]+on-delay|count-up|count-down)\b.*\bas[ \t]+{_NAME})(?:[ \t]+retained)?[ \t]*$",
        "path",
    ),
    # ----------------------------------------------------- numbers and names
    _hint("decimal-comma", r"(?<![A-Za-z0-9_.])(?P<found>(?P<whole>[0-9]+),(?P<part>[0-9]+))"),
    _hint("bare-point", r"(?<![A-Za-z0-9_.)])(?P<found>\.(?P<part>[0-9]+))"),
    _hint("bare-point", r"(?<![A-Za-z0-9_.])(?P<found>[0-9]+\.)(?![0-9.])"),
    _hint("three-dots", r"(?P<found>\.\.\.+|…)"),
    _hint("compound-time", r"(?P<found>[0-9]+[ \t]*(?:h|min|s)[ \t]*[0-9]+[ \t]*(?:min|s|ms))\b"),
    _hint("range-word", r"(?<![A-Za-z0-9_.])(?P<caret>(?P<low>[0-9.]+)[ \t]*(?:to|-)[ \t]*(?P<high>[0-9.]+))", "tag", "wiring", "part"),
    _hint("unit-first", rf"(?<![A-Za-z0-9_.])(?<![0-9][ \t])(?P<found>(?P<unit>{_UNIT})[ \t]*(?P<figure>[0-9]+(?:\.[0-9]+)?))(?![A-Za-z0-9_.])", "path", "requirement", "assume", "part", "scenario", "header"),
    _hint("digit-first", r"(?<![A-Za-z0-9_.:])(?P<found>[0-9]+[A-Za-z]*_[A-Za-z0-9_]*)"),
    _hint("chained-comparison", r"(?P<found>(?:<=|>=|<|>)[^<>=()]*(?:<=|>=|<|>))", "path", "requirement", "assume", "hazard"),
    # --------------------------------------------------------------- tag lines
    _hint("hyphen-in-name", r"^[ \t]*(?P<found>[A-Za-z][A-Za-z0-9_]*(?:-[A-Za-z0-9_]+)+)(?=[ \t])", "tag"),
    _hint("type-before-role", rf"^[ \t]*{_NAME}[ \t]+(?P<caret>(?P<type>bool|int|real)[ \t]+(?P<role>input|output|memory|parameter))\b", "tag"),
    _hint("tag-colon", rf"^[ \t]*{_NAME}[ \t]*(?P<caret>:)", "tag"),
    _hint("remark-unquoted", r"\b(?:bool|int|real)\b(?:.*[0-9%])?[ \t]+(?P<found>[A-Za-z][a-z]*(?:[ \t]+[A-Za-z-]+){1,})[ \t]*$", "tag"),
    # ---------------------------------------------------------- plant and wiring
    _hint("equals-in-clause", r"(?P<caret>=|:)", "part"),
    _hint("terminal-shape", rf"^[ \t]*{_NAME}[ \t]+at[ \t]+(?P<found>(?P<module>[A-Za-z][A-Za-z0-9_]*)[.][ \t]*(?P<number>[0-9]+))", "wiring"),
    _hint("terminal-shape", rf"^[ \t]*{_NAME}[ \t]+at[ \t]+(?P<found>(?P<module>[A-Za-z][A-Za-z0-9_]*)[ \t]*[ \t:/-][ \t]*(?P<number>[0-9]+))(?![:0-9])", "wiring"),
    # ------------------------------------------------------------ requirements
    _hint("requirement-word", rf"^[ \t]*(?P<caret>(?P<found>{_NAME})[ \t]+(?:must|shall|should|is|has[ \t]+to)\b)", "requirement"),
    # --------------------------------------------------------------- scenarios
    _hint("event-without-time", rf"^[ \t]*(?P<found>{_ACTIONS})\b", "scenario"),
    _hint("event-set-equals", rf"\bset[ \t]+{_NAME}[ \t]*(?P<caret>:?=|to\b)", "scenario"),
    # ------------------------------------------------------------------ headers
    _hint("colon-after-header", r"(?P<caret>:)[ \t]*$", "header"),
    _hint("sentence-missing", rf"^[ \t]*(?P<word>requirement|hazard)[ \t]+(?P<caret>{_NAME})[ \t]*$", "header"),
    _hint("sentence-missing", r"^[ \t]*(?P<caret>(?P<word>assume|scenario))[ \t]*$", "header"),
    _hint("blank-in-name", r"^[ \t]*rung[ \t]+(?P<found>(?P<first>[A-Za-z][A-Za-z0-9_]*)[ \t]+(?P<second>[A-Za-z][A-Za-z0-9_]*))", "header"),
    _hint("hyphen-in-name", r"^[ \t]*(?:rung|requirement|hazard)[ \t]+(?P<found>[A-Za-z][A-Za-z0-9_]*(?:-[A-Za-z0-9_]+)+)", "header"),
    _hint("identifier-missing", r"^[ \t]*(?P<word>requirement|hazard|rung)[ \t]*(?P<caret>\")", "header"),
    _hint("name-unquoted", r"^[ \t]*(?P<word>controller|plant|circuit|scenario|assume|use)[ \t]+(?P<found>[A-Za-z][A-Za-z0-9_. ]*?)(?=[ \t]+(?:every|from)\b|[ \t]*$)", "header"),
)
