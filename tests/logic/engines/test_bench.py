"""The bench: a controller driven scan by scan, and its answers to what makes no sense."""

from __future__ import annotations

import copy
from collections.abc import Callable
from pathlib import Path

import pytest
from rigs import bench_of, controller, program_of
from rungproof.logic.engines.bench import Bench, BenchError, UnknownNameError

TAGS = """
    start_pb  input     bool
    stop_ok   input     bool
    depth     input     real cm 0..100
    pieces    input     int 0..9
    wait      parameter int ms 10..500 = 40
    running   memory    bool
    waited    memory    bool
    lamp      output    bool on stop on
    copied    output    real cm 0..100 on stop hold
"""
RUNGS = """
    run: rising start_pb or running; stop_ok; => running
    lamp: running; on-delay wait as lit; => lamp
    copied: => copied := depth; => waited when lit
"""


@pytest.fixture
def bench() -> Bench:
    """A bench with a seal-in, a timer and a number."""
    return bench_of(TAGS, RUNGS, every="20 ms")


def test_inputs_stay_as_given(bench: Bench) -> None:
    """An input keeps its value until it is given another."""
    bench.scan(stop_ok=True)
    assert bench.scan(start_pb=True).running is True
    assert bench.scan(start_pb=False).running is True
    assert bench.scan(stop_ok=False).running is False


def test_time_passes_scan_by_scan(bench: Bench) -> None:
    """`for_ms` scans on for that long; `scan_ms` says how long each scan takes."""
    bench.scan(stop_ok=True)
    bench.scan(start_pb=True)
    assert (bench.scan().lamp, bench["lit.elapsed"]) == (False, 20)
    assert (bench.scan(for_ms=60).lamp, bench.now_ms) == (True, 120)
    wide = bench_of(TAGS, RUNGS, every="10..50 ms")
    wide.scan(scan_ms=50, for_ms=100)
    assert wide.now_ms == 100


def test_parameters_are_set_once() -> None:
    """A parameter can be given when the bench is set up."""
    quick = bench_of(TAGS, RUNGS, every="20 ms", wait=20)
    quick.scan(stop_ok=True)
    quick.scan(start_pb=True)
    assert quick.wait == 20
    assert quick.scan().lamp is True


def test_it_shows_which_line_conducts(bench: Bench) -> None:
    """Power at the left rail, after each line, and at each output."""
    bench.scan(start_pb=True, stop_ok=False)
    assert bench.conducting("run") == (True, False, False, False)
    bench.scan(start_pb=False, stop_ok=True)
    bench.scan(start_pb=True)
    assert bench.conducting("run") == (True, True, True, True)
    assert bench.conducting("copied") == (True, True, False)
    assert bench.conducting("lamp") == (True, True, False, False)


def test_a_power_cut_and_a_stop(bench: Bench) -> None:
    """A cut leaves terminals dead; a stop leaves them as `on stop` says; both begin anew, without an edge."""
    bench.scan(stop_ok=True, depth=30.0)
    bench.scan(start_pb=True)
    dead = bench.power_cut()
    assert (dead.running, dead.lamp, dead.copied, dead.depth) == (False, False, 0.0, 30.0)
    assert bench.scan().running is False
    bench.scan(start_pb=False)
    bench.scan(start_pb=True)
    stopped = bench.stop()
    assert (stopped.running, stopped.lamp, stopped.copied) == (False, True, 30.0)
    assert bench.scan().running is False


def test_values_are_a_mapping(bench: Bench) -> None:
    """Values read as attributes and as a mapping, and print as on and off."""
    values = bench.scan(depth=2.5)
    assert values["copied"] == values.copied == 2.5
    assert "lit.elapsed" in values and "nothing" not in values
    assert len(values) == len(list(values)) == 11
    assert "lamp=off" in repr(values) and "depth=2.5" in repr(values) and "stop_ok=off" in repr(values)
    bench.scan(stop_ok=True)
    assert "stop_ok=on" in repr(bench.values)
    assert repr(bench) == '<Bench "Rig" after 40 ms>'


