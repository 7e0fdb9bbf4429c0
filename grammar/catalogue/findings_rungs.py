"""Findings about rungs alone: the files run, and a colleague would still say something."""

from __future__ import annotations

from rungproof.grammar.diagnosis import Entry, Sample

_HEAD = """controller "Sample" every 10 ms

tags
    start_pb  input   bool
    stop_ok   input   bool
    reset_pb  input   bool
    lamp      output  bool
"""


def _sample(tags: str, rungs: str) -> Sample:
    """A program whose inputs are all read, with tags and rungs of its own."""
    first = "\nrung shown\n    rising start_pb or rising reset_pb or not stop_ok\n    => lamp\n"
    return Sample({"sample.rung": _HEAD + tags + first + rungs})


def _duct(on_stop: str, run: str) -> Sample:
    """A fan on a supply, so that `motor` is known to move something."""
    return Sample(
        {
            "sample.rung": f"""controller "Sample" every 10 ms

tags
    start_pb  input   bool
    stop_ok   input   bool
    motor     output  bool  on stop {on_stop}

rung run
    {run}
    stop_ok
    => motor

plant "Duct" every 5 ms
    fan F1         runs up 2 s, runs down 4 s, airflow contact closes at 60 %, opens at 40 %
    push_button S1 make contact
    push_button S2 break contact
    supply P24     24 V

circuit "Motor" from P24
    rung motor
        motor
        => F1.supply

wiring
    controller from P24
    inputs X1  from P24
    outputs X2 from P24
    start_pb   at X1:1 from S1
    stop_ok    at X1:2 from S2
    motor      at X2:1
"""
        }
    )


_COILS = (
    Entry(
        "two-coils",
        "error",
        "`{name}` has two coils: the one that stands last wins in every scan, and the other one does nothing.",
        (_sample("", "\nrung more\n    stop_ok\n    => lamp\n"),),
        mend="join both paths with `or` in one rung, then put every stop and interlock of both rungs "
        "in series with the whole group",
    ),
    Entry(
        "coil-and-latch",
        "error",
        "`{name}` has a coil and is also set or reset: the coil writes it in every scan, so nothing stays latched.",
        (_sample("", "\nrung more\n    rising start_pb\n    => set lamp\n"),),
        mend="drive it by the coil alone, or by `set` and `reset` alone",
    ),
    Entry(
        "assigned-twice",
        "warning",
        "`{name}` is assigned in two places that can both be powered in one scan: the later one wins.",
        (
            _sample(
                "    speed  output  real V 0..10\n",
                "\nrung fast\n    start_pb\n    => speed := 9 V\n\nrung slow\n    stop_ok\n    => speed := 2 V\n",
            ),
        ),
        mend="let one path exclude the other, as `running` and `not running` do",
    ),
    Entry(
        "trip-without-reset",
        "error",
        "`{name}` is retained and set, and no rung can reset it: once on, it stays on through every power cut.",
        (
            _sample(
                "    trip   memory  bool  retained\n    siren  output  bool\n",
                "\nrung trip\n    not stop_ok\n    => set trip\n\nrung trip_siren\n    trip\n    => siren\n",
            ),
        ),
        mend="add a rung that resets it, by hand and only once the cause has gone",
    ),
    Entry(
        "set-without-reset",
        "warning",
        "`{name}` is set, and no rung can reset it: only a power cut does.",
        (_sample("    siren  output  bool\n", "\nrung on\n    rising start_pb\n    => set siren\n"),),
        mend="add a rung with `=> reset {name}`",
    ),
    Entry(
        "reset-without-set",
        "warning",
        "`{name}` is reset, but nothing ever sets it.",
        (_sample("    siren  output  bool\n", "\nrung off\n    rising start_pb\n    => reset siren\n"),),
        mend="add a rung with `=> set {name}`, or leave the reset out",
    ),
    Entry(
        "reset-beats-live-cause",
        "warning",
        "The reset of `{name}` stands below its set and does not ask whether the cause has gone: "
        "pressed while the cause is live, it clears the trip.",
        (
            _sample(
                "    trip   memory  bool  retained\n    siren  output  bool\n",
                "\nrung trip\n    not stop_ok\n    => set trip\n"
                "\nrung trip_reset\n    rising reset_pb\n    => reset trip\n"
                "\nrung trip_siren\n    trip\n    => siren\n",
            ),
        ),
        mend="put the healthy cause in series with the reset button, or the reset above the set, "
        "and read the button with `rising`",
    ),
)

_USAGE = (
    Entry(
        "never-written",
        "warning",
        "No rung writes `{name}`, {fate}.",
        (
            _sample("    siren  output  bool\n", ""),
            _sample("    spare  memory  int 0..9\n", ""),
        ),
        mend="write the rung that drives it, or take the tag out",
    ),
    Entry(
        "never-read",
        "warning",
        "Nothing reads `{name}` ({role}).",
        (
            _sample("    guard_ok  input  bool\n", ""),
            _sample("    pressed  memory  bool\n", "\nrung pressed\n    start_pb\n    => pressed\n"),
        ),
        mend="use it where it was meant to be used, or take the tag out",
    ),
    Entry(
        "total-lost",
        "warning",
        "`{name}` counts from nothing after a power cut, while `{kept}`, which it drives, was meant to survive one.",
        (
            _sample(
                "    full   memory  bool  retained\n    siren  output  bool\n",
                "\nrung count\n    start_pb\n    count-up 5 as items clear by reset_pb\n    => full\n"
                "\nrung full\n    full\n    => siren\n",
            ),
        ),
        mend="write `retained` at the end of the stage's line",
    ),
    Entry(
        "moves-when-stopped",
        "warning",
        "`{name}` moves something and holds its last state when the controller is stopped.",
        (_duct("hold", "rising start_pb or motor"),),
        mend="write `on stop off`, unless stopping is the more dangerous thing here",
    ),
)

