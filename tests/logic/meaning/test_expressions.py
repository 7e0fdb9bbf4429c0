"""Expressions: units converted, ints and reals told apart, and one diagnosis per mistake."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from rungproof.grammar import Diagnosis
from rungproof.logic.meaning.controller import ControllerReading
from rungproof.logic.meaning.typed import (
    AllOf,
    Binary,
    Comparison,
    Constant,
    Convert,
    EdgeOf,
    Expression,
    Function,
    Pi,
    Scale,
    StageReading,
    Table,
    TagValue,
    ToReal,
)

Value = Callable[[str, str, str], Expression]
Read = Callable[[str, str], tuple[ControllerReading, tuple[Diagnosis, ...]]]

TAGS = """
    start_pb  input      bool
    counts    input      int 0..65535
    millis    input      int ms 0..60000
    height    input      real mm 0..2000
    level     memory     real cm 0..200
    volume    memory     real L 0..500
    speed     output     real V 0..10
    number    memory     int 0..100
    plain     memory     real -1000..1000
    share     memory     real % 0..100
    target    parameter  real L 100..180 = 150
    pause     parameter  int s 1..60 = 5
    lamp      output     bool
"""


# ----------------------------------------------------------------- units


def test_the_right_side_is_converted_to_the_lefts_unit(value: Value) -> None:
    """cm plus mm: the mm are multiplied by 1 and divided by 10, exactly."""
    found = value(TAGS, "level", "level + height")
    assert isinstance(found, Binary)
    assert isinstance(found.right, Convert)
    assert (found.right.numerator, found.right.denominator) == (1, 10)
    assert (found.unit and found.unit.symbol, found.high) == ("cm", 400.0)


def test_a_literal_is_converted_when_it_is_read(value: Value) -> None:
    """A number as written needs no conversion at run time: 1 m beside cm is the constant 100."""
    found = value(TAGS, "level", "level - 0.3 m")
    assert isinstance(found, Binary)
    assert isinstance(found.right, Constant)
    assert found.right.value == 30.0


def test_area_times_height_is_stored_as_a_volume(value: Value) -> None:
    """2827 cm2 times cm is cm3, which is a thousandth of a litre each (1 L = 1000 cm3)."""
    found = value(TAGS, "volume", "2827 cm2 * level")
    assert isinstance(found, Convert)
    assert found.operand.unit is not None
    assert found.operand.unit.symbol == "cm3"
    assert (found.numerator, found.denominator) == (1, 1000)
    assert found.high == pytest.approx(565.4)


def test_a_share_of_a_quantity_is_that_quantity(value: Value) -> None:
    """50 % of a volume is a volume."""
    found = value(TAGS, "volume", "volume * 50 %")
    assert isinstance(found, Convert)
    assert found.high == 250.0


def test_a_quotient_of_like_quantities_may_be_stored_as_percent(value: Value) -> None:
    """L by L is a plain number, and 1 is 100 %."""
    found = value(TAGS, "share", "volume / target")
    assert isinstance(found, Convert)
    assert (found.numerator, found.denominator) == (100, 1)


def test_the_square_root_of_an_area_is_a_length(value: Value) -> None:
    """sqrt of cm times cm is cm."""
    found = value(TAGS, "level", "sqrt(level * level)")
    assert isinstance(found, Function)
    assert found.unit is not None
    assert (found.unit.symbol, found.low, found.high) == ("cm", 0.0, 200.0)


# ------------------------------------------------------------ int and real


def test_a_whole_literal_is_an_int_beside_an_int(value: Value) -> None:
    """number + 1 is int arithmetic."""
    found = value(TAGS, "number", "number + 1")
    assert isinstance(found, Binary)
    assert (found.type, found.low, found.high) == ("int", 1, 101)


def test_a_factor_with_a_point_is_real(value: Value) -> None:
    """number / 7.0 is a real quotient, and number / 7 a whole one."""
    assert value(TAGS, "number", "round(number / 7.0)").type == "int"
    assert value(TAGS, "number", "number / 7").type == "int"
    assert value(TAGS, "plain", "number * 2.0").type == "real"


def test_an_int_becomes_real_beside_a_real(value: Value) -> None:
    """An int meets a real as a real, without being asked."""
    found = value(TAGS, "plain", "plain + number")
    assert isinstance(found, Binary)
    assert isinstance(found.right, ToReal)
    assert found.type == "real"


def test_ints_of_unlike_units_stay_int_where_the_ratio_is_whole(value: Value) -> None:
    """ms and s: the seconds are multiplied by 1000 and nothing is divided."""
    found = value(TAGS + "    sum_ms  memory  int ms 0..200000\n", "sum_ms", "millis + pause")
    assert isinstance(found, Binary)
    assert isinstance(found.right, Convert)
    assert (found.type, found.right.type, found.right.numerator, found.right.denominator) == ("int", "int", 1000, 1)


def test_literals_with_units_divide_as_reals(value: Value) -> None:
    """10 L by 4 is 2.5 L: a quantity is measured, not counted."""
    found = value(TAGS, "volume", "10 L / 4")
    assert (found.type, found.low) == ("real", 2.5)


@pytest.mark.parametrize("function", ["round", "trunc"])
def test_a_real_becomes_an_int_only_when_told_how(function: str, value: Value) -> None:
    """round and trunc make an int; nothing else does."""
    assert value(TAGS, "number", f"{function}(plain)").type == "int"


# --------------------------------------------------------------- functions


def test_scale_takes_the_upper_ends_unit(value: Value) -> None:
    """A bare lower bound stands in the upper one's unit, and the result has it."""
    found = value(TAGS, "level", "scale(counts, 0..65535, 0..200 cm)")
    assert isinstance(found, Scale)
    assert (found.unit and found.unit.symbol, found.to_low, found.to_high) == ("cm", 0.0, 200.0)
    assert (found.low, found.high) == (0.0, 200.0)


