"""Types: contacts against numbers, ints against reals, functions, tags and stages."""

from __future__ import annotations

from rungproof.grammar.diagnosis import Entry, Sample

_HEAD = """controller "Sample" every 10 ms

tags
    start_pb  input      bool
    stop_ok   input      bool
    reset_pb  input      bool
    counts    input      int 0..65535
    level     memory     real cm 0..100
    speed     output     real V 0..10
    number    memory     int 0..100
    running   output     bool
    target    parameter  real cm 10..90 = 50
    pause     parameter  int s 0..60 = 5
"""


def _rung(*lines: str) -> Sample:
    return Sample({"sample.rung": _HEAD + "\nrung sample\n" + "".join(f"    {line}\n" for line in lines)})


def _tag(line: str) -> Sample:
    return Sample({"sample.rung": _HEAD + f"    {line}\n"})


def _pi(arguments: str) -> Sample:
    return _rung(f"=> speed := pi({arguments})")


_CONTACTS = (
    Entry(
        "not-a-contact",
        "error",
        "A number stands where a contact belongs.",
        (_rung("start_pb and counts", "=> running"), _rung("level", "=> running")),
        expected="a bool tag, a stage, or a comparison",
        mend="compare it with something: `counts > 100`",
    ),
    Entry(
        "not-a-number",
        "error",
        "A contact stands where a number belongs.",
        (_rung("=> number := start_pb + 1"), _rung("=> level := abs(start_pb)")),
        mend="`select(contact, 1, 0)` makes a number of a contact",
    ),
    Entry(
        "contact-against-number",
        "error",
        "A contact is compared with a number.",
        (_rung("start_pb = 1", "=> running"),),
        mend="a contact is written by its name alone: `start_pb`, or `not start_pb`",
    ),
    Entry(
        "order-of-contacts",
        "error",
        "A contact is neither more nor less than another: `{operator}` has no meaning here.",
        (_rung("start_pb < stop_ok", "=> running"),),
        expected="`=` or `<>` between contacts",
    ),
    Entry(
        "equals-on-reals",
        "error",
        "`{operator}` between reals: measured numbers are hardly ever the same to the last digit.",
        (_rung("level = 50 cm", "=> running"), _rung("level <> target", "=> running")),
        mend="write `<=` or `>=`, or say how near: `level between 49 cm and 51 cm`",
    ),
    Entry(
        "empty-between",
        "error",
        "Nothing lies between these: the lower end is above the upper one.",
        (_rung("level between 60 cm and 40 cm", "=> running"),),
        mend="put the smaller one first",
    ),
    Entry(
        "between-remembers",
        "error",
        "`between` looks at its value twice, and this value remembers, or holds a `between` itself.",
        (_rung("select(rising start_pb, 1, 0) between 1 and 2", "=> running"),),
        mend="store it in a tag first and put the tag here",
    ),
)

_NUMBERS = (
    Entry(
        "real-to-int",
        "error",
        "A real does not become an int by itself.",
        (
            _rung("=> number := level / target"),
            _rung("=> number := 0.5 * counts"),
            _rung("=> number := pi(level, target, gain = 1 V/cm, integral = 1 min, direction = direct)"),
        ),
        mend="say how: `round(...)` to the nearest, or `trunc(...)` toward zero",
    ),
    Entry(
        "not-whole",
        "error",
        "This must be a whole number{unit}.",
        (
            _rung("=> number := 2.5"),
            _rung("start_pb", "on-delay 0.5 ms as hold", "=> running"),
            _tag("n memory int 0..9.5"),
        ),
    ),
    Entry(
        "already-whole",
        "error",
        "This is an int: `{function}` has nothing to do.",
        (_rung("=> number := round(number)"),),
        mend="leave `{function}` out",
    ),
    Entry(
        "literal-wanted",
        "error",
        "Only a number as written may stand here.",
        (
            _rung("=> level := scale(counts, 0..number, 0 cm..100 cm)"),
            _rung("=> level := table(counts, 0: 0 cm, number: 100 cm)"),
            _tag("n memory int 0..9 = number"),
        ),
        expected="a number, with its unit if it has one",
    ),
    Entry(
        "coil-on-number",
        "error",
        "`{name}` is a number (`{type}`), and a coil drives bool tags only.",
        (_rung("start_pb", "=> number"), _rung("start_pb", "=> set speed")),
        mend="write what it shall become: `=> {name} := ...`",
    ),
    Entry(
        "assign-to-bool",
        "error",
        "`{name}` is bool: power drives it, `:=` does not.",
        (_rung("=> running := 1"),),
        mend="write the condition as lines of the path, and `=> {name}` below them",
    ),
    Entry(
        "writes-input",
        "error",
        "`{name}` is an input: the terminal writes it, not a rung.",
        (_rung("stop_ok", "=> start_pb"),),
        mend="make a memory tag for it",
    ),
    Entry(
        "writes-parameter",
        "error",
        "`{name}` is a parameter: it stays as it is while the program runs.",
        (_rung("=> target := 20 cm"),),
        mend="make it `memory` if the program is to change it",
    ),
)

