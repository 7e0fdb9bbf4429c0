"""The controller on the reference engine, rule by rule as `semantics.md` has them: Evaluation, Edges, Stages."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rigs import bench_of, bits, controller, run, trace_of

AB = "a input bool\nb input bool\nc input bool\n"


# ------------------------------------------------------------------ evaluation


@settings(deadline=None)
@given(st.booleans(), st.booleans(), st.booleans())
def test_and_binds_before_or(a: bool, b: bool, c: bool) -> None:
    """`a or b and c` is `a or (b and c)`."""
    bench = bench_of(AB + "q output bool", "q: a or b and c; => q")
    assert bench.scan(a=a, b=b, c=c).q == (a or (b and c))


def test_an_empty_path_is_powered() -> None:
    """A rung without lines always conducts."""
    assert bench_of("a input bool\nq output bool\nr output bool", "q: => q; => r when a").scan().q is True


def test_a_coil_writes_false_too() -> None:
    """A coil is the path's power, off included; a negated coil is its inverse."""
    bench = bench_of(AB + "q output bool\nr output bool", "q: a; => q; => not r")
    assert [(bench.scan(a=a).q, bench.r) for a in (True, False)] == [(True, False), (False, True)]


def test_the_last_of_set_and_reset_wins() -> None:
    """`set` and `reset` act only when powered, and the later rung has the last word."""
    bench = bench_of(AB + "q output bool", "on: a; => set q\noff: b; => reset q")
    pattern = [(True, False), (False, False), (True, True), (False, False), (True, False), (False, True)]
    assert bits([bench.scan(a=a, b=b).q for a, b in pattern]) == "110010"


def test_outputs_run_in_order_on_one_power() -> None:
    """The path is worked out once; a `when` reads what the outputs before it have written."""
    bench = bench_of(AB + "q output bool\nr output bool", "q: not q; => q; => r when q")
    assert [(bench.scan().q, bench.r) for _ in range(3)] == [(True, True), (False, False), (True, True)]


def test_a_later_rung_sees_what_an_earlier_one_wrote() -> None:
    """Rungs run from the top: reading above the writing rung gives the last scan's value."""
    bench = bench_of(
        AB + "q output bool\nearly output bool\nlate output bool", "early: q; => early\nq: a; => q\nlate: q; => late"
    )
    seen = [bench.scan(a=a) for a in (True, True, False)]
    assert bits([each.early for each in seen]) == "011"
    assert bits([each.late for each in seen]) == "110"


def test_an_assignment_holds_without_power() -> None:
    """`:=` writes only when powered; `when` narrows it."""
    bench = bench_of("a input bool\nb input bool\nn input int 0..9\nm memory int 0..9", "m: a; => m := n when b")
    pattern = [(True, True, 3), (False, True, 5), (True, False, 6), (True, True, 7)]
    assert [bench.scan(a=a, b=b, n=n).m for a, b, n in pattern] == [3, 3, 3, 7]


def test_the_last_powered_assignment_wins() -> None:
    """Of several `:=` on one tag the last powered one wins."""
    bench = bench_of("a input bool\nb input bool\nm memory int 0..9", "x: a; => m := 1\ny: b; => m := 2")
    assert [bench.scan(a=a, b=b).m for a, b in [(True, False), (True, True), (False, False), (False, True)]] == [
        1,
        2,
        2,
        2,
    ]


def test_nothing_short_circuits() -> None:
    """An edge contact behind an open contact, in a dead branch or on an unpowered output sees every scan."""
    bench = bench_of(
        AB + "q output bool\nr output bool\ns memory bool\nn memory int 0..9",
        "series: b; rising a; => q\n"
        "branch: c or b and rising a; => r\n"
        "when: b; => s when rising a\n"
        "number: b; => n := select(rising a, 1, 2)",
    )
    bench.scan(a=False, b=True)
    bench.scan(a=True, b=False)
    seen = bench.scan(b=True)
    assert (seen.q, seen.r, seen.s, seen.n) == (False, False, False, 2)
    bench.scan(a=False)
    seen = bench.scan(a=True)
    assert (seen.q, seen.r, seen.s, seen.n) == (True, True, True, 1)


def test_a_stage_replaces_power_below_it() -> None:
    """Lines below a stage are powered by its output."""
    bench = bench_of(AB + "q output bool", "q: a; off-delay 1 s as hold; b; => q", every="100 ms")
    assert (
        bits([bench.scan(a=a, b=b).q for a, b in [(True, True), (False, True), (False, False), (False, True)]])
        == "1101"
    )


