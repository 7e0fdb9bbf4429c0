"""Scenarios: what a story can set, when, and what it expects."""

from __future__ import annotations

from rungproof.grammar.diagnosis import Entry, Sample

_TAGS = """controller "Sample" every 10 ms

tags
    start_pb  input      bool
    level     input      real cm 0..100
    running   memory     bool
    pump      output     bool
    target    parameter  real cm 10..60 = 50

rung run
    rising start_pb or running
    level < target
    => running
    => pump

"""
_PLANT = """plant "Sample" every 5 ms
    reservoir cistern  holds 2000 L, starts at 1500 L
    tank header        upright cylinder, diameter 60 cm, height 110 cm, starts at 60 L
    outlet drip        from header into cistern, orifice 8 mm, coefficient 0.61, opening 0..100 %
    push_button S1     make contacts 2
    relay K1           pulls in 20 ms, drops out 20 ms, make contact
    supply P24         24 V

circuit "C" from P24
    rung one
        S1.1
        => K1

"""
_JOINED = """controller "Sample" every 20 ms

tags
    start_pb  input   bool
    run       output  bool

rung run
    rising start_pb
    => run

wiring
    controller from P24
    inputs X1 from P24
    outputs X2 from P24
    start_pb at X1:1 from S1.2
    run at X2:1 to K1

"""


_WIRED = _PLANT[: _PLANT.index("circuit")] + _JOINED


def _story(head: str, *lines: str) -> Sample:
    return Sample({"sample.rung": head + 'scenario "A"\n' + "".join(f"    {line}\n" for line in lines)})


def _tags(*lines: str) -> Sample:
    return _story(_TAGS, *lines, "expect running or not running")


def _plant(*lines: str) -> Sample:
    return _story(_PLANT, *lines, "expect K1.pulled_in or not K1.pulled_in")


def _keyed(*lines: str) -> Sample:
    switch = "    key_switch S7      positions 2\n    relay K1 "
    return _story(_PLANT.replace("    relay K1 ", switch), *lines, "expect K1.pulled_in or not K1.pulled_in")


def _joined(*lines: str) -> Sample:
    return _story(_WIRED, *lines, "expect not run")