_FUNCTIONS = (
    Entry(
        "unknown-function",
        "error",
        "There is no function `{name}`.",
        (_rung("=> level := maxx(level, 5 cm)"), _rung("=> level := sin(level)")),
        expected="min, max, abs, sqrt, round, trunc, select, scale, table, filter, rate, ramp or pi",
    ),
    Entry(
        "wrong-arguments",
        "error",
        "`{function}` with {count} arguments.",
        (_rung("=> level := min(level)"), _rung("=> level := abs(level, level)")),
        expected="`{form}`",
    ),
    Entry(
        "wrong-argument",
        "error",
        "`{function}` takes no such argument in this place.",
        (
            _rung("=> level := min(level, 0 cm..5 cm)"),
            _rung("=> level := scale(counts, 5, 0 cm..100 cm)"),
            _rung("=> level := filter(level, time = 2 s)"),
            _pi("level, target, gain = 1 V/cm, gain = 2 V/cm, integral = 1 min, direction = direct"),
        ),
        expected="`{form}`",
    ),
    Entry(
        "unknown-keyword",
        "error",
        "`pi` knows no `{name}`.",
        (_pi("level, target, gian = 1 V/cm, integral = 1 min, direction = direct"),),
        expected="gain, integral, direction and, if wanted, starts from",
    ),
    Entry(
        "missing-argument",
        "error",
        "`pi` also needs: {missing}.",
        (_pi("level, target, gain = 1 V/cm, integral = 1 min"),),
        expected="`{form}`",
    ),
    Entry(
        "direction-wanted",
        "error",
        "This is no direction.",
        (_pi("level, target, gain = 1 V/cm, integral = 1 min, direction = up"),),
        expected="`reverse` (a measured value that is too low raises the output) or `direct` (lowers it)",
    ),
    Entry(
        "pi-not-alone",
        "error",
        "`pi` clamps to the range of the tag it is assigned to, so it must be the whole right side.",
        (_rung("=> speed := 1 V + pi(level, target, gain = 1 V/cm, integral = 1 min, direction = direct)"),),
        mend="assign it to a tag of its own and go on from that tag",
    ),
    Entry(
        "memory-not-here",
        "error",
        "`{function}` remembers from scan to scan of a powered rung, and here is none.",
        (_rung("rate(level) > 1 cm/s", "=> running"),),
        expected="`{function}` on the right side of `:=` in a rung",
        mend="assign it to a memory tag and compare the tag",
    ),
    Entry(
        "name-on-function",
        "error",
        "`{function}` remembers nothing, so it needs no name.",
        (_rung("=> level := max(level, 5 cm) as highest"),),
        mend="leave `as {name}` out",
    ),
    Entry(
        "not-above-zero",
        "error",
        "{what} must be above zero.",
        (
            _rung("=> level := filter(level, 0 s)"),
            _rung("=> level := ramp(level, -1 cm/s)"),
            _pi("level, target, gain = 0 V/cm, integral = 1 min, direction = direct"),
        ),
        why="a gain's sign says nothing here: `direction` does",
    ),
    Entry(
        "table-not-rising",
        "error",
        "The left column of a table must rise, and this row does not.",
        (_rung("=> level := table(counts, 0: 0 cm, 100: 5 cm, 100: 6 cm)"),),
        mend="sort the rows, and keep one row for each value on the left",
    ),
    Entry(
        "empty-range",
        "error",
        "Both ends of this range are the same, so nothing can be scaled by it.",
        (_rung("=> level := scale(counts, 5..5, 0 cm..100 cm)"),),
    ),
)

