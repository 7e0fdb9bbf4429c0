"""Circuits: what wires and relays can do, and what only a program could."""

from __future__ import annotations

from rungproof.grammar.diagnosis import Entry, Sample

_YARD = """plant "Sample" every 5 ms
    tank t            upright cylinder, diameter 60 cm, height 110 cm, starts at 60 L
    float_switch LS1  in t, contact opens on rise at 95 cm, closes on fall at 92 cm
    push_button S1    make contacts 2
    relay K1          pulls in 20 ms, drops out 20 ms, make contacts 2
    relay K2          pulls in 20 ms, drops out 20 ms, make contact
    supply P24        24 V
"""


def _circuit(*lines: str, more: str = "") -> Sample:
    body = "".join(f"        {line}\n" for line in lines)
    return Sample({"sample.rung": f'{_YARD}\ncircuit "C" from P24\n    rung one\n{body}{more}'})


def _program(*lines: str) -> Sample:
    body = "".join(f"        {line}\n" for line in lines)
    program = """controller "Sample" every 10 ms

tags
    s1_in   input   bool
    run     output  bool

rung run
    rising s1_in
    => run

wiring
    controller   from P24
    inputs X1    from P24
    outputs X2   from P24
    s1_in   at X1:1   from S1.2
    run     at X2:1   to K2
"""
    return Sample({"sample.rung": f'{_YARD}\n{program}\ncircuit "C" from P24\n    rung one\n{body}'})


ENTRIES: tuple[Entry, ...] = (
    Entry(
        "circuit-without-plant",
        "error",
        'Circuit "{name}" has no plant: there is nothing that it could switch.',
        (Sample({"sample.rung": 'circuit "C" from P24\n    rung one\n        S1\n        => K1\n'}),),
        expected="a `plant` block with the parts that the circuit joins",
    ),
    Entry(
        "unknown-contact",
        "error",
        "There is no contact `{name}`.",
        (_circuit("S9", "=> K1"), _circuit("S1.1 or K3", "=> K1")),
        expected="a contact such as `K1.2`, an output tag of the program, or a node that this circuit drives",
    ),
    Entry(
        "circuit-stage",
        "error",
        "A circuit has no `{kind}`: it is wires and relays.",
        (_circuit("S1.1", "on-delay 5 s as wait", "=> K1"),),
        expected="contacts, in series or in parallel",
        mend="use a relay that `pulls in` or `drops out` after that time, or move this into the program",
    ),
    Entry(
        "circuit-negates",
        "error",
        "A wire cannot turn a contact round.",
        (_circuit("not S1.1", "=> K1"), _circuit("S1.1 and not K2", "=> K1")),
        expected="contacts as they are: `K1.2` conducts while that contact is closed",
        mend="give the part a `break contact`, and name that",
    ),
    Entry(
        "circuit-edge",
        "error",
        "A wire remembers nothing: there are no edges in a circuit.",
        (_circuit("rising S1.1", "=> K1"),),
        expected="contacts, in series or in parallel",
        mend="move this into the program, or build it with a second relay",
    ),
    Entry(
        "circuit-number",
        "error",
        "A circuit knows contacts only, no numbers.",
        (_circuit("t.level > 20 cm", "=> K1"),),
        expected="contacts, in series or in parallel",
        mend="use the contact of a part that looks at it, such as a float switch",
    ),
    Entry(
        "circuit-output",
        "error",
        "A circuit drives coils, and does nothing else with them.",
        (_circuit("S1.1", "=> set K1"), _circuit("S1.1", "=> not K1")),
        expected="`=> K1`",
        mend="let a relay hold itself through a contact of its own: `S1.1 or K1.1`",
    ),
    Entry(
        "circuit-drives-tag",
        "error",
        "`{name}` is a tag of the program; a circuit cannot drive it.",
        (_program("S1.1", "=> run"),),
        expected="a part of the plant, or a name of its own for a point of this circuit",
        mend="let the circuit drive a relay, and wire its contact to an input",
    ),
    Entry(
        "drive-unknown",
        "error",
        "There is no part `{name}` to drive.",
        (_circuit("S1.1", "=> K9.coil"),),
        expected="a part of the plant that something can drive",
    ),
    Entry(
        "drive-none",
        "error",
        "`{name}` is not what can be driven of this {kind}.",
        (_circuit("S1.1", "=> LS1"), _circuit("S1.1", "=> K1.armature")),
        expected="one of: {choice}",
    ),
    Entry(
        "drive-kind",
        "error",
        "`{name}` takes {wants}.",
        (
            Sample(
                {
                    "sample.rung": _YARD + "    pump p   from t, 0..12 L/min, lag 0.4 s\n\n"
                    'circuit "C" from P24\n    rung one\n        S1.1\n        => p.speed\n'
                }
            ),
        ),
        mend="wire an output tag of that type to it",
    ),
    Entry(
        "drive-twice",
        "error",
        "`{name}` is driven twice.",
        (_circuit("S1.1", "=> K1", more="    rung two\n        S1.2\n        => K1\n"),),
        expected="one rung, or one wire, for each thing that is driven",
        mend="drive another input or part if one of the two was meant, or leave one out; what either path alone may "
        "drive is one rung with both in parallel, and two channels of a stop are never that",
    ),
    Entry(
        "node-unread",
        "warning",
        "No part is called `{name}`, and no rung of this circuit reads a node of that name.",
        (
            _circuit("S1.1", "=> K11", more="    rung two\n        S1.2\n        => K1\n"),
            _circuit("S1.1", "=> somewhere"),
        ),
        expected="a part, or a node that another rung of the circuit reads",
    ),
    Entry(
        "circuit-loop",
        "error",
        "The nodes of this circuit wait for each other: {loop}.",
        (
            _circuit("S1.1 or b", "=> a", "=> K1", more="    rung two\n        a\n        => b\n"),
            _circuit("S1.1 or a", "=> a", "=> K1"),
        ),
        expected="every loop to pass through a relay, whose contacts move a tick later",
        mend="put a relay's coil and contact into the loop",
    ),
)