ENTRIES: tuple[Entry, ...] = (
    Entry(
        "story-target-unknown",
        "error",
        "There is no `{name}` to {action}.",
        (_tags("at 0 s press strt_pb"), _plant("at 0 s press S9"), _plant("at 0 s fault X9:1 wire_broken")),
        expected="something that people, the world or a fault can change",
    ),
    Entry(
        "not-settable",
        "error",
        "`{name}` cannot be set: it is what comes out.",
        (_plant("at 0 s set header.level 50 cm"), _plant("at 0 s set P24.live off")),
        expected="an input tag, a person's doing or a disturbance; {choice}",
    ),
    Entry(
        "not-pressable",
        "error",
        "`{name}` cannot be pressed or released: {what}.",
        (_plant("at 0 s press K1"), _tags("at 0 s press level")),
        expected="a button, or a bool input of a program without a plant",
    ),
    Entry(
        "sets-own-doing",
        "error",
        "`{name}` is the program's own {role} tag: a story cannot set it.",
        (_tags("at 0 s set running on"),),
        expected="an input tag",
        mend="bring it about through the inputs",
    ),
    Entry(
        "sets-wired-input",
        "error",
        "`{name}` is wired: the plant sets it.",
        (_joined("at 0 s press start_pb"),),
        mend="act on the part that it is wired from",
    ),
    Entry(
        "parameter-in-story",
        "error",
        "`{name}` is a parameter: it is constant in a run.",
        (_tags("at 1 s set target 20 cm"),),
        mend="write a line `parameter {name} = ...` without a time",
    ),
    Entry(
        "parameter-unknown",
        "error",
        "There is no parameter `{name}`.",
        (_tags("parameter targt = 20 cm"), _tags("parameter pump = on")),
        expected="a tag of the role `parameter`",
    ),
    Entry(
        "value-kind",
        "error",
        "`{name}` takes {wants}.",
        (_tags("at 0 s set start_pb 1"), _tags("at 0 s set level on")),
    ),
    Entry(
        "value-out-of-range",
        "error",
        "`{name}` lies within {allowed}.",
        (_tags("at 0 s set level 120 cm"), _tags("parameter target = 90 cm"), _plant("at 0 s set drip.opening 120 %")),
    ),
    Entry(
        "turned-without-key",
        "warning",
        "This turns nothing: the key of {name} is not in.",
        (
            _keyed("at 0 s set S7.turned_to 2"),
            _keyed("at 0 s press S7.key_in for 1 s", "at 2 s set S7.turned_to 2"),
        ),
        expected="the key in, at this instant or before the switch is turned again",
        mend="write `at TIME set {name}.key_in on` before it, or at the same time",
    ),
    Entry(
        "fault-unknown",
        "error",
        "`{name}` has no fault `{fault}`.",
        (
            _plant("at 0 s fault S1 tapd"),
            _plant("at 0 s fault header bent"),
            _tags("at 0 s fault controller hangs"),
            _joined("at 0 s fault X1:1 swaped"),
            Sample({"sample.rung": _WIRED + 'exclude "The card is keyed"\n    fault X2:1 range_wrong\n'}),
        ),
        expected="one of {known}",
    ),
    Entry(
        "excludes-nothing",
        "error",
        "Nothing here has a fault `{fault}`.",
        (Sample({"sample.rung": _PLANT + 'exclude "Never seen"\n    fault any bent\n'}),),
        expected="a fault that some part, contact, terminal or the controller has",
    ),
    Entry(
        "excluded-twice",
        "warning",
        "`{name}` is left out of account twice.",
        (Sample({"sample.rung": _PLANT + 'exclude "A"\n    fault K1 slow\n    fault K1 slow\n'}),),
        mend="take one of the lines out",
    ),
    Entry(
        "fault-of-contact",
        "error",
        "`{fault}` is a fault of a contact, and `{name}` has several.",
        (_plant("at 0 s fault S1 welded"),),
        expected="one of {choice}",
    ),
    Entry(
        "cut-no-supply",
        "error",
        "`{name}` is a {kind}: only a supply or the controller can be cut.",
        (_plant("at 0 s cut K1"),),
        expected="`cut P24`, `cut controller`",
    ),
    Entry(
        "cut-unseen",
        "warning",
        "This cut of {lasting} ms may fall between two samples and do nothing.",
        (_tags("at 12 ms cut controller for 5 ms"),),
        expected="a cut of {scan} ms or more: power is looked at where scans begin and end",
        why="Cuts inside a scan are not modelled.",
    ),
    Entry(
        "story-without-controller",
        "error",
        "There is no controller to {action}.",
        (_plant("at 0 s stop controller"), _plant("at 0 s cut controller")),
    ),
    Entry(
        "scans-without-controller",
        "error",
        "There is no controller, so there are no scans.",
        (_plant("scans 10 ms, 20 ms"),),
        mend="take the line out",
    ),
    Entry(
        "scan-outside-range",
        "error",
        "A scan of {length} ms is not one of this controller's.",
        (_tags("scans 10 ms, 12 ms"),),
        expected="the scan time that its line declares: {declared}",
        mend="write `every A..B ms` on the controller's line to let its scan time vary",
    ),
    Entry(
        "scenario-said-twice",
        "error",
        "`{word}` is said twice in this scenario.",
        (_tags("ends at 1 s", "ends at 2 s"), _tags("parameter target = 20 cm", "parameter target = 30 cm")),
        mend="take one of the lines out",
    ),
    Entry(
        "time-off-tick",
        "warning",
        "The plant moves every {tick} ms: {happens}{others}.",
        (
            _plant("at 7 ms press S1"),
            _plant("at 7 ms press S1", "at 21 ms press S1"),
            _plant("at 10 ms press S1 for 7 ms"),
            _plant("at 10 ms press S1", "expect K1.pulled_in within 33 ms"),
        ),
        mend="write {later} ms",
    ),
    Entry(
        "time-goes-back",
        "warning",
        "This happens at {at} ms, before the line above it, which happens at {before} ms.",
        (_tags("at 2 s press start_pb", "at 1 s release start_pb"), _plant("at 5 s press S1", "at 10 ms release S1")),
        expected="events in the order in which they happen; they are run in order of time, whatever the text says",
        mend="correct one of the two times, or move the line up",
    ),
    Entry(
        "ends-before-event",
        "warning",
        "The scenario ends at {ends} ms, before its last event at {last} ms.",
        (_tags("at 2 s press start_pb", "ends at 1 s"),),
        mend="end it later, or take the event out",
    ),
    Entry(
        "ends-before-expectation",
        "warning",
        "The scenario ends at {ends} ms; what it expects needs {needed} ms to be decided.",
        (_story(_TAGS, "at 2 s press start_pb", "ends at 3 s", "expect running within 5 s"),),
        mend="end it later, or leave the line `ends at` out",
    ),
    Entry(
        "expect-counts-later",
        "warning",
        "This counts from the last event of the scenario, at {last} ms, and not from the one above it, at {above} ms.",
        (_story(_TAGS, "at 1 s press start_pb", "expect running within 1 s", "at 5 s release start_pb"),),
        mend="write it below the last `at` line, or make a scenario of its own of what is above it",
    ),
    Entry(
        "scenario-expects-nothing",
        "note",
        "This scenario expects nothing: it shows a run and decides nothing.",
        (_story(_TAGS, "at 2 s press start_pb"),),
        mend="add an `expect` line",
    ),
)
