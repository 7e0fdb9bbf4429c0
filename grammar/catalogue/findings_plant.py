"""Findings about plant and wiring: what a colleague would say of a project that can run."""

from __future__ import annotations

from rungproof.grammar.diagnosis import Entry, Sample

_CONTROLLER = """controller "Sample" every 10 ms

tags
    level_counts  input    int 0..65535
    start_pb      input    bool
    stop_ok       input    bool
    distance      memory   real cm -100..300
    fill          output   bool  on stop off

rung distance
    => distance := scale(level_counts, 13107..65535, 25 cm..125 cm)

rung fill
    rising start_pb or fill
    distance > 60 cm
    stop_ok
    => fill

"""
_PLANT = """plant "Sample" every 5 ms
    reservoir r            holds 2000 L, starts at 1500 L
    tank t                 upright cylinder, diameter 60 cm, height 110 cm, starts at 60 L
    pump p                 from r into t, 0..12 L/min, fixed speed
    level_transmitter LT1  above t at 135 cm, sees 25 cm..125 cm as 4..20 mA, on lost echo 20 mA, every 100 ms
    push_button S1         make contact
    push_button S2         break contact
    float_switch LS1       in t, contact opens on rise at 95 cm, closes on fall at 92 cm
    relay K1               pulls in 20 ms, drops out 20 ms, make contact
    supply P24             24 V

circuit "C" from P24
    rung supply_cut
        LS1
        => K1
    rung motor
        K1.1
        fill
        => p.supply

"""
_WIRING = """wiring
    controller from P24
    inputs X1 from P24
    inputs X2 from P24
    outputs X4 from P24
    level_counts  at X2:1   0..20 mA as 0..65535   from LT1
    start_pb      at X1:1   from S1
    stop_ok       at X1:2   from S2
    fill          at X4:1
"""

#: The sound project that the samples spoil, one thing at a time: of itself nothing is to be said.
SOUND = Sample({"sample.rung": _CONTROLLER + _PLANT + _WIRING})


def _spoilt(*changes: tuple[str, str]) -> Sample:
    text = SOUND.files["sample.rung"]
    for old, new in changes:
        if text.count(old) != 1:
            raise ValueError(f"the sample holds {old!r} {text.count(old)} times")
        text = text.replace(old, new)
    return Sample({"sample.rung": text})


def _hazard(safe_state: str) -> Sample:
    told = f'\n\nhazard H1 "It overflows" safe state {safe_state}\n\n'
    told += 'requirement R1 "A" against H1\n    never fill and not stop_ok\n'
    return _spoilt(("    fill          at X4:1\n", f"    fill          at X4:1{told}"))


#: A stop device with two channels in the sound project, each with a contact of its own.
TWO_CHANNELS = (
    (
        "    relay K1 ",
        "    emergency_stop S3      latching, break contacts 2\n"
        "    safety_module K9       automatic reset, make contacts 2\n    relay K1 ",
    ),
    (
        "    rung motor\n",
        "    rung first_channel\n        S3.1\n        => K9.channel_1\n"
        "    rung second_channel\n        S3.2\n        => K9.channel_2\n"
        "    rung fed\n        => K9.supply\n        => K9.read_back\n"
        "    rung motor\n        K9.1\n",
    ),
)