def test_a_stage_reads_as_a_contact_everywhere() -> None:
    """A stage's name is its output: above its line as the last scan left it, below as it is now."""
    bench = bench_of(
        AB + "early output bool\nlate output bool\nq output bool\nn memory int 0..9",
        "early: s; => early\nq: a; rising as s; => q\nlate: s; => late\n"
        "n: c; count-up 3 as k clear by b; => n := k.count",
    )
    bench.scan()
    seen = [bench.scan(a=True) for _ in range(2)]
    assert [(each.early, each.late) for each in seen] == [(False, True), (True, False)]


# ----------------------------------------------------------------------- edges


@settings(deadline=None)
@given(st.lists(st.booleans(), min_size=1, max_size=20))
def test_edges_are_changes_after_the_first_scan(trace: list[bool]) -> None:
    """`rising` and `falling` tell changes between scans; the first scan has none."""
    bench = bench_of(AB + "up output bool\ndown output bool", "up: rising a; => up\ndown: falling a; => down")
    seen = [bench.scan(a=a) for a in trace]
    ups = [k > 0 and trace[k] and not trace[k - 1] for k in range(len(trace))]
    downs = [k > 0 and trace[k - 1] and not trace[k] for k in range(len(trace))]
    assert [each.up for each in seen] == ups
    assert [each.down for each in seen] == downs


def test_an_edge_sees_the_value_where_it_stands() -> None:
    """Each edge contact owns its memory: two of one tag, before and after it is written, differ."""
    bench = bench_of(
        AB + "q output bool\nabove output bool\nbelow output bool",
        "above: rising q; => above\nq: a; => q\nbelow: rising q; => below",
    )
    bench.scan()
    seen = [bench.scan(a=True) for _ in range(2)]
    assert [(each.above, each.below) for each in seen] == [(False, True), (True, False)]


@pytest.mark.parametrize(
    ("stage", "expected"),
    [
        ("rising as s", False),
        ("pulse 1 s as s", False),
        ("count-up 1 as s clear by b", False),
        ("count-down 1 as s load by b", True),
        ("on-delay 1 ms as s", False),
        ("off-delay 1 s as s", True),
        ("accumulating on-delay 1 ms as s clear by b", False),
    ],
)
def test_a_jammed_button_does_nothing_on_the_first_scan(stage: str, expected: bool) -> None:
    """On the first scan no stage starts, counts or fires by an input that is already on."""
    bench = bench_of(AB + "q output bool", f"q: a; {stage}; => q")
    assert bench.scan(a=True).q is expected
    bench.power_cut()
    assert bench.scan(a=True).q is expected


def test_edge_memory_does_not_survive_power() -> None:
    """After a cut the first scan has no edge, even if the input changed in between."""
    bench = bench_of(AB + "up output bool\ndown output bool", "up: rising a; => up\ndown: falling a; => down")
    bench.scan(a=False)
    bench.power_cut()
    assert bench.scan(a=True).up is False
    assert bench.scan(a=True).up is False
    bench.power_cut()
    assert bench.scan(a=False).down is False


# ---------------------------------------------------------------- power cycles


def test_power_up_is_true_on_first_scans_only() -> None:
    """`power_up` is true on the very first scan, and on the first after every cut."""
    bench = bench_of(AB + "q output bool", "q: power_up; => q")
    seen = [bench.scan().q, bench.scan().q]
    bench.power_cut()
    assert bits([*seen, bench.scan().q, bench.scan().q]) == "1010"


def test_what_is_retained_survives_a_cut() -> None:
    """Retained tags keep their value, the others go back to their start value; terminals are dead meanwhile."""
    bench = bench_of(
        AB + "kept memory bool retained\nlost memory bool\nstarts memory int 2..9\n"
        "held output bool retained\nq output bool",
        "set: a; => set kept; => set lost; => set held; => starts := 7\nq: kept; => q",
    )
    bench.scan(a=True)
    dead = bench.power_cut()
    assert (dead.kept, dead.lost, dead.starts, dead.held, dead.a) == (True, False, 2, False, True)
    seen = bench.scan(a=False)
    assert (seen.kept, seen.lost, seen.held, seen.q) == (True, False, True, True)


@pytest.mark.parametrize(
    ("stage", "before", "after"),
    [
        ("on-delay 100 ms as s", (False, 80), (False, 0)),
        ("on-delay 100 ms as s retained", (False, 80), (False, 80)),
        ("accumulating on-delay 100 ms as s clear by c", (False, 80), (False, 0)),
        ("accumulating on-delay 100 ms as s retained clear by c", (False, 80), (False, 80)),
    ],
)
def test_a_retained_timer_goes_on_where_it_stood(stage: str, before: tuple[bool, int], after: tuple[bool, int]) -> None:
    """A retained stage keeps its time, its output and its powered flag; the first scan adds nothing."""
    bench = bench_of(AB + "q output bool", f"q: a; {stage}; => q", every="40 ms")
    bench.scan(a=True, for_ms=120)
    assert (bench.q, bench["s.elapsed"]) == before
    bench.power_cut()
    bench.scan()
    assert (bench.q, bench["s.elapsed"]) == after
    bench.scan()
    assert bench["s.elapsed"] == min(100, after[1] + 40)


