"""Syntax of the lines outside rungs: tags, parts, wiring, requirements, scenarios."""

from __future__ import annotations

from rungproof.grammar.diagnosis import Entry, Sample


def _sample(text: str) -> Sample:
    return Sample({"sample.rung": text})


def _requirement(*lines: str) -> Sample:
    return _sample('requirement R1 "The pump stays off"\n' + "".join(f"    {line}\n" for line in lines))


ENTRIES: tuple[Entry, ...] = (
    Entry(
        "said-twice",
        "error",
        "This is said twice: {what}.",
        (
            _sample("tags\n    running memory bool retained retained\n"),
            _sample('assume "Calm"\n    a\n    b\n'),
            _sample('hazard H1 "Flood" safe state not a\n    safe state not b\n'),
        ),
        mend="keep one of the two",
    ),
    # ------------------------------------------------------------------------- tags
    Entry(
        "type-before-role",
        "error",
        "The role stands before the type.",
        (_sample("tags\n    running bool memory\n"),),
        mend="write `{role} {type}`",
    ),
    Entry(
        "tag-colon",
        "error",
        "No colon stands after a tag's name.",
        (_sample("tags\n    running: memory bool\n"),),
        mend="take the colon away",
    ),
    Entry(
        "remark-unquoted",
        "error",
        "A remark stands in quotes.",
        (_sample("tags\n    start_pb input bool Start push button\n"),),
        mend='write `"{found}"`',
    ),
    # ------------------------------------------------------------- plant and wiring
    Entry(
        "equals-in-clause",
        "error",
        "In a part's line words and values simply follow each other, and here stands `{found}`.",
        (_sample('plant "Yard" every 5 ms\n    tank header   diameter = 60 cm\n'),),
        mend="take it away, as in `diameter 60 cm`",
    ),
    Entry(
        "terminal-shape",
        "error",
        "A terminal is written `MODULE:NUMBER`, and here stands `{found}`.",
        (_sample("wiring\n    start_pb   at X1.1   from S1\n"), _sample("wiring\n    start_pb   at X1-1   from S1\n")),
        mend="write `{module}:{number}`",
    ),
    # ----------------------------------------------------------------- requirements
    Entry(
        "requirement-without-form",
        "error",
        "Requirement `{name}` has its sentence, but no line that a machine can check.",
        (_requirement("with outputs free"), _requirement()),
        expected="one line that begins with never, always, whenever, after or at most, or reads `A before B`",
        mend="add a line such as `never pump_enable and not float_ok`",
    ),
    Entry(
        "two-forms",
        "error",
        "A requirement says one thing, and this one says two.",
        (_requirement("never pump", "always float_ok"),),
        mend="give the second line a requirement of its own, with its own sentence",
    ),
    Entry(
        "scope-after-form",
        "error",
        "A scope line stands above the form, not below it.",
        (_requirement("never pump", "with outputs free"),),
        mend="move this line up, straight below the requirement's sentence",
    ),
    Entry(
        "any-fault-without-even",
        "error",
        "The line that lets any one thing fail begins with `even`.",
        (_requirement("with any one fault", "never pump"),),
        mend="write `even with any one fault`",
    ),
    Entry(
        "scope-behind-sentence",
        "error",
        "What a requirement allows the world stands on a line of its own, not behind the sentence.",
        (
            _sample('requirement R1 "Off" with any one fault\n    never pump\n'),
            _sample('requirement R1 "Off" even with any one fault\n    never pump\n'),
            _sample('requirement R1 "Off" with outputs free\n    never pump\n'),
        ),
        expected="`against` or the end of the line",
        mend="write `even with any one fault`, or `with outputs free`, on the line below, above the form",
    ),
    Entry(
        "whenever-not-if",
        "error",
        "`{found}` begins no requirement.",
        (_requirement("if estop then not pump"),),
        mend="write `whenever ... then ...`",
    ),
    Entry(
        "requirement-word",
        "error",
        "A requirement's line is a form, not a sentence: the sentence stands in quotes above it.",
        (_requirement("pump must be off"),),
        expected="never A, always A, whenever A then B, after A never B until C, at most N A in any T, or A before B",
        mend="begin the line with one of these words, and write contacts and comparisons after it",
    ),
    Entry(
        "at-most-edge",
        "error",
        "`at most` counts events, and `{found}` is a state.",
        (_requirement("at most 15 starts in any 1 h"),),
        mend="write `rising {found}` to count how often it comes on",
    ),
    # -------------------------------------------------------------------- scenarios
    Entry(
        "event-without-time",
        "error",
        "When? Each event of a scenario begins with its time.",
        (_sample('scenario "Start"\n    press S1 for 200 ms\n'),),
        mend="write `at 0 s` before `{found}`",
    ),
    Entry(
        "event-set-equals",
        "error",
        "In an event the value simply follows the name, and here stands `{found}`.",
        (_sample('scenario "Start"\n    at 0 s set level = 5 cm\n'),),
        mend="write `set NAME VALUE`",
    ),
)
