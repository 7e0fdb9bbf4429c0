"""Each kind of mistake on a small program: what is changed, and into what."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from rungproof.grammar import parse_text, to_text
from rungproof.grammar.catalogue import CATALOGUE
from rungproof.grammar.diagnosis import Reporter
from rungproof.grammar.tree import SourceFile
from rungproof.logic.mutants.generate import mutants_of
from rungproof.logic.mutants.mutant import Mutant

TAGS = """\
controller "Rig" every 10 ms

tags
    start_pb  input   bool
    stop_ok   input   bool
    guard_ok  input   bool
    level     input   int 0..100
    run       output  bool           on stop off
    lamp      output  bool           on stop off
    trip      memory  bool  retained
    speed     output  real V 0..10   on stop 0 V

"""


def mutants(rungs: str) -> tuple[Mutant, ...]:
    reporter = Reporter(CATALOGUE)
    tree = parse_text(TAGS + rungs, "rig.rung", reporter)
    assert not reporter.has_errors
    return mutants_of(tree.blocks, 10)


#: Rungs, the kind of mistake, and the changed lines that it must give, in the order of the file.
ROWS = [
    ("rung a\n    start_pb\n    => run\n", "make for break", ["not start_pb"]),
    ("rung a\n    not start_pb\n    => run\n", "make for break", ["start_pb"]),
    ("rung a\n    => not run\n", "make for break", ["=> run"]),
    ("rung a\n    rising start_pb\n    => run\n", "level for edge", ["start_pb"]),
    ("rung a\n    rising start_pb\n    => run\n", "other edge", ["falling start_pb"]),
    ("rung a\n    start_pb\n    => run\n", "edge for level", ["rising start_pb"]),
    ("rung a\n    start_pb or run\n    => run\n", "branch lost", ["run", "start_pb"]),
    (
        "rung a\n    start_pb or run\n    stop_ok\n    => run\n",
        "branch widened",
        ["start_pb or (run and stop_ok)", "(start_pb and stop_ok) or run"],
    ),
    ("rung a\n    start_pb\n    => set trip\n", "coil for set", ["=> trip"]),
    ("rung a\n    start_pb\n    => run\n", "set for coil", ["=> set run"]),
    ("rung a\n    start_pb\n    => run when stop_ok\n", "when lost", ["=> run"]),
    (
        "rung a\n    start_pb\n    on-delay 50 ms as held\n    => run\n",
        "preset by a scan",
        ["on-delay 60 ms as held", "on-delay 40 ms as held"],
    ),
    (
        "rung a\n    start_pb\n    on-delay 1 s as held\n    => run\n",
        "preset by ten",
        ["on-delay 10 s as held", "on-delay 100 ms as held"],
    ),
    (
        "rung a\n    start_pb\n    count-up 3 as pieces clear by stop_ok\n    => run\n",
        "preset by a scan",
        ["count-up 4 as pieces clear by stop_ok", "count-up 2 as pieces clear by stop_ok"],
    ),
    ("rung a\n    level > 50\n    => run\n", "comparison turned", ["level < 50"]),
    ("rung a\n    level > 50\n    => run\n", "comparison off by one", ["level >= 50"]),
    ("rung a\n    level = 50\n    => run\n", "comparison off by one", ["level = 51", "level = 49"]),
    (
        "rung a\n    => speed := scale(level, 0..100, 0 V..10 V)\n",
        "scaling end swapped",
        ["=> speed := scale(level, 100..0, 0 V..10 V)", "=> speed := scale(level, 0..100, 10 V..0 V)"],
    ),
    ("rung a\n    stop_ok\n    => run\n", "wrong tag", ["start_pb", "guard_ok", "=> lamp"]),
]


@pytest.mark.parametrize(("rungs", "kind", "lines"), ROWS)
def test_each_mistake_is_made_as_people_make_it(rungs: str, kind: str, lines: list[str]) -> None:
    """The changed line stands where the old one stood, and no other mutant of that kind is there."""
    came = [
        [row[2:].strip() for row in each.changed_lines if row.startswith("+ ")]
        for each in mutants(rungs)
        if each.kind == kind
    ]
    assert sorted(came) == sorted([line] for line in lines)


def test_a_lost_line_is_gone_and_nothing_comes() -> None:
    """Every line of the path is lost in one mutant, stages too."""
    lost = [m for m in mutants("rung a\n    start_pb\n    on-delay 1 s as held\n    => run\n") if m.kind == "line lost"]
    assert [[r for r in m.changed_lines if r[0] in "+-"] for m in lost] == [
        ["-     start_pb"],
        ["-     on-delay 1 s as held"],
    ]


def test_contacts_in_series_are_not_swapped_because_that_says_the_same() -> None:
    """A contact and a timer are: before the timer it takes part in the time, behind it it does not."""
    plain = mutants("rung a\n    start_pb\n    stop_ok\n    => run\n")
    timed = mutants("rung a\n    start_pb\n    on-delay 1 s as held\n    => run\n")
    assert [m.kind for m in plain].count("lines swapped") == 0
    assert [m.kind for m in timed].count("lines swapped") == 1


def test_rungs_are_exchanged_with_the_next_one() -> None:
    """Two rungs give one such mutant, with the second one first."""
    both = "rung a\n    start_pb\n    => run\n\nrung b\n    run\n    => lamp\n"
    exchanged = [m for m in mutants(both) if m.kind == "rungs exchanged"]
    assert [m.words for m in exchanged] == ["`a` and `b`"]
    assert exchanged[0].after.startswith("rung b") and exchanged[0].before.startswith("rung a")


def test_a_line_is_added_from_the_rung_beside_it() -> None:
    """As it happens when a rung is copied and changed."""
    both = "rung a\n    start_pb\n    => run\n\nrung b\n    guard_ok\n    => lamp\n"
    added = [m.words for m in mutants(both) if m.kind == "line added"]
    assert added == ["`guard_ok`, from `b`", "`start_pb`, from `a`"]


def test_resets_are_dropped_and_retained_is_lost() -> None:
    """A reset that stands alone takes its rung with it; a tag keeps its line but for the word."""
    found = mutants("rung a\n    start_pb\n    => set trip\n\nrung b\n    stop_ok\n    => reset trip\n")
    dropped = next(m for m in found if m.kind == "reset dropped")
    assert dropped.after == ""
    retained = next(m for m in found if m.kind == "retained lost")
    assert retained.rung == "trip" and "retained" not in retained.after


CIRCUIT = """\
circuit "Motor" from P24
    rung safe
        S0
        G1
        S1 or K1.1
        => K1
