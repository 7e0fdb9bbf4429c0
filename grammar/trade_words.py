"""Words that the trade uses and this language does not, each with what is written here instead.

Names of blocks (`TON`, `CTU`, `R_TRIG`) are those of IEC 61131-3; the others are plain words. In the
table a hyphen stands for a hyphen, an underscore, a blank or nothing: `one-shot` is also `oneshot`.
"""

from __future__ import annotations

from rungproof.grammar.hints import Hint, hint, plain

_ON_DELAY = "write `on-delay TIME as NAME`: power passes once it has stood for the time"
_OFF_DELAY = "write `off-delay TIME as NAME`: power goes the time later than the line above it"
_PULSE = "write `pulse TIME as NAME`: power passes for the time, however long it stands"
_ADDING = "write `accumulating on-delay TIME as NAME clear by TAG`: times add up until it is cleared"
_RISING = "write `rising TAG` for the one scan in which it comes on, or `rising as NAME` below a path"
_FALLING = "write `falling TAG` for the one scan in which it goes off"
_KEPT = "write `retained`, which keeps it through a power cut"
_SET = "write `=> set TAG`, which stays on until a `=> reset TAG`"
_RESET = "write `=> reset TAG`"
_COIL = "write `=> TAG`, which is on while power comes to it, or `=> set TAG` where it stays on"
_CLEARED = "write `clear by TAG`"

#: At the beginning of a rung's line, before a name or a number.
_PATHS = {
    "ton timer on-timer timer-on delay-on wait wait-for dwell": _ON_DELAY,
    "debounce": "write `on-delay 20 ms as NAME`: what is shorter than the time does not pass",
    "tof off-timer timer-off delay-off run-on": _OFF_DELAY,
    "tp pulse-timer timed-pulse single-pulse": _PULSE,
    "totaliser totalizer hour-meter retentive retentive-timer retained-timer accumulator": _ADDING,
    "ctu count counter up-counter counter-up": "write `count-up N as NAME clear by TAG`",
    "ctd down-counter counter-down": "write `count-down N as NAME load by TAG`",
    "r-trig once one-shot single-shot edge rising-edge positive-edge positive leading-edge pos-edge rise": _RISING,
    "f-trig falling-edge negative-edge trailing-edge neg-edge fall": _FALLING,
    "no make normally-open open-contact contact": "write `TAG`: power passes while the tag is on",
    "nc break normally-closed closed-contact unless inverted": "write `not TAG`: power passes while the tag is off",
    "nand nor": "write contacts in series or parallel, each with its own `not`",
    "latch": "write `=> set TAG` below the path, or seal it in with `START or TAG`",
    "output coil": "write `=> TAG`",
}

#: Between two names.
_BETWEEN = {
    "xor": "write `(A and not B) or (not A and B)`",
    "is": "write `TAG` for on, `not TAG` for off, and a comparison for a number, as in `TAG > 3`",
}

#: After `=>`, before a name.
_OUTPUTS = {
    "latch hold keep seal seal-in stay": _SET,
    "unlatch release unset clear drop drop-out": _RESET,
    "coil energise energize activate output out drive open close enable": _COIL,
    "deenergise de-energise de-energize disable deactivate": "write `=> not TAG`, which is off while power comes to "
    "it, or `=> reset TAG`",
    "toggle flip alternate invert": "give it a rung of its own, `(rising BUTTON and not TAG) or (TAG and not rising "
    "BUTTON)`, and `=> TAG`",
    "pulse once one-shot": "write `pulse TIME as NAME` or `rising as NAME` above it, and `=> TAG`",
    "move copy let assign store": "write `=> TAG := VALUE`",
}

