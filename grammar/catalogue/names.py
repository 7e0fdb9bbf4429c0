"""Names: unknown, taken, reserved, not readable where they stand."""

from __future__ import annotations

from rungproof.grammar.diagnosis import Entry, Sample

_HEAD = """controller "Sample" every 10 ms

tags
    start_pb  input   bool
    stop_ok   input   bool
    running   output  bool
"""

_RUN = """
rung run
    rising start_pb or running
    stop_ok
    => running
"""


def _sample(rest: str, head: str = _HEAD) -> Sample:
    return Sample({"sample.rung": head + rest})


ENTRIES: tuple[Entry, ...] = (
    Entry(
        "unknown-name",
        "error",
        "Nothing here bears the name `{name}`.",
        (
            _sample("\nrung run\n    rising start_pb or runing\n    stop_ok\n    => running\n"),
            _sample("\nrung run\n    rising start_pb\n    stop_ok\n    => lamp\n"),
        ),
        expected="a tag from a `tags` block, or a stage from a line such as `on-delay 5 s as hold`",
        mend="add a line for it under `tags`",
    ),
    Entry(
        "unknown-reading",
        "error",
        "`{owner}` shows no `{last}`.",
        (
            _sample("\nrung run\n    start_pb\n    on-delay 5 s as hold\n    hold.time > 1 s\n    => running\n"),
            _sample("\nrung run\n    start_pb\n    running.elapsed > 1 s\n    => running\n"),
        ),
        expected="{there}",
    ),
    Entry(
        "not-readable-here",
        "error",
        "`{name}` cannot be read here: {reason}.",
        (
            _sample(
                "\nrung run\n    start_pb\n    S1.pressed\n    => running\n"
                '\nplant "Bench" every 10 ms\n    push_button S1  make contact\n    lamp P1\n    supply P24  24 V\n'
                "\nwiring\n    controller from P24\n    inputs X1 from P24\n    outputs X2 from P24\n"
                "    start_pb at X1:1 from S1\n    stop_ok at X1:2 from S1\n    running at X2:1 to P1\n"
            ),
        ),
        mend="wire a sensor to an input tag and read the tag",
    ),
    Entry(
        "scanning-in-a-rung",
        "error",
        "`scanning` tells whether the controller scans, and a rung is solved only while it does.",
        (
            _sample("\nrung run\n    start_pb\n    scanning\n    => running\n"),
            _sample("\nrung run\n    start_pb\n    => running when not scanning\n"),
        ),
        expected="a tag, a stage or `power_up`; `scanning` is for requirements and expectations",
        mend="leave the line out: in a rung it would always be on",
    ),
    Entry(
        "name-taken",
        "error",
        "The name `{name}` {how}.",
        (
            _sample("    start_pb  memory  bool\n" + _RUN),
            _sample("    Start_PB  memory  bool\n" + _RUN),
            _sample("\nrung run\n    start_pb\n    on-delay 5 s as stop_ok\n    => running\n"),
        ),
        expected="tags, stages and named functions share one set of names, and letter case does not tell two apart",
        mend="give one of the two another name",
    ),
    Entry(
        "rung-name-taken",
        "error",
        "A rung named `{name}` stands already.",
        (_sample(_RUN + "\nrung run\n    stop_ok\n    => lamp\n", _HEAD + "    lamp  output  bool\n"),),
        mend="give one of the two another name: every output names the rung it speaks of",
    ),
    Entry(
        "reserved-name",
        "error",
        "`{name}` is a word of the language, so no {kind} can bear it.",
        (
            _sample("    Rate  memory  bool\n" + _RUN),
            _sample("\nrung run\n    start_pb\n    on-delay 5 s as Filter\n    => running\n"),
        ),
        mend="call it `{suggestion}`",
    ),
    Entry(
        "not-a-target",
        "error",
        "`{name}` cannot be driven by an output.",
        (
            _sample("\nrung run\n    start_pb\n    on-delay 5 s as hold\n    => running\n\nrung other\n    => hold\n"),
            _sample("\nrung run\n    start_pb\n    => power_up\n"),
        ),
        expected="an output or memory tag",
        mend="a stage is driven by its own rung; make a memory tag for anything else",
    ),
    Entry(
        "no-controller",
        "error",
        "Tags and rungs stand here, but no `controller` line says whose they are and how often they run.",
        (Sample({"sample.rung": "tags\n    start_pb  input  bool\n"}),),
        mend='write `controller "Name" every 20 ms` above them',
    ),
    Entry(
        "two-controllers",
        "error",
        "A second `controller` line.",
        (_sample('\ncontroller "Other" every 20 ms\n' + _RUN),),
        expected="one controller in one project",
        mend="keep one, or give each controller a folder of its own",
    ),
    Entry(
        "scan-time",
        "error",
        "This is no scan time.",
        (
            Sample({"sample.rung": 'controller "Sample" every 20 cm\n\ntags\n    a  input  bool\n'}),
            Sample({"sample.rung": 'controller "Sample" every 50..10 ms\n\ntags\n    a  input  bool\n'}),
            Sample({"sample.rung": 'controller "Sample" every 0.5 ms\n\ntags\n    a  input  bool\n'}),
        ),
        expected="whole milliseconds from 1 ms to 1 h, as in `every 20 ms`; or a range, shorter end first, as in "
        "`every 10..50 ms`",
    ),
)
