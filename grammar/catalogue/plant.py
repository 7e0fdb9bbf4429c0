"""Lines of a `plant` block: kinds, clauses, and how parts fit together."""

from __future__ import annotations

from rungproof.grammar.diagnosis import Entry, Sample

_TANK = "tank t   upright cylinder, diameter 60 cm, height 110 cm, starts at 60 L"

_SCANS = """controller "Sample" every {}

tags
    go    input   bool
    lamp  output  bool

rung lamp
    go
    => lamp

plant "Sample" every 5 ms
    supply P24       24 V
    push_button S1   make contact
    lamp P1

wiring
    controller   from P24
    inputs X1    from P24
    outputs X2   from P24
    go     at X1:1   from S1
    lamp   at X2:1   to P1
"""


def _plant(*lines: str, head: str = 'plant "Sample" every 5 ms') -> Sample:
    return Sample({"sample.rung": head + "\n" + "".join(f"    {line}\n" for line in lines)})


def _own(text: str, name: str = "own.py") -> Sample:
    head = f'plant "Sample" every 5 ms parts from "{name}"'
    return Sample({"sample.rung": f"{head}\n    {_TANK}\n", "own.py": text})


ENTRIES: tuple[Entry, ...] = (
    Entry(
        "part-kind-unknown",
        "error",
        "There is no kind of part called `{kind}`.",
        (_plant("tnk header   upright cylinder, diameter 60 cm, height 110 cm, starts at 60 L"), _plant("zeppelin z")),
        expected="one of {kinds}",
    ),
    Entry(
        "part-twice",
        "error",
        "The name `{name}` is taken by another part.",
        (_plant(_TANK, "supply t   24 V"), _plant("supply P1   24 V", "supply p1   24 V")),
        expected="names that differ by more than letter case",
    ),
    Entry(
        "part-name-reserved",
        "error",
        "No part can be called `{name}`: in wiring and scenarios the word means the controller itself.",
        (_plant("supply controller   24 V"),),
        mend="give the part a designation of its own, such as `P24`",
    ),
    Entry(
        "part-unknown",
        "error",
        "`{by}` names a part `{name}`, and there is none.",
        (
            _plant(_TANK, "outlet o   from tt, orifice 8 mm, coefficient 0.61, opening 0..100 %"),
            _plant("float_switch LS1   in header, contact opens on rise at 95 cm, closes on fall at 92 cm"),
        ),
        mend="add a line for it, or name another",
    ),
    Entry(
        "part-impossible",
        "error",
        "There can be no such {kind} `{name}`: {problem}.",
        (
            _plant("tank t   upright cylinder, diameter -60 cm, height 110 cm, starts at 60 L"),
            _plant("push_button S1   make contacts 0"),
        ),
    ),
    Entry(
        "tick-misfits",
        "error",
        "A tick of {tick} ms does not go into the times of {count} parts: {parts}.",
        (
            _plant(
                "relay K1   pulls in 21 ms, drops out 33 ms, make contact",
                "relay K2   pulls in 30 ms, drops out 31 ms, make contact",
            ),
        ),
        expected="a tick of which every time of a part is a whole number",
        mend="write a tick of {fits} ms, or of a whole part of that",
    ),
    Entry(
        "scan-off-tick",
        "error",
        "A scan of {scan} is no whole number of the plant's ticks of {tick} ms.",
        (
            Sample({"sample.rung": _SCANS.format("12 ms")}),
            Sample({"sample.rung": _SCANS.format("10..23 ms")}),
        ),
        expected="scan times that are whole ticks: a scan begins and ends where the plant moves",
        mend="give the plant a tick of {fits} ms, or the controller another scan",
    ),
    Entry(
        "acts-above-rim",
        "warning",
        "`{name}` acts at {at} cm, and `{vessel}` is {rim} cm high: no level comes there, and it never acts.",
        (
            _plant(_TANK, "float_switch LS1   in t, contact opens on rise at 115 cm, closes on fall at 112 cm"),
            _plant(_TANK, "level_probe B1   in t at 111 cm, make contact"),
        ),
        mend="write the height above the bottom of the tank, below its rim: a guard against overfilling acts in time",
    ),
    Entry(
        "part-misfit",
        "error",
        "{kind} `{name}` {problem}.",
        (
            _plant("supply P1   24 V", "outlet o   from P1, orifice 8 mm, coefficient 0.61, opening 0..100 %"),
            _plant(
                "supply P1   24 V", "float_switch LS1   in P1, contact opens on rise at 95 cm, closes on fall at 92 cm"
            ),
        ),
    ),
    Entry(
        "clause-unknown",
        "error",
        "A {kind} has no clause `{written}`.",
        (_plant(_TANK + ", blue"),),
        expected="one of: {known}",
    ),
    Entry(
        "clause-shape",
        "error",
        "The clause `{written}` goes wrong at {found}.",
        (_plant("tank t   upright cylinder, diameter wide, height 110 cm, starts at 60 L"),),
        expected="`{expected}`",
    ),
    Entry(
        "clause-repeated",
        "error",
        "`{pattern}` is said twice.",
        (_plant(_TANK + ", starts at 70 L"),),
        mend="take one of them out",
    ),
    Entry(
        "clause-missing",
        "error",
        "{kind} `{name}` lacks a clause.",
        (_plant("supply P1"), _plant("emergency_stop S0   break contacts 2")),
        expected="`{pattern}`",
    ),
    Entry(
        "clause-unit",
        "error",
        "A number in `{unit}` stands where `{expected}` is meant.",
        (
            _plant("supply P1   24 mm"),
            _plant("tank t   upright cylinder, diameter 60 L, height 110 cm, starts at 60 L"),
        ),
        expected="a number in `{expected}`, or in a unit of that kind",
    ),
    Entry(
        "clause-unit-lacks",
        "error",
        "`{written}` has no unit.",
        (_plant("supply P1   24"),),
        expected="a number in `{expected}`, or in a unit of that kind",
        mend="write `{written} {expected}`, if that is what it is",
    ),
    Entry(
        "clause-unit-excess",
        "error",
        "`{written}` has a unit, and this number has none.",
        (_plant("push_button S1   make contacts 2 V"),),
        mend="leave `{unit}` out",
    ),
    Entry(
        "clause-not-whole",
        "error",
        "`{written}` is no whole number.",
        (_plant("push_button S1   make contacts 1.5"),),
        expected="a count",
    ),
    Entry(
        "clause-reversed",
        "error",
        "The interval `{low}..{high}` runs backwards.",
        (
            _plant(
                _TANK,
                "level_transmitter LT1   above t at 135 cm, sees 125 cm..25 cm as 0..10 V, every 100 ms",
            ),
        ),
        expected="the lower end first",
        mend="write `{turned}`; a signal that falls while the number rises is turned round in the program, by `scale`, "
        "and a level transmitter whose signal grows as the tank fills says `rises with level`",
    ),
    Entry(
        "parts-outside-folder",
        "error",
        "The file of parts `{file}` lies outside the folder of this project.",
        (_own("", "../own.py"),),
        expected="the bare name of a Python file of the same folder",
    ),
    Entry(
        "parts-not-python",
        "error",
        "The file of parts `{file}` is no Python file.",
        (_own("", "own.txt"),),
        expected="a name that ends in `.py`",
    ),
    Entry(
        "parts-missing",
        "error",
        "The folder holds no file of parts `{file}`.",
        (_own("", "mine.py"),),
    ),
    Entry(
        "parts-file",
        "error",
        "{where}{problem}.",
        (_own("raise RuntimeError('no')\n"), _own("x = (\n"), _own("x = 1\n")),
        expected="classes that inherit from `rungproof.plant.Part`, each with its own `kind`",
    ),
    Entry(
        "supply-unknown",
        "error",
        "{fed} is fed from `{name}`, and there is no such supply.",
        (
            Sample(
                {
                    "sample.rung": 'plant "Sample" every 5 ms\n    supply P24   24 V\n    relay K1   pulls in 20 ms, '
                    'drops out 20 ms, make contact\n\ncircuit "C" from P42\n    rung r\n        => K1\n'
                }
            ),
        ),
        expected="the name of a `supply` of the plant",
        mend="add `supply {name}   24 V` to the plant",
    ),
    Entry(
        "supply-is-none",
        "error",
        "{fed} is fed from `{name}`, which is a {kind} and no supply.",
        (
            Sample(
                {
                    "sample.rung": 'plant "Sample" every 5 ms\n    supply P24   24 V\n    relay K1   pulls in 20 ms, '
                    'drops out 20 ms, make contact\n\ncircuit "C" from K1\n    rung r\n        => K1\n'
                }
            ),
        ),
        expected="the name of a `supply` of the plant",
    ),
    Entry(
        "time-not-whole",
        "error",
        "This time is no whole number of milliseconds.",
        (_plant("supply P1   24 V", head='plant "Sample" every 2.5 ms'),),
        mend="write it in ms, without a fraction",
    ),
    Entry(
        "time-too-short",
        "error",
        "This time is too short.",
        (_plant("supply P1   24 V", head='plant "Sample" every 0 ms'),),
        expected="{least} ms or more",
    ),
    Entry(
        "time-too-long",
        "error",
        "This time is longer than a year: nobody waits for a run of it.",
        (
            _plant("supply P1   24 V", head='plant "Sample" every 9000 h'),
            Sample(
                {
                    "sample.rung": 'plant "Sample" every 5 ms\n    supply P1   24 V\n\n'
                    'scenario "A"\n    at 99999999 h cut P1\n    expect not P1.live\n'
                }
            ),
        ),
        expected="a year at the most, 8784 h",
        mend="write a shorter time, and see whether its unit is the one you mean",
    ),
    Entry(
        "drive-undriven",
        "warning",
        "Nothing drives {names}: part `{part}` stays as it starts.",
        (
            _plant("relay K1   pulls in 20 ms, drops out 20 ms, make contact"),
            _plant("reservoir r   holds 20 L, starts at 5 L", "pump p   from r, 0..12 L/min, lag 0.4 s"),
        ),
        expected="a circuit that drives each, or a wire from an output terminal",
    ),
)