_TAGS = (
    Entry(
        "range-missing",
        "error",
        "`{name}` is {type} and says no range.",
        (_tag("n memory int"), _tag("depth memory real cm")),
        expected="lowest and highest value, as in `{written} 0..100`",
        why="every number is proved to stay within bounds, and that begins at the tags",
    ),
    Entry(
        "range-backwards",
        "error",
        "The range of `{name}` must rise.",
        (_tag("n memory int 9..0"), _tag("n memory int 5..5")),
        mend="put the smaller end first",
    ),
    Entry(
        "bool-with-range",
        "error",
        "`{name}` is bool: on or off, with no unit and no range.",
        (_tag("flag memory bool 0..1"), _tag("flag memory bool cm")),
        mend="leave them out, or make it `int` or `real`",
    ),
    Entry(
        "start-out-of-range",
        "error",
        "The {what} of `{name}` is outside its range.",
        (_tag("n memory int 0..9 = 10"), _tag("v output real V 0..10 on stop 11 V")),
        expected="{low} to {high}",
    ),
    Entry(
        "truth-wanted",
        "error",
        "`{name}` is bool, so its {what} is `on` or `off`.",
        (_tag("flag memory bool = 1"), _tag("flag output bool on stop 0")),
    ),
    Entry(
        "retained-not-here",
        "error",
        "`{name}` is {role}: there is nothing to retain.",
        (_tag("eye input bool retained"), _tag("p parameter int 0..9 retained")),
        expected="`retained` on a memory or output tag: an input is read anew, a parameter survives in any case",
        mend="leave `retained` out",
    ),
    Entry(
        "on-stop-not-here",
        "error",
        "`{name}` is {role}: it has no terminal to give a value when the controller is stopped.",
        (_tag("flag memory bool on stop off"),),
        mend="leave `on stop` out",
    ),
)

_STAGES = (
    Entry(
        "preset-not-constant",
        "error",
        "A time or a count must stand still while the program runs.",
        (_rung("start_pb", "count-up number as starts clear by reset_pb", "=> running"),),
        expected="a number, or a parameter",
        mend="make the tag a `parameter`",
    ),
    Entry(
        "preset-is-real",
        "error",
        "A time or a count is a whole number, and this tag is `real`.",
        (
            Sample(
                {
                    "sample.rung": _HEAD
                    + "    wait      parameter  real s 1..60 = 5\n"
                    + "\nrung sample\n    start_pb\n    on-delay wait as hold\n    => running\n"
                }
            ),
        ),
        mend="make it `int`, in a unit fine enough: `int ms 500..5000`",
    ),
    Entry(
        "preset-too-small",
        "error",
        "This is, or can become, less than {least}.",
        (
            _rung("start_pb", "on-delay 0 s as hold", "=> running"),
            _rung("start_pb", "on-delay pause as hold", "=> running"),
            _rung("start_pb", "count-up 0 as starts clear by reset_pb", "=> running"),
        ),
        expected="{least} or more",
        mend="without the delay or count, leave the line out; a parameter's range must begin at {least} or more",
    ),
    Entry(
        "count-out-of-reach",
        "error",
        "Counting ends at {highest}, so this can never be reached.",
        (_rung("start_pb", "count-up 40000 as starts clear by reset_pb", "=> running"),),
    ),
)

ENTRIES: tuple[Entry, ...] = (*_CONTACTS, *_NUMBERS, *_FUNCTIONS, *_TAGS, *_STAGES)