def test_scale_converts_what_it_is_given(value: Value) -> None:
    """mm scaled from a range in cm are converted to cm first."""
    found = value(TAGS, "speed", "scale(height, 0 cm..200 cm, 0 V..10 V)")
    assert isinstance(found, Scale)
    assert isinstance(found.operand, Convert)
    assert (found.low, found.high) == (0.0, 10.0)


def test_a_table_keeps_its_rows_in_the_first_rows_units(value: Value) -> None:
    """Rows may mix cm and mm; all stand in the unit of the first."""
    found = value(TAGS, "volume", "table(level, 0 cm: 0 L, 100 mm: 31 L, 2 m: 500000 mL)")
    assert isinstance(found, Table)
    assert found.points == ((0.0, 0.0), (10.0, 31.0), (200.0, 500.0))


def test_pi_is_clamped_to_its_tag(value: Value) -> None:
    """pi takes its unit and its limits from the tag it is assigned to; the integral time is in seconds."""
    found = value(TAGS, "speed", "pi(volume, target, gain = 2 V/L, integral = 2 min, direction = reverse) as loop")
    assert isinstance(found, Pi)
    assert (found.low, found.high, found.slot, found.reverse) == (0.0, 10.0, "loop", True)
    assert isinstance(found.integral, Constant)
    assert found.integral.value == 120.0


def test_the_gain_of_pi_is_converted(value: Value) -> None:
    """A gain of 2000 mV/L is 2 V/L."""
    found = value(TAGS, "speed", "pi(volume, target, gain = 2000 mV/L, integral = 90 s, direction = direct)")
    assert isinstance(found, Pi)
    assert isinstance(found.gain, Constant)
    assert found.gain.value == 2.0


# ------------------------------------------------------------------ contacts


def test_between_is_two_comparisons(read: Read) -> None:
    """Both ends are included, and both are converted to the value's unit."""
    reading, _ = read(TAGS, "rung r\n    level between 300 mm and 0.5 m\n    => lamp\n")
    assert reading.controller is not None
    found = reading.controller.rungs[0].elements[0]
    expression = getattr(found, "expression", None)
    assert isinstance(expression, AllOf)
    low, high = expression.operands
    assert isinstance(low, Comparison)
    assert isinstance(high, Comparison)
    assert (low.operator, high.operator) == (">=", "<=")
    assert (low.right.low, high.right.low) == (30.0, 50.0)


def test_every_edge_has_a_memory_of_its_own(read: Read) -> None:
    """Two edges of one tag in one rung are two memories, named after the rung."""
    rungs = "rung r\n    rising start_pb or falling start_pb\n    rising start_pb\n    => lamp\n"
    reading, _ = read(TAGS, rungs)
    assert reading.controller is not None
    slots = [
        node.slot
        for element in reading.controller.rungs[0].elements
        for node in _edges(getattr(element, "expression", None))
    ]
    assert slots == ["r#1", "r#2", "r#3"]


