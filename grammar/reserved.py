"""The words that the language keeps for itself: no tag and no stage may bear them.

`expression.lark` carries `EXPRESSION_WORDS` in the look-ahead of `NAME`; a test asserts
that the two lists are one.
"""

from __future__ import annotations

#: Words that may stand beside a name inside an expression, so that no name may look like them.
EXPRESSION_WORDS = (
    frozenset({"and", "or", "not", "rising", "falling", "on", "off", "between"})
    | frozenset({"as", "at", "by", "for", "from", "in", "to", "when", "with", "within"})
    | frozenset({"after", "always", "before", "has", "never", "then", "until", "whenever"})
)

#: Words of the path, of outputs and of tag lines.
PATH_WORDS = frozenset({"set", "reset", "retained", "power_up", "scanning", "else"})

#: Words that begin a stage. The hyphenated ones can be no names anyway.
STAGE_WORDS = frozenset({"pulse", "accumulating"})

#: Functions of expressions.
FUNCTIONS = frozenset(
    {
        "min",
        "max",
        "abs",
        "sqrt",
        "round",
        "trunc",
        "select",
        "scale",
        "table",
        "filter",
        "rate",
        "ramp",
        "pi",
    }
)

#: Words that open a block at column 1.
BLOCK_WORDS = (
    "use",
    "controller",
    "tags",
    "rung",
    "plant",
    "circuit",
    "wiring",
    "hazard",
    "requirement",
    "assume",
    "exclude",
    "scenario",
)

ROLES = ("input", "output", "memory", "parameter")
TYPES = ("bool", "int", "real")

#: Every word that no tag and no stage may bear.
RESERVED = EXPRESSION_WORDS | PATH_WORDS | STAGE_WORDS | FUNCTIONS | frozenset(BLOCK_WORDS) | frozenset(ROLES + TYPES)