"""


def test_a_circuit_has_the_mistakes_of_wires_only() -> None:
    """No contact is inverted, no coil becomes a set; another contact of the same relay is no mistake of logic."""
    reporter = Reporter(CATALOGUE)
    found = mutants_of(parse_text(CIRCUIT, "c.rung", reporter).blocks)
    assert {m.kind for m in found} == {"line lost", "branch lost", "branch widened", "wrong tag"}
    assert "`K1.1` goes round `G1`" in {m.words for m in found}


_CONTACTS = st.sampled_from(["start_pb", "not stop_ok", "rising guard_ok", "level > 50", "level = 7", "run"])
_LINES = st.lists(
    st.one_of(
        _CONTACTS,
        st.tuples(_CONTACTS, _CONTACTS).map(" or ".join),
        st.tuples(_CONTACTS, _CONTACTS, _CONTACTS).map(lambda each: f"({each[0]} and {each[1]}) or {each[2]}"),
    ),
    max_size=4,
)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(_LINES, st.sampled_from(["", "    on-delay 30 ms as held\n"]), st.sampled_from(["=> run", "=> set trip"]))
def test_the_text_of_every_mutant_reads_back_and_differs(lines: list[str], stage: str, output: str) -> None:
    """What is shown as a mutant is what was judged, and it is not the original."""
    rung = (
        "rung a\n"
        + "".join(f"    {line}\n" for line in lines)
        + stage
        + f"    {output}\n\nrung b\n    run\n    => lamp\n"
    )
    original = to_text(parse_text(TAGS + rung, "rig.rung", Reporter(CATALOGUE)))
    for mutant in mutants(rung):
        text = to_text(SourceFile("rig.rung", mutant.blocks))
        reporter = Reporter(CATALOGUE)
        again = parse_text(text, "rig.rung", reporter)
        assert not reporter.found, mutant.change
        assert to_text(again) == text != original