#: The second word of a tag's line, the third, and any after that.
_ROLES = {
    "in sensor switch button digital-input analog-input analogue-input": "write `input`",
    "out coil actuator digital-output analog-output analogue-output": "write `output`",
    "mem internal marker flag bit var variable local auxiliary temp": "write `memory`",
    "param setting setpoint set-point const constant preset recipe": "write `parameter`",
}
_TYPES = {
    "digital discrete binary bit on-off": "write `bool`",
    "number word whole counts dint uint short long": "write `int` and its range, as in `int 0..65535`",
    "float double analog analogue decimal": "write `real`, its unit and its range, as in `real cm 0..100`",
    "time timer duration": "write `real s 0..600` for a time that is reckoned with; a stage's preset that people may "
    "set is a `parameter int s 1..60`",
    "string text char enum": "write `bool` or `int`: the language has no texts",
}
_KEEPING = {"retentive retain persistent latched latching latch non-volatile nonvolatile remanent keep": _KEPT}
_CLEARING = {"reset-by reset cleared-by cleared clear-with reset-with": _CLEARED}

#: Between the two halves of a requirement.
_CONNECTIVES = {
    "implies means leads-to must-have requires": "write `then`: `whenever A then B`, with `within TIME` where it may "
    "come later",
    "eventually finally sometime": "write `within TIME`: `whenever A then B within TIME`",
}


def _pattern(table: dict[str, str]) -> str:
    """Any word of a table, longest first, in the manner of `hint`: no blank and no `_` of its own."""
    words = sorted((word for words in table for word in words.split()), key=len, reverse=True)
    return "(?i:" + "|".join(word.replace("-", r"[-\x5f\x20]?") for word in words) + ")"


def _instead(table: dict[str, str]) -> dict[str, str]:
    return {plain(word): mend for words, mend in table.items() for word in words.split()}


_NAME = r"[A-Za-z][A-Za-z0-9\x5f.]*"
#: What follows is a name or a number, so that the word before it can be no name.
_OPERAND = r"(?!(?:and|or|between|as|when|then|has|never|before|until|within|for)\b)(?=[A-Za-z0-9])"

TRADE_HINTS: tuple[Hint, ...] = (
    hint("trade-word", rf"^ (?P<found>{_pattern(_PATHS)})_{_OPERAND}", "path", instead=_instead(_PATHS)),
    hint("trade-word", rf"=> (?P<found>{_pattern(_OUTPUTS)})_{_OPERAND}", "path", instead=_instead(_OUTPUTS)),
    hint(
        "trade-word",
        rf"^ (?!=>)[^\"]*{_NAME}_(?P<found>{_pattern(_BETWEEN)})_(?=[A-Za-z0-9(])",
        *("path", "requirement"),
        instead=_instead(_BETWEEN),
    ),
    hint("trade-word", rf"\bas_{_NAME}_(?P<found>{_pattern(_KEEPING)})\b", "path", instead=_instead(_KEEPING)),
    hint("trade-word", rf"\bas_{_NAME}_(?P<found>{_pattern(_CLEARING)})\b", "path", instead=_instead(_CLEARING)),
    hint("trade-word", rf"^ {_NAME}_(?P<found>{_pattern(_ROLES)})(?=[\t\x20])", "tag", instead=_instead(_ROLES)),
    hint("trade-word", rf"^ {_NAME}_{_NAME}_(?P<found>{_pattern(_TYPES)})\b", "tag", instead=_instead(_TYPES)),
    hint(
        "trade-word",
        rf"^ {_NAME}_{_NAME}_{_NAME}_[^\"]*(?P<found>\b{_pattern(_KEEPING)}\b)",
        "tag",
        instead=_instead(_KEEPING),
    ),
    hint(
        "trade-word",
        rf"\b(?P<found>{_pattern(_CONNECTIVES)})_{_OPERAND}",
        "requirement",
        instead=_instead(_CONNECTIVES),
    ),
)

_ALONE = {**_instead(_PATHS), **_instead(_KEEPING)}


def written_here(word: str) -> str | None:
    """What a word of the trade is written as, where it stands as a name or a unit that nobody knows."""
    return _ALONE.get(plain(word))


def kept_here(word: str) -> str | None:
    """The same of a word that stands behind a tag's type and means `retained`."""
    return _instead(_KEEPING).get(plain(word))
