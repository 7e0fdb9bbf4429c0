"""Hazards, requirements and assumptions."""

from __future__ import annotations

from rungproof.grammar.diagnosis import Entry, Sample

_HEAD = """controller "Sample" every 10 ms

tags
    start_pb  input      bool
    stop_ok   input      bool
    running   memory     bool
    pump      output     bool

rung run
    rising start_pb or running
    stop_ok
    => running
    => pump

"""


def _sample(text: str) -> Sample:
    return Sample({"sample.rung": _HEAD + text})


ENTRIES: tuple[Entry, ...] = (
    Entry(
        "unknown-in-project",
        "error",
        "Nothing in this project bears the name `{name}`.",
        (
            _sample('requirement R1 "A"\n    never pumb and not stop_ok\n'),
            _sample('scenario "A"\n    expect header.level < 3 cm\n'),
        ),
        expected="a tag, a stage, a contact, or what a part shows, such as `header.level`",
    ),
    Entry(
        "cannot-stand-here",
        "error",
        "`{name}` cannot stand here: {reason}.",
        (
            Sample(
                {
                    "sample.rung": 'plant "Sample" every 5 ms\n    push_button S1   make contacts 2\n\n'
                    'requirement R1 "A"\n    never S1\n'
                }
            ),
        ),
    ),
    Entry(
        "hazard-unknown",
        "error",
        "There is no hazard `{name}`.",
        (_sample('hazard H1 "It moves"\n\nrequirement R1 "A" against H1, H11\n    never pump and not stop_ok\n'),),
        expected="the name of a `hazard` block",
        mend='add `hazard {name} "What can happen"`',
    ),
    Entry(
        "hazard-unguarded",
        "warning",
        "No requirement stands against hazard {name}.",
        (_sample('hazard H1 "It moves"\n'),),
        mend="add `against {name}` to a requirement that guards it, or write one",
    ),
    Entry(
        "requirement-reads-nothing",
        "error",
        "Requirement {name} reads nothing that can change in a run: it would say nothing.",
        (
            _sample('requirement R1 "A"\n    never off\n'),
            Sample(
                {
                    "sample.rung": _HEAD.replace("\n\nrung", "\n    target    parameter  real L 100..180 = 150\n\nrung")
                    + 'requirement R1 "A"\n    always target > 99 L\n'
                }
            ),
        ),
        expected="a condition on tags, contacts or the plant",
    ),
    Entry(
        "event-not-edge",
        "error",
        "`at most` counts events, and this is a state that lasts.",
        (_sample('requirement R1 "A"\n    at most 3 not pump in any 1 h\n'),),
        expected="an edge: `rising pump`, `falling pump`",
        mend="write `rising` or `falling` before it",
    ),
    Entry(
        "at-most-count",
        "error",
        "`{written}` is no number of events.",
        (
            _sample('requirement R1 "A"\n    at most 0 rising pump in any 1 h\n'),
            _sample('requirement R1 "A"\n    at most 1.5 rising pump in any 1 h\n'),
        ),
        expected="a whole number, 1 or more",
        mend="for none at all, write `never rising ...`",
    ),
    Entry(
        "outputs-free-without-plant",
        "error",
        "Requirement {name} leaves the outputs free, and there is no plant: nothing would be left to look at.",
        (_sample('requirement R1 "A"\n    with outputs free\n    never pump\n'),),
        mend="add the plant and its circuits, or take the line out",
    ),
    Entry(
        "fault-without-plant",
        "warning",
        "Requirement {name} counts on faults, and without a plant there are only the controller's own: a stop, a hang, "
        "a late scan, memory lost.",
        (_sample('requirement R1 "A"\n    even with any one fault\n    never pump and not stop_ok\n'),),
        mend="describe the plant, or take the line out: without a plant the inputs do anything at all already",
    ),
    Entry(
        "assumes-own-doing",
        "error",
        "An assumption speaks of the world, and `{name}` is the program's: {what}.",
        (_sample('assume "A"\n    not pump\n'), _sample('assume "A"\n    not running\n')),
        expected="a condition on inputs, disturbances or the plant",
        mend="make it a `requirement`: that is to be shown, not taken for granted",
    ),
    Entry(
        "assumption-reads-nothing",
        "error",
        "This assumption reads nothing that can change in a run.",
        (_sample('assume "A"\n    on\n'),),
        expected="a condition on inputs, disturbances or the plant",
    ),
)
