"""What people write instead, as patterns: the first that fits gives the diagnosis.

In a pattern a blank stands for any blanks or none, and `_` for at least one (see `hint`);
so an underscore inside a name is written `\\x5f`.
"""

from __future__ import annotations

from rungproof.grammar.hints import Hint, hint
from rungproof.grammar.reserved import EXPRESSION_WORDS
from rungproof.grammar.trade_words import TRADE_HINTS

_LETTER = r"[A-Za-z0-9\x5f]"
_PLAIN = rf"[A-Za-z]{_LETTER}*"
_NAME = r"[A-Za-z][A-Za-z0-9\x5f.]*"
_NUMBER = r"[0-9]+(?:\.[0-9]+)?"
_UNIT = r"(?:ms|s|min|h|mm|cm|m|L|mV|V|mA|A|%|°C)"
_STAGE = r"(?:on-delay|off-delay|pulse|accumulating_on-delay|count-up|count-down)\b"
_TIMED = r"(?:on-delay|off-delay|pulse|accumulating_on-delay)\b"
_KEEPING = r"(?:accumulating_on-delay|count-up|count-down)\b"
_WORDS = "|".join(sorted(EXPRESSION_WORDS | {"set", "reset"}))
_FORM_WORDS = "never|always|whenever|after|at|from|with|even"
_ACTIONS = "set|press|release|fault|clear|cut|restore|stop|resume"
_NAMED_BLOCKS = "controller|plant|circuit|scenario|assume|exclude|use"
_APART = r"(?<![A-Za-z0-9\x5f.])"
_END = r"(?![A-Za-z0-9\x5f.])"

_COMPARISONS = {"==": "=", "!=": "<>", "=<": "<=", "><": "<>", "≤": "<=", "≥": ">=", "≠": "<>"}
_CONNECTIVES = {
    "&": "and",
    "&&": "and",
    "∧": "and",
    "|": "or",
    "||": "or",
    "∨": "or",
    "!": "not",
    "~": "not",
    "¬": "not",
}
_ARITHMETIC = {"×": "*", "·": "*", "÷": "/", "−": "-", "–": "-", "—": "-", "**": "x * x", "^": "x * x"}

_SIGNS = (
    hint("wrong-quotes", r"(?P<found>[“”„‟«»‘’])"),
    hint("wrong-quotes", r"(?P<found>'[^']*')"),
    hint("foreign-comment", r"(?P<found>//|/\*|;)"),
    hint("wrong-arrow", r"(?P<found>-+>|==+>|=\x20+>|~>|→|⇒|>>|:=>)", "path"),
    hint("comparison-symbol", r"(?P<found>==|!=|=<|><|≤|≥|≠)", instead=_COMPARISONS),
    hint("logic-symbol", r"(?P<found>&&?|\|\|?|!|~|¬|∧|∨)", instead=_CONNECTIVES),
    hint("arithmetic-symbol", r"(?P<found>\*\*|×|÷|−|–|—|\^|·)", instead=_ARITHMETIC),
    hint("wrong-brackets", r"(?P<found>[\[\]{}])"),
    hint("capital-word", rf"{_APART}(?P<found>(?!(?:{_WORDS})\b)(?i:{_WORDS})){_END}"),
    hint("leading-connective", r"^ (?P<found>and|or)\b"),
)

_RUNGS = (
    hint("branching-word", r"^ (?P<found>(?i:if|else|elsif|elif|endif|while|loop|goto|jump|return|end))\b", "path"),
    hint("assign-without-arrow", rf"^ (?P<caret>(?P<tag>{_NAME}) :=)", "path"),
    hint("equals-for-assign", rf"=> {_NAME} (?P<caret>=)(?![=>])", "path"),
    hint("several-outputs", rf"=> (?:(?:not|set|reset)_)?{_NAME} (?P<caret>,|\band\b|=>)", "path"),
    hint("output-on-condition-line", rf"(?:{_LETTER}|\)) (?P<caret>=>)", "path"),
    hint("output-words", rf"=> (?P<found>(?:on|off)\b|(?:turn|start|stop|latch|unlatch)_{_NAME})", "path"),
    hint("missing-arrow", rf"^ (?P<found>(?:set|reset)_{_NAME}) $", "path"),
    hint("edge-of-not", rf"\b(?P<caret>(?:rising|falling)_not_{_NAME})", "path", "requirement"),
    hint("remark-on-line", r'^[^"]*[^"\s] (?P<caret>"[^"]*") $', "path"),
    hint(
        "stage-hyphen",
        r"\b(?P<found>(?i:on|off)(?:_|\x5f|)(?i:delay)|(?i:count)(?:_|\x5f|)(?i:up|down))\b",
        "path",
    ),
    hint("stage-inside", rf"(?:[(]|\b(?:and|or|not)\b) (?P<found>{_STAGE})", "path"),
    hint("stage-inside", rf"^ (?!{_STAGE})[^=]*(?:{_LETTER}|\))_(?P<found>{_STAGE})", "path"),
    hint("stage-without-preset", rf"^ (?P<found>{_STAGE})_(?P<caret>as)\b", "path"),
    hint("stage-bare", rf"^ (?P<caret>(?P<found>{_TIMED})_(?P<figure>{_NUMBER})) $", "path"),
    hint("stage-without-name", rf"^ (?P<caret>(?P<found>{_STAGE})_(?:{_NUMBER} {_UNIT}?|{_NAME})) $", "path"),
    hint("stage-without-clearing", rf"^ (?P<caret>{_KEEPING}.*\bas_{_NAME})(?:_retained)? $", "path"),
)