def test_a_retained_off_delay_and_pulse_go_on() -> None:
    """A running off-delay or pulse that is retained runs on after a cut, with no time added for it."""
    bench = bench_of(
        AB + "q output bool\np output bool",
        "q: a; off-delay 100 ms as hold retained; => q\np: b; pulse 100 ms as once retained; => p",
        every="40 ms",
    )
    bench.scan(a=True)
    bench.scan(a=False, b=True)
    bench.scan()
    bench.power_cut()
    seen = [bench.scan() for _ in range(3)]
    assert [(each["hold.elapsed"], each["once.elapsed"]) for each in seen] == [(40, 40), (80, 80), (100, 100)]
    assert bits([each.q for each in seen]) == bits([each.p for each in seen]) == "110"


def test_a_retained_counter_keeps_count_and_sees_no_edge() -> None:
    """A retained counter keeps its count; its input turning on during the cut counts nothing."""
    bench = bench_of(
        AB + "q output bool\nm output bool",
        "q: a; count-up 3 as up retained clear by c; => q\nm: a; count-up 3 as lost clear by c; => m",
    )
    for a in (False, True, False, True, False):
        bench.scan(a=a)
    assert (bench["up.count"], bench["lost.count"]) == (2, 2)
    bench.power_cut()
    bench.scan(a=True)
    assert (bench["up.count"], bench["lost.count"]) == (2, 0)
    bench.scan(a=False)
    bench.scan(a=True)
    assert (bench["up.count"], bench["lost.count"], bench.q) == (3, 1, True)


def test_clear_and_load_dominate() -> None:
    """`clear by` and `load by` win over counting and timing in the same scan, and rises under them are lost."""
    bench = bench_of(
        AB + "q output bool\nr output bool\nt output bool",
        "q: a; count-up 2 as up clear by b; => q\nr: a; count-down 2 as down load by b; => r\n"
        "t: a; accumulating on-delay 30 ms as total clear by b; => t",
        every="10 ms",
    )
    bench.scan()
    seen = bench.scan(a=True, b=True)
    assert (seen["up.count"], seen["down.count"], seen["total.elapsed"]) == (0, 2, 0)
    seen = bench.scan(b=False)
    assert (seen["up.count"], seen["down.count"], seen["total.elapsed"]) == (0, 2, 10)


def test_a_preset_may_be_a_parameter() -> None:
    """Times and counts follow their parameters."""
    tags = "a input bool\nwait parameter int ms 10..500 = 30\nq output bool"
    slow = bench_of(tags, "q: a; on-delay wait as s; => q", every="10 ms", wait=50)
    quick = bench_of(tags, "q: a; on-delay wait as s; => q", every="10 ms")
    assert bits([slow.scan(a=True).q for _ in range(7)]) == "0000011"
    assert bits([quick.scan(a=True).q for _ in range(7)]) == "0001111"


# -------------------------------------------------------------------- in a run


def test_a_run_shows_a_scan_at_its_end() -> None:
    """Inputs are read when a scan begins; what it makes of them is visible when it ends."""
    text = controller("a input bool\nq output bool", "q: a; => q", every="20 ms")
    trace = trace_of(run(text, 100, (25, "a", True)))
    assert trace.times == [20, 40, 60, 80, 100]
    assert trace.scan_starts == [0, 20, 40, 60, 80]
    assert bits(trace.tags["a"]) == bits(trace.tags["q"]) == "00111"
    assert trace.conducting[1:3] == [{"q": (True, False, False)}, {"q": (True, True, True)}]


def test_scans_follow_the_story() -> None:
    """Scan lengths come from the story; the last one goes on; without any, the shortest is taken."""
    text = controller("a input bool\nq output bool", "q: a; => q", every="10..50 ms")
    assert trace_of(run(text, 150, scans=(10, 50, 30))).times == [10, 60, 90, 120, 150]
    assert trace_of(run(text, 30)).times == [10, 20, 30]


def test_stages_add_the_length_of_the_scan_before() -> None:
    """A stage adds the last scan's length, and nothing for the time without power."""
    text = controller(
        AB + "q output bool", "q: a; accumulating on-delay 900 ms as s retained clear by b; => q", every="10..50 ms"
    )
    outcome = run(
        text, 400, (0, "a", True), (100, "controller!cut", True), (300, "controller!cut", False), scans=(10, 50, 40, 30)
    )
    seen = dict(zip(trace_of(outcome).times, trace_of(outcome).tags["s.elapsed"], strict=True))
    assert seen == {10: 0, 60: 10, 100: 60, 300: 60, 330: 60, 360: 90, 390: 120, 420: 150}