@pytest.mark.parametrize(
    ("use", "words"),
    [
        (lambda b: b.runing, "no tag or stage is called `runing`; did you mean `running`?"),
        (lambda b: b["lit.elapse"], "did you mean `lit.elapsed`?"),
        (lambda b: b.scan().zzz, "no tag or stage is called `zzz`; there are start_pb, stop_ok,"),
        (lambda b: b.scan(start=True), "no input is called `start`; did you mean `start_pb`?"),
        (lambda b: b.conducting("lmp"), "no rung is called `lmp`; did you mean `lamp`?"),
    ],
)
def test_a_name_unknown_brings_the_nearest(bench: Bench, use: Callable[[Bench], object], words: str) -> None:
    """A misspelt name is answered with the nearest one, or with those there are."""
    with pytest.raises(UnknownNameError) as caught:
        use(bench)
    assert words in str(caught.value)
    assert isinstance(caught.value, AttributeError) and isinstance(caught.value, KeyError)


@pytest.mark.parametrize(
    ("use", "words"),
    [
        (lambda b: b.scan(running=True), "`running` is a memory tag, and an input is asked for"),
        (lambda b: b.scan(lamp=True), "`lamp` is an output tag, and an input is asked for"),
        (lambda b: b.scan(start_pb=1), "`start_pb` = 1: it is bool, so give True or False"),
        (lambda b: b.scan(pieces=True), "`pieces` = True: it is int, so give a whole number"),
        (lambda b: b.scan(pieces=1.5), "`pieces` = 1.5: it is int, so give a whole number"),
        (lambda b: b.scan(pieces=10), "`pieces` = 10: its range is 0..9"),
        (lambda b: b.scan(depth="3"), "`depth` = '3': it is real, so give a number"),
        (lambda b: b.scan(depth=101), "`depth` = 101: its range is 0..100 cm"),
        (lambda b: b.scan(for_ms=30), "30 ms are no whole number of scans of 20 ms; say scan_ms too"),
        (lambda b: b.scan(for_ms=0), "0 ms are no whole number of scans"),
        (lambda b: b.scan(scan_ms=30), "a scan of 30 ms: this controller scans every 20 ms"),
        (lambda b: bench_of(TAGS, RUNGS, "10..50 ms").scan(scan_ms=60), "this controller scans every 10..50 ms"),
        (lambda b: b.conducting("run"), "nothing conducts: scan first"),
    ],
)
def test_what_makes_no_sense_is_answered(bench: Bench, use: Callable[[Bench], object], words: str) -> None:
    """Values of a wrong kind, out of range, or for a tag that takes none, are refused with the reason."""
    with pytest.raises(BenchError) as caught:
        use(bench)
    assert words in str(caught.value)


def test_a_whole_number_serves_for_a_real(bench: Bench) -> None:
    """3 is 3.0 for a real input."""
    assert bench.scan(depth=3).copied == 3.0


def test_a_bench_from_a_path(tmp_path: Path) -> None:
    """A path, as text or as a Path, is read; a project with a plant gives its controller alone."""
    path = tmp_path / "rig.rung"
    path.write_text(controller(TAGS, RUNGS, "20 ms"), encoding="utf-8")
    assert Bench(path).scan().running is False
    assert Bench(str(path)).scan().running is False


def test_files_that_cannot_be_run_are_answered_with_their_diagnoses(tmp_path: Path) -> None:
    """The diagnoses stand in the error, with place and caret."""
    path = tmp_path / "rig.rung"
    path.write_text(controller(TAGS, "run: runing; => running", "20 ms"), encoding="utf-8")
    with pytest.raises(BenchError, match=r"(?s)cannot be run.*unknown-name.*\^"):
        Bench(path)


def test_a_plant_alone_is_nothing_for_a_bench() -> None:
    """Without a controller there is nothing to drive."""
    with pytest.raises(BenchError, match="no controller"):
        Bench(program_of('plant "Yard" every 5 ms\n    lamp P1\n    supply P24 24 V\n'))


def test_a_bench_does_not_pretend_to_private_names(bench: Bench) -> None:
    """Copying and inspecting tools ask for underscore names: those are simply not there."""
    assert not hasattr(bench, "_repr_markdown_")
    assert dict(copy.copy(bench.scan())) == dict(bench.values)


def test_an_input_where_there_is_none() -> None:
    """A controller without inputs names none."""
    with pytest.raises(UnknownNameError) as caught:
        bench_of("q output bool", "q: => q").scan(a=True)
    assert str(caught.value) == "no input is called `a`"