_FRESH = (
    "where coming on by itself is dangerous, let a fresh press start it, as `rising start_pb or running` does, "
    "and do not retain the run; a two-hand or hold-to-run control asks for all hands off first, never a seal-in; "
    "where standing still is the danger, say so in a requirement"
)

_CONTACTS = (
    Entry(
        "contact-never-conducts",
        "warning",
        "This can never conduct: {why}.",
        (
            _sample(
                "    level  input  real cm 0..100\n    siren  output  bool\n",
                "\nrung siren\n    level > 120 cm\n    => siren\n",
            ),
            _sample(
                "    siren  output  bool\n",
                "\nrung siren\n    (start_pb and reset_pb) or stop_ok\n    not reset_pb\n    => siren\n",
            ),
        ),
        mend="correct it, or take it out: it reads as if it did something",
    ),
    Entry(
        "rung-never-drives",
        "warning",
        "Power can never pass here: what stands above in rung `{name}` rules it out.",
        (
            _sample("    siren  output  bool\n", "\nrung siren\n    start_pb\n    not start_pb\n    => siren\n"),
            _sample(
                "    level  input  real cm 0..100\n    siren  output  bool\n",
                "\nrung siren\n    level > 80 cm\n    stop_ok\n    level < 20 cm\n    => siren\n",
            ),
        ),
        mend="one of the two contacts is probably the wrong one, or wrongly negated: find out which",
    ),
    Entry(
        "seal-in-goes-round",
        "warning",
        "Only the start asks for `{name}`: once `{sealed}` holds itself, nothing here looks at it any more.",
        (
            _sample(
                "    guard_ok  input   bool\n    motor     output  bool\n",
                "\nrung run\n    (rising start_pb and guard_ok) or motor\n    stop_ok\n    => motor\n",
            ),
        ),
        mend="put `{name}` on a line of its own, in series with both branches, if it must hold all the time",
    ),
    Entry(
        "on-at-power-up",
        "warning",
        "`{name}` moves something and can come on in the first scan after power returns: {cause}.",
        (_duct("off", "start_pb or motor"),),
        mend=_FRESH,
    ),
    Entry(
        "may-move-at-power-up",
        "note",
        "`{name}` can come on in the first scan after power returns: {cause}. "
        "Without a plant nobody can tell whether it moves anything.",
        (_sample("    valve  output  bool\n", "\nrung valve\n    stop_ok\n    => valve\n"),),
        mend=_FRESH,
    ),
)

_NUMBERS = (
    Entry(
        "leaves-range",
        "warning",
        "`{name}` is kept within {range}, but this can be {found}: what is beyond is cut off at the limit.",
        (
            _sample(
                "    volume  memory  real L 0..100\n    level   input   real cm 0..90\n    siren   output  bool\n",
                "\nrung volume\n    => volume := 2827 cm2 * level\n\nrung siren\n    volume > 50 L\n    => siren\n",
            ),
            _sample(
                "    items  memory  int 0..9\n    siren  output  bool\n",
                "\nrung items\n    rising start_pb\n    => items := items + 1\n"
                "\nrung siren\n    items > 5\n    => siren\n",
            ),
        ),
        mend="widen the tag's range, correct the expression, or say that cutting off is meant: `min(max(...), ...)`",
    ),
    Entry(
        "divisor-can-be-zero",
        "warning",
        "This can be 0, and a division by 0 gives the largest number there is.",
        (
            _sample(
                "    volume  input   real L 0..100\n    flow    input   real L/min 0..10\n"
                "    left    memory  real min 0..60\n    siren   output  bool\n",
                "\nrung left\n    => left := volume / flow\n\nrung siren\n    left > 5 min\n    => siren\n",
            ),
        ),
        mend="ask first: a line `... > 0` above it, or `select(... > 0, a / ..., b)`",
    ),
    Entry(
        "division-by-zero",
        "error",
        "This is always 0, and a division by 0 gives the largest number there is.",
        (
            _sample(
                "    level  input   real cm 0..100\n    ratio  memory  real cm 0..100\n    siren  output  bool\n",
                "\nrung ratio\n    => ratio := level / 0\n\nrung siren\n    ratio > 5 cm\n    => siren\n",
            ),
        ),
    ),
    Entry(
        "root-of-negative",
        "warning",
        "This can be as low as {low}, and the square root of anything negative is taken as 0.",
        (
            _sample(
                "    head   input   real -5..5\n    flow   memory  real 0..3\n    siren  output  bool\n",
                "\nrung flow\n    => flow := sqrt(head)\n\nrung siren\n    flow > 1\n    => siren\n",
            ),
        ),
        mend="if that is meant, say so: `sqrt(max(0, ...))`",
    ),
)

ENTRIES: tuple[Entry, ...] = (*_COILS, *_USAGE, *_CONTACTS, *_NUMBERS)