ENTRIES: tuple[Entry, ...] = (
    Entry(
        "scaling-disagrees",
        "error",
        "`{tag}` comes to {shown} where {words} is {true}, at {share} of the span of {part}.",
        (
            _spoilt(("13107..65535", "0..65535")),
            _spoilt(("13107..65535", "13107..32767")),
            _spoilt(
                ("above t at 135 cm", "above t at 145 cm"),
                ("cm -100..300", "cm -100..300\n    level  memory  real cm -200..300"),
                ("rung fill", "rung level\n    => level := 135 cm - distance\n\nrung fill"),
                ("distance > 60 cm", "level < 75 cm"),
            ),
            _spoilt(
                ("cm -100..300", "cm -100..300\n    volume  memory  real L -9999..9999"),
                ("distance > 60 cm", "volume < 200 L"),
                ("rung fill", "rung volume\n    => volume := 2500 cm2 * (135 cm - distance)\n\nrung fill"),
            ),
        ),
        expected="what mounting, sensor and channel make of it, at 0, 25, 50, 75 and 100 %",
        mend="take counts at both ends from the channel's line, and distance at both ends from the sensor's",
    ),
    Entry(
        "channel-narrower-than-signal",
        "error",
        "The channel takes {channel}, and {name} sends {signal}: part of it is cut off.",
        (_spoilt(("0..20 mA as", "0..10 mA as")),),
        expected="a channel that takes in the whole signal",
        mend="set the channel's range to that of the signal",
    ),
    Entry(
        "channel-wider-than-signal",
        "warning",
        "The channel takes {channel}, and {name} sends {signal} only.",
        (_spoilt(("0..20 mA as", "0..40 mA as"), ("13107..65535", "6554..32768")),),
        expected="a channel set to the range of its signal",
        mend="see how the channel's jumpers are set",
    ),
    Entry(
        "channel-against-drive",
        "warning",
        "The channel gives {channel}, and `{name}` takes {drive}.",
        (
            _spoilt(
                (", fixed speed", ""),
                (
                    "    fill          output",
                    "    speed         output   real V 0..5  on stop 0 V\n    fill          output",
                ),
                ("rung fill", "rung speed\n    => speed := 5 V\n\nrung fill"),
                (
                    "    fill          at X4:1",
                    "    outputs X3 from P24\n    speed at X3:1 0..5 V to p.speed\n    fill at X4:1",
                ),
            ),
        ),
        expected="a channel set to the range of what it drives",
    ),
    Entry(
        "loss-looks-like-reading",
        "warning",
        "A broken wire to `{tag}` cannot be told from a reading: the program then believes {shown}{way}.",
        (
            _spoilt(("as 4..20 mA", "as 0..20 mA"), ("13107..65535", "0..65535")),
            _spoilt(("0..20 mA as", "4..20 mA as"), ("13107..65535", "0..65535")),
        ),
        mend="use a signal that never is 0 while it is whole, such as 4..20 mA into a channel from 0 mA, "
        "and let the program trip on a reading below it",
        why="A live zero shows its loss (IEC 60381-1; NE 43 for the values of failure).",
    ),
    Entry(
        "broken-wire-lets-run",
        "warning",
        "If the wire of `{tag}` breaks, `not {tag}` conducts for ever, and `{output}` is no longer stopped by it.",
        (_spoilt(("    stop_ok\n", "    not stop_ok\n")),),
        expected="a break contact, closed while healthy, and read plain ({source} is a {kind} contact)",
        mend="wire a break contact and write `{tag}` without `not`, both in one change: either alone inverts the stop",
    ),
    Entry(
        "broken-wire-hides-trip",
        "warning",
        "If the wire of `{tag}` breaks, it never trips: `{output}` goes on.",
        (
            _spoilt(
                (
                    "    distance      memory",
                    "    tripped       memory   bool\n    too_high      input    bool\n    distance      memory",
                ),
                (
                    "    => fill",
                    "    not tripped\n    => fill\n\nrung trip\n    too_high\n    => set tripped\n\n"
                    "rung clear\n    rising start_pb\n    => reset tripped",
                ),
                ("    relay K1 ", "    level_probe B1         in t at 90 cm, make contact\n    relay K1 "),
                ("    stop_ok       at X1:2", "    too_high      at X1:3   from B1\n    stop_ok       at X1:2"),
            ),
        ),
        expected="a break contact, closed while healthy, whose opening trips ({source} is a {kind} contact)",
        mend="wire a break contact and trip on `not {tag}`, both in one change: either alone inverts the trip",
    ),
    Entry(
        "estop-program-only",
        "warning",
        "The emergency stop {name} {how}: no hardwired path to anything that moves leads through it.",
        (
            _spoilt(
                ("push_button S2         break contact", "emergency_stop S2      latching, break contact"),
            ),
        ),
        expected="a stop that acts without the program, also when the program has failed",
        mend="put a break contact of {name} into the hardwired path of what moves",
        why="Emergency stop belongs in hardwired, rated equipment (IEC 60204-1, 9.2; ISO 13850; from memory).",
    ),
    Entry(
        "safe-state-of-tags",
        "warning",
        "The safe state of hazard {name} speaks of {tags}: a tag moves nothing.",
        (_hazard("not fill"),),
        expected="what the machine must do, such as `not M1.energised`: what stands against it hangs on that",
        mend="name the part that must stand still, and what it shows",
    ),
    Entry(
        "safe-state-undriven",
        "warning",
        "Nothing switches what the safe state of hazard {name} speaks of: {parts}.",
        (_hazard("t.level < 100 cm"),),
        expected="what the machine must do, such as `not M1.energised`: what stands against it hangs on that",
        mend="name the part whose standing still leads there, and what it shows",
    ),
    Entry(
        "hazard-program-alone",
        "warning",
        "Against hazard {name} only the program stands: nothing but {tags} decides over {part}.",
        (
            _spoilt(
                ("        K1.1\n", ""),
                (
                    "    fill          at X4:1\n",
                    '    fill          at X4:1\n\nhazard H1 "It overflows" safe state not p.energised\n\n'
                    'requirement R1 "A" against H1\n    never fill and not stop_ok\n',
                ),
            ),
        ),
        expected="a contact in the hardwired path that ends it without the program",
        mend="put a contact of the device that senses this danger (limiter, float, guard) in the hardwired path",
        why="Emergency stop, guarding, two-hand control and overfill protection belong in hardwired, rated equipment.",
    ),
    Entry(
        "contact-shared",
        "warning",
        "Contact {contact} is wired twice: it would join two circuits into one.",
        (_spoilt(("from S2", "from K1.1")),),
        expected="a contact of its own for every circuit and every input",
        mend="give the part one contact more, and use that",
    ),
    Entry(
        "contact-twice",
        "warning",
        "Contact {contact} stands twice, behind different things: it joins two points, and power finds a way round.",
        (_spoilt(("        LS1\n        => K1\n", "        LS1\n        K1.1\n        => K1\n")),),
        expected="a contact of its own in each place, or the same path before it in both",
        mend="give the part one contact more, and use that",
    ),
    Entry(
        "channels-share-contact",
        "warning",
        "{channels} of {part} both lead through {shared}: two channels that one failure takes together are one.",
        (
            _spoilt(*TWO_CHANNELS, ("        S3.2\n", "        S3.1\n")),
            _spoilt(
                *TWO_CHANNELS,
                ("    relay K1 ", "    relay K2 pulls in 20 ms, drops out 20 ms, make contacts 2\n    relay K1 "),
                ("        => K9.channel_1\n", "        => K2\n    rung on\n        K2.1\n        => K9.channel_1\n"),
                ("        S3.2\n", "        K2.2\n"),
            ),
            _spoilt(
                *TWO_CHANNELS,
                ("        S3.1\n", "        S3.1\n        fill\n"),
                ("        S3.2\n", "        S3.2\n        fill\n"),
            ),
        ),
        expected="a contact of its own in each channel, from the device's sensor or button up to the device",
        mend="give the part one contact more, and lead the other channel through that",
        why="One welded or bridged contact then holds both channels closed, and they agree (ISO 13849-1; from memory).",
    ),
    Entry(
        "channel-never-opens",
        "warning",
        "Nothing opens {channel} of {part}: there is no contact between it and its supply.",
        (_spoilt(*TWO_CHANNELS, ("        S3.2\n", "")),),
        expected="a contact of its own in each channel",
        mend="lead the channel through a second contact of what opens the first one",
    ),
    Entry(
        "layers-share",
        "note",
        'The program and circuit "{name}" both lean on {shared}: one failure there takes both.',
        (
            _spoilt(
                ("push_button S2         break contact", "push_button S2         break contacts 2"),
                ("from S2", "from S2.1"),
                ("        LS1\n", "        LS1\n        S2.2\n"),
            ),
        ),
        expected="layers that share no device, no wire and no supply, where they are to count as two",
    ),
)
