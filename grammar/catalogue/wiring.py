"""Wiring: terminals, channels, and where each wire leads."""

from __future__ import annotations

from rungproof.grammar.diagnosis import Entry, Sample

_YARD = """plant "Sample" every 5 ms
    reservoir r           holds 2000 L, starts at 1500 L
    tank t                upright cylinder, diameter 60 cm, height 110 cm, starts at 60 L
    pump p                from r into t, 0..12 L/min, lag 0.4 s
    level_transmitter LT1 above t at 135 cm, sees 25 cm..125 cm as 4..20 mA, on lost echo 20 mA
    push_button S1        make contacts 2
    push_button S2        make contact
    lamp P1
    supply P24            24 V

circuit "C" from P24
    rung motor
        S1.1
        => p.supply

"""
_HEAD = """controller "Sample" every 10 ms

tags
    s1_in   input   bool
    counts  input   int 0..65535
    speed   output  real V 0..10
    run     output  bool

rung run
    rising s1_in or run
    counts > 100
    => run
    => speed := 5 V

"""
_FEEDS = (
    "controller from P24",
    "inputs X1 from P24",
    "inputs X2 from P24",
    "outputs X3 from P24",
    "outputs X4 from P24",
)
_WIRES = {
    "s1_in": "s1_in at X1:1 from S2",
    "counts": "counts at X2:1 0..20 mA as 0..65535 from LT1",
    "speed": "speed at X3:1 0..10 V to p.speed",
    "run": "run at X4:1 to P1",
}


def _wiring(feeds: tuple[str, ...] = _FEEDS, head: str = _HEAD, more: tuple[str, ...] = (), **changed: str) -> Sample:
    """The sound wiring, with lines changed by tag; an empty line leaves a tag out."""
    lines = [*feeds, *(each for each in {**_WIRES, **changed}.values() if each), *more]
    return Sample({"sample.rung": _YARD + head + "wiring\n" + "".join(f"    {line}\n" for line in lines)})


