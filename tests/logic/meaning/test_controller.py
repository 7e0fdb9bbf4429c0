"""The controller: tags with their start values, scan times, stages, names and targets."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from rungproof.grammar import CATALOGUE, Diagnosis, Reporter, parse_text
from rungproof.logic.meaning.controller import ControllerReading, type_controller
from rungproof.logic.meaning.program import Stage
from rungproof.logic.meaning.typed import Scalar

Read = Callable[[str, str], tuple[ControllerReading, tuple[Diagnosis, ...]]]


@pytest.mark.parametrize(
    ("line", "start", "on_stop"),
    [
        ("x  memory  bool", False, None),
        ("x  memory  bool = on", True, None),
        ("x  memory  int 5..9", 5, None),
        ("x  memory  int -9..-5", -5, None),
        ("x  memory  real cm -3..7", 0.0, None),
        ("x  memory  real cm 0..700 = 1 m", 100.0, None),
        ("x  output  bool", False, False),
        ("x  output  bool on stop on", False, True),
        ("x  output  bool on stop hold", False, None),
        ("x  output  real V 2..10", 2.0, 2.0),
        ("x  output  real V 0..10 on stop 5 V", 0.0, 5.0),
        ("x  parameter  real L 100..180 = 150", 150.0, None),
    ],
)
def test_start_values_and_values_on_stop(line: str, start: Scalar, on_stop: Scalar | None, read: Read) -> None:
    """Without a word: off, or the value of the range nearest 0; on stop the same; `hold` is None."""
    reading, diagnoses = read(line, "")
    assert diagnoses == ()
    tag = reading.tags["x"]
    assert (tag.start, type(tag.start), tag.on_stop) == (start, type(start), on_stop)


@pytest.mark.parametrize(
    ("every", "scan"), [("20 ms", (20, 20)), ("10..50 ms", (10, 50)), ("0.5 s", (500, 500)), ("5 ms..1 s", (5, 1000))]
)
def test_scan_times_are_whole_milliseconds(every: str, scan: tuple[int, int]) -> None:
    """A bare lower end takes the upper end's unit."""
    reporter = Reporter(CATALOGUE)
    text = f'controller "Test" every {every}\n\ntags\n    x  input  bool\n'
    controller = type_controller(parse_text(text, "t.rung", reporter).blocks, reporter).controller
    assert controller is not None
    assert (controller.scan_low, controller.scan_high) == scan


def test_without_a_word_of_a_controller_there_is_none() -> None:
    """Files that hold only a plant or requirements have no controller, and that is no mistake."""
    reporter = Reporter(CATALOGUE)
    reading = type_controller((), reporter)
    assert (reading.controller, reporter.found) == (None, [])


def test_a_rung_may_read_a_stage_that_stands_below_it(read: Read) -> None:
    """Stages are known in the whole program, above and below their rung."""
    rungs = "rung a\n    hold\n    => lamp\n\nrung b\n    pb\n    pulse 2 s as hold\n    => horn\n"
    reading, diagnoses = read("pb input bool\nlamp output bool\nhorn output bool", rungs)
    assert diagnoses == ()
    assert reading.controller is not None
    assert list(reading.controller.stages) == ["hold"]


def test_a_stage_keeps_what_its_line_says(read: Read) -> None:
    """Kind, preset in ms, the clearing tag and `retained` are there."""
    rungs = "rung a\n    pb\n    accumulating on-delay 2 h as hours clear by clr retained\n    => lamp\n"
    reading, diagnoses = read("pb input bool\nclr input bool\nlamp output bool", rungs)
    assert diagnoses == ()
    assert reading.controller is not None
    stage = reading.controller.rungs[0].elements[1]
    assert isinstance(stage, Stage)
    assert (stage.kind, stage.retained, stage.preset and stage.preset.low) == ("accumulating on-delay", True, 7_200_000)
    assert stage.by is not None


def test_a_taken_name_names_both_places(read: Read) -> None:
    """Tags, stages and named functions share one set of names; the first place is shown."""
    _, diagnoses = read("pb input bool\nPB output bool", "rung a\n    pb\n    pulse 1 s as Pb\n    => pb_lamp\n")
    taken = [d for d in diagnoses if d.code == "name-taken"]
    assert [d.related[0][0].line for d in taken] == [4, 4]


def test_reading_without_a_whole_controller_still_gives_the_tags(read: Read) -> None:
    """A mistake in a rung leaves the tags there for requirements and wiring to read."""
    reading, _ = read("pb input bool\nlamp output bool", "rung a\n    bp\n    => lamp\n")
    assert reading.controller is None
    assert set(reading.tags) == {"pb", "lamp"}
    assert "power_up" in reading.entries


def test_ten_thousand_unknown_names_are_answered_in_seconds(read: Read) -> None:
    """Suggestions are bounded, so a wrong file answers as fast as a right one."""
    tags = "\n".join(f"tag_{n} input bool" for n in range(300)) + "\nlamp output bool"
    rungs = "rung a\n" + "".join(f"    tga_{n}x\n" for n in range(3000)) + "    => lamp\n"
    _, diagnoses = read(tags, rungs)
    assert len(diagnoses) == 3000
    assert sum(d.mend is not None and d.mend.startswith("did you mean") for d in diagnoses) <= 200