_NUMBERS_AND_NAMES = (
    hint("decimal-comma", rf"{_APART}(?P<found>(?P<whole>[0-9]+),(?P<part>[0-9]+))"),
    hint("bare-point", r"(?<![A-Za-z0-9\x5f.)])(?P<found>\.[0-9]+)"),
    hint("bare-point", rf"{_APART}(?P<found>[0-9]+\.)(?![0-9.])"),
    hint("three-dots", r"(?P<found>\.\.\.+|…)"),
    hint("compound-time", r"(?P<found>[0-9]+ (?:h|min|s) [0-9]+ (?:min|s|ms))\b"),
    hint("range-word", rf"{_APART}(?P<caret>(?P<low>[0-9.]+) (?:to|-) (?P<high>[0-9.]+))", "tag", "wiring", "part"),
    hint(
        "unit-first",
        rf"{_APART}(?<![0-9]\x20)(?P<found>(?P<unit>{_UNIT}) (?P<figure>{_NUMBER})){_END}",
        *("path", "requirement", "assume", "part", "scenario", "header"),
    ),
    hint("digit-first", r"(?<![A-Za-z0-9\x5f.:])(?P<found>[0-9]+[A-Za-z]*\x5f[A-Za-z0-9\x5f]*)"),
    hint("digit-first", rf"^ (?P<found>[0-9]{_LETTER}*)", "tag"),
    hint(
        "chained-comparison",
        r"(?P<found>(?:<=|>=|<|>)[^<>=()]*(?:<=|>=|<|>))",
        *("path", "requirement", "assume", "hazard"),
    ),
)

_TAGS_AND_PARTS = (
    hint("hyphen-in-name", rf"^ (?P<found>{_PLAIN}(?:-{_LETTER}+)+)(?=[\t\x20])", "tag"),
    hint(
        "type-before-role",
        rf"^ {_NAME}_(?P<caret>(?P<type>bool|int|real)_(?P<role>input|output|memory|parameter))\b",
        "tag",
    ),
    hint("tag-colon", rf"^ {_NAME} (?P<caret>:)", "tag"),
    hint("remark-unquoted", r"\b(?:bool|int|real)\b(?:.*[0-9%])?_(?P<found>[A-Za-z][a-z]*(?:_[A-Za-z-]+)+) $", "tag"),
    hint("equals-in-clause", r"(?P<caret>=|:)", "part"),
    hint("terminal-shape", rf"^ {_NAME}_at_(?P<found>(?P<module>{_PLAIN})\. (?P<number>[0-9]+))", "wiring"),
    hint(
        "terminal-shape",
        rf"^ {_NAME}_at_(?P<found>(?P<module>{_PLAIN})(?: / | - |_)(?P<number>[0-9]+))(?![:0-9])",
        "wiring",
    ),
)

_REQUIREMENTS_AND_SCENARIOS = (
    hint("any-fault-without-even", r"^ (?P<caret>with_any_one_fault) $", "requirement"),
    hint("whenever-not-if", r"^ (?P<found>(?i:if|when))\b", "requirement"),
    hint("requirement-word", rf"^ (?P<caret>(?P<found>{_NAME})_(?:must|shall|should|is|has_to)\b)", "requirement"),
    hint("at-most-edge", rf"\bat_most_[0-9]+_(?P<found>{_NAME})_in\b", "requirement"),
    hint("event-without-time", rf"^ (?P<found>{_ACTIONS})\b", "scenario"),
    hint("event-set-equals", rf"\bset_{_NAME} (?P<caret>:?=|to\b)", "scenario"),
)

_HEADERS = (
    hint("colon-after-header", r"(?P<caret>:) $", "header"),
    hint(
        "scope-behind-sentence",
        rf"^ requirement_{_NAME} \"[^\"]*\" (?P<caret>(?P<even>even_)?with_(?P<rest>any_one_fault|outputs_free))",
        "header",
    ),
    hint("sentence-missing", rf"^ (?P<word>requirement|hazard)_(?P<caret>{_NAME}) $", "header"),
    hint("sentence-missing", r"^ (?P<caret>(?P<word>assume|exclude|scenario)) $", "header"),
    hint("blank-in-name", rf"^ rung_(?P<found>(?P<first>{_PLAIN})_(?P<second>{_PLAIN}))", "header"),
    hint("hyphen-in-name", rf"^ (?:rung|requirement|hazard)_(?P<found>{_PLAIN}(?:-{_LETTER}+)+)", "header"),
    hint("identifier-missing", r"^ (?P<word>requirement|hazard|rung) (?P<caret>\")", "header"),
    hint(
        "name-unquoted",
        rf"^ (?P<word>{_NAMED_BLOCKS})_(?P<found>[A-Za-z][A-Za-z0-9\x5f.\x20]*?)(?=_(?:every|from)\b| $)",
        "header",
    ),
    hint(
        "name-unquoted",
        rf"^ (?P<word>requirement|hazard)_{_PLAIN}_(?P<found>(?!against\b|safe\b)[A-Za-z][^\"]*?) $",
        "header",
    ),
)

#: The surest signs first.
HINTS: tuple[Hint, ...] = (
    *TRADE_HINTS,
    *_SIGNS,
    *_RUNGS,
    *_NUMBERS_AND_NAMES,
    *_TAGS_AND_PARTS,
    *_REQUIREMENTS_AND_SCENARIOS,
    *_HEADERS,
)

#: Looked at only once no misspelt word was found.
LAST_HINTS: tuple[Hint, ...] = (
    hint("requirement-word", rf"^ (?P<found>(?!(?:{_FORM_WORDS})\b){_NAME})(?!.*\bbefore\b)", "requirement"),
)