def _edges(node: object) -> list[EdgeOf]:
    operands = node.operands if hasattr(node, "operands") else (node,)
    return [operand for operand in operands if isinstance(operand, EdgeOf)]


def test_a_stages_inside_reads_as_a_number_with_bounds(read: Read) -> None:
    """elapsed is in ms from 0 to the preset; a count-up's count ends at 32767 (IEC 61131-3, type INT)."""
    rungs = (
        "rung r\n    start_pb\n    on-delay 4 min as hold\n    count-up 5 as starts clear by lamp\n"
        "    hold.elapsed > 1.5 s\n    starts.count >= 3\n    => lamp\n"
    )
    reading, diagnoses = read(TAGS, rungs)
    assert diagnoses == ()
    elapsed, count = reading.entries["hold.elapsed"], reading.entries["starts.count"]
    assert isinstance(elapsed, StageReading)
    assert isinstance(count, StageReading)
    assert (elapsed.low, elapsed.high, elapsed.unit and elapsed.unit.symbol) == (0, 240_000, "ms")
    assert (count.low, count.high, count.unit) == (0, 32767, None)


def test_a_comparison_of_elapsed_with_half_seconds_stays_int(read: Read) -> None:
    """1.5 s beside ms is the int 1500."""
    reading, _ = read(TAGS, "rung r\n    start_pb\n    on-delay 4 s as hold\n    hold.elapsed > 1.5 s\n    => lamp\n")
    assert reading.controller is not None
    compared = getattr(reading.controller.rungs[0].elements[2], "expression", None)
    assert isinstance(compared, Comparison)
    assert isinstance(compared.right, Constant)
    assert (compared.right.type, compared.right.value) == ("int", 1500)


def test_a_preset_may_be_a_parameter_in_any_unit_of_time(read: Read) -> None:
    """A parameter in whole seconds becomes ms by one exact factor."""
    reading, diagnoses = read(TAGS, "rung r\n    start_pb\n    on-delay pause as hold\n    => lamp\n")
    assert diagnoses == ()
    assert reading.controller is not None
    preset = reading.controller.stages["hold"].preset
    assert isinstance(preset, Convert)
    assert isinstance(preset.operand, TagValue)
    assert (preset.low, preset.high) == (1000, 60_000)


# -------------------------------------------------------------- no follow-on


def test_independent_mistakes_come_out_together_and_nothing_follows_from_them(read: Read) -> None:
    """Two mistakes in one expression are two diagnoses; the sum of the two wrong sides is silent."""
    _, diagnoses = read(TAGS, "rung r\n    => volume := (volume + 3 cm) + (levle * 2)\n")
    assert [d.code for d in diagnoses] == ["unit-mismatch", "unknown-name"]


def test_a_tag_that_is_wrong_is_wrong_once(read: Read) -> None:
    """A tag whose own line is wrong is not reported again where it is used."""
    rungs = "rung r\n    depth > 3 cm\n    => lamp\n\nrung s\n    => depth := depth + 1 cm\n"
    _, diagnoses = read(TAGS + "    depth  memory  real cm\n", rungs)
    assert [d.code for d in diagnoses] == ["range-missing"]


def test_a_stage_with_a_wrong_preset_is_wrong_once(read: Read) -> None:
    """Its contact and its reading stay silent."""
    rungs = (
        "rung r\n    start_pb\n    on-delay 0 s as hold\n    => lamp\n\n"
        "rung s\n    hold\n    hold.elapsed > 1 s\n    => volume := 1 L\n"
    )
    _, diagnoses = read(TAGS, rungs)
    assert [d.code for d in diagnoses] == ["preset-too-small"]


def test_the_caret_stands_under_what_is_wrong(read: Read) -> None:
    """A wrong unit is pointed at itself, not at the line."""
    _, diagnoses = read(TAGS, "rung r\n    volume > 50 cm\n    => lamp\n")
    (found,) = diagnoses
    assert (found.span.column, found.span.end_column) == (14, 19)
    assert found.message == "This is in cm, but the other side is in L."


def test_one_letter_too_few_finds_the_name(read: Read) -> None:
    """The nearest name is offered, letter case apart."""
    _, diagnoses = read(TAGS, "rung r\n    Start_PB\n    startpb\n    => lamp\n")
    assert [d.mend for d in diagnoses] == ["did you mean `start_pb`?"] * 2