ENTRIES: tuple[Entry, ...] = (
    Entry(
        "wiring-without-plant",
        "error",
        "There is wiring, and no plant that the wires could lead to.",
        (Sample({"sample.rung": _HEAD + "wiring\n    s1_in at X1:1\n"}),),
        expected="a `plant` block; without one, scenarios and the search set input tags directly",
    ),
    Entry(
        "wiring-without-controller",
        "error",
        "There is wiring, and no controller whose tags it could join.",
        (Sample({"sample.rung": _YARD + "wiring\n    s1_in at X1:1 from S2\n"}),),
        expected="a `controller` line and its tags",
    ),
    Entry(
        "wiring-missing",
        "error",
        "There are a controller and a plant, and no wiring joins them.",
        (Sample({"sample.rung": _YARD + _HEAD}),),
        expected="a `wiring` block: `s1_in at X1:1 from S2`",
    ),
    Entry(
        "fed-twice",
        "error",
        "{fed} is fed twice.",
        (_wiring((*_FEEDS, "inputs X1 from P24")),),
        mend="take one of the lines out",
    ),
    Entry(
        "module-unfed",
        "warning",
        "Nothing says where module {module} is fed from; it is taken to have power always.",
        (_wiring(_FEEDS[:-1]),),
        mend="add `{kind} {module} from P24`, with the supply that it has",
    ),
    Entry(
        "controller-unfed",
        "warning",
        "Nothing says where the controller is fed from; it is taken to have power, unless a story cuts it.",
        (_wiring(_FEEDS[1:]),),
        mend="add `controller from P24` to the wiring, with the supply that it has",
    ),
    Entry(
        "module-direction",
        "error",
        "`{tag}` is an {role}, and module {module} is declared as {what}.",
        (_wiring(run="run at X1:2 to P1"),),
        mend="use a terminal of a module of {role}s",
    ),
    Entry(
        "terminal-twice",
        "error",
        "Terminal {terminal} is taken.",
        (_wiring(counts="counts at X1:1 0..10 V as 0..65535 from LT1"),),
        expected="a terminal of its own for every wire",
    ),
    Entry(
        "tag-wired-twice",
        "error",
        "`{tag}` is wired twice: an input has one wire, an output one terminal.",
        (_wiring(more=("s1_in at X1:2 from S1.2",)),),
        mend="take one of the lines out; to join two contacts, use a rung or a circuit",
    ),
    Entry(
        "wired-tag-unknown",
        "error",
        "There is no tag `{tag}` to wire.",
        (_wiring(s1_in="s1_inn at X1:1 from S2"), _wiring(more=("horn at X4:2",))),
        expected="an input or output tag of the controller",
    ),
    Entry(
        "wired-tag-role",
        "error",
        "`{tag}` is a {role} tag, and has no terminal.",
        (
            _wiring(
                head=_HEAD.replace("    run     output", "    mark    memory  bool\n    run     output").replace(
                    "    => run\n", "    => run\n    => mark\n"
                ),
                more=("mark at X4:2",),
            ),
        ),
        expected="an input or output tag",
        mend="declare it as `output`, or wire another",
    ),
    Entry(
        "wire-direction",
        "error",
        "`{tag}` is an {role}: its wire leads `{word}` a part, not `{wrong}` one.",
        (_wiring(s1_in="s1_in at X1:1 to S2"), _wiring(run="run at X4:1 from P1")),
        mend="write `{word}`",
    ),
    Entry(
        "input-spare",
        "warning",
        "Nothing is wired to `{tag}`: it reads off, or 0, for ever.",
        (_wiring(s1_in="s1_in at X1:1"),),
        mend="add `from` and the contact or signal that it reads",
    ),
    Entry(
        "input-unwired",
        "error",
        "Input `{tag}` has no line in the wiring.",
        (_wiring(s1_in=""),),
        expected="a line such as `{tag} at X1:1 from S1`",
    ),
    Entry(
        "output-unwired",
        "warning",
        "Output `{tag}` has no line in the wiring: it moves nothing.",
        (_wiring(run=""),),
        mend="add a line such as `{tag} at X4:1 to K1`",
    ),
    Entry(
        "terminal-missing",
        "error",
        "A circuit reads the terminal of `{tag}`, which has no line in the wiring.",
        (
            Sample(
                {
                    "sample.rung": _YARD.replace("        S1.1\n", "        run\n")
                    + _HEAD
                    + "wiring\n"
                    + "".join(f"    {line}\n" for line in (*_FEEDS, _WIRES["s1_in"], _WIRES["counts"], _WIRES["speed"]))
                }
            ),
        ),
        mend="add a line such as `{tag} at X4:1`",
    ),
    Entry(
        "output-leads-nowhere",
        "warning",
        "No wire leads from terminal {terminal} of `{tag}`, and no circuit reads it.",
        (_wiring(run="run at X4:1"),),
        mend="add `to` and the part that it drives, or read it in a circuit",
    ),
    Entry(
        "wire-source-unknown",
        "error",
        "There is no part `{name}` that a wire could come from.",
        (_wiring(s1_in="s1_in at X1:1 from S22"),),
        expected="a contact, or a part with a signal",
    ),
    Entry(
        "wire-source-which",
        "error",
        "`{name}` does not say which of them the wire comes from.",
        (_wiring(s1_in="s1_in at X1:1 from S1"), _wiring(s1_in="s1_in at X1:1 from S2.pressed")),
        expected="{wanted}: {choice}",
        why="A wire carries a contact or a signal, never the physical truth.",
    ),
    Entry(
        "wire-source-none",
        "error",
        "A {kind} has no such thing as `{name}` that a wire could come from.",
        (_wiring(s1_in="s1_in at X1:1 from t"), _wiring(s1_in="s1_in at X1:1 from t.level")),
        expected="{wanted} of another part",
    ),
    Entry(
        "bool-from-signal",
        "error",
        "`{tag}` is on or off, and `{name}` is a signal.",
        (_wiring(s1_in="s1_in at X1:1 from LT1"),),
        expected="a contact",
        mend="declare the tag as `int` or `real`, or wire a contact",
    ),
    Entry(
        "number-from-contact",
        "error",
        "`{tag}` is a number, and `{name}` is a contact.",
        (_wiring(counts="counts at X2:1 0..20 mA as 0..65535 from S2"),),
        expected="a signal in V or mA",
        mend="declare the tag as `bool`, or wire a signal",
    ),
    Entry(
        "channel-on-bool",
        "error",
        "`{tag}` is on or off: it takes no analog channel.",
        (_wiring(s1_in="s1_in at X1:1 0..10 V from S2"),),
        mend="leave the range out",
    ),
    Entry(
        "channel-missing",
        "error",
        "`{tag}` is a number, and the line does not say over which channel.",
        (_wiring(speed="speed at X3:1 to p.speed"), _wiring(counts="counts at X2:1 from LT1")),
        expected="the range to which the channel is set, such as `{example}`",
    ),
    Entry(
        "channel-unit",
        "error",
        "A channel works in V or mA, and this one is given in {unit}.",
        (_wiring(speed="speed at X3:1 0..10 to p.speed"), _wiring(speed="speed at X3:1 0..10 cm to p.speed")),
        expected="a range such as `0..10 V` or `4..20 mA`",
    ),
    Entry(
        "channel-reversed",
        "error",
        "This range runs backwards, or has no width.",
        (_wiring(speed="speed at X3:1 10..0 V to p.speed"),),
        expected="the lower end first",
    ),
    Entry(
        "channel-against-part",
        "error",
        "The channel is set to {unit}, and the part at the other end of the wire works in {far}.",
        (_wiring(counts="counts at X2:1 0..10 V as 0..65535 from LT1"),),
        mend="set the channel to {far}, or use a part that works in {unit}",
    ),
    Entry(
        "channel-against-tag",
        "error",
        "`{tag}` is in {unit}, and its channel works in {far}.",
        (
            _wiring(
                head=_HEAD.replace("speed   output  real V 0..10", "speed   output  real % 0..100").replace(
                    "5 V", "5 %"
                )
            ),
        ),
        expected="a tag in {far}; or an `int` tag, with `as` and its counts",
        mend="declare the tag in {far}, and do the scaling in a rung",
    ),
    Entry(
        "channel-beyond-tag",
        "error",
        "The channel gives {channel}, and `{tag}` holds {range} only.",
        (
            _wiring(counts="counts at X2:1 0..20 mA as -32768..32767 from LT1"),
            _wiring(counts="counts at X2:1 0..20 mA as 0..70000 from LT1"),
        ),
        expected="a tag that holds everything its channel can give",
    ),
    Entry(
        "tag-beyond-channel",
        "error",
        "`{tag}` asks for {range}, and its channel gives {channel} only.",
        (_wiring(speed="speed at X3:1 0..5 V to p.speed"),),
        expected="a channel that gives everything its tag can ask for",
    ),
    Entry(
        "counts-missing",
        "error",
        "`{tag}` holds whole numbers, and the line does not say which counts the channel gives.",
        (_wiring(counts="counts at X2:1 0..20 mA from LT1"),),
        expected="`as` and the counts: `0..10 V as 0..65535`",
    ),
    Entry(
        "counts-on-real",
        "error",
        "`{tag}` is the signal itself: it has no counts.",
        (_wiring(speed="speed at X3:1 0..10 V as 0..65535 to p.speed"),),
        mend="leave `as` and what follows it out, or declare the tag as `int`",
    ),
    Entry(
        "counts-not-whole",
        "error",
        "Counts are whole numbers.",
        (_wiring(counts="counts at X2:1 0..20 mA as 0..1.5 from LT1"),),
    ),
)
