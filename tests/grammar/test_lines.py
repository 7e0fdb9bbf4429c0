"""What each kind of line says: the language's own examples, and each form once."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from rungproof.grammar import CATALOGUE, Reporter, format_text, parse_text, to_text, tree

TEXTS = Path(__file__).parent / "texts"
S = tree.Span("", 1, 1, 1)


def read(text: str) -> tuple[Any, ...]:
    """The blocks of a text that has no mistake."""
    reporter = Reporter(dict(CATALOGUE))
    source = parse_text(text, "x.rung", reporter)
    assert reporter.sorted() == ()
    return source.blocks


def path_line(line: str) -> Any:
    """The node of one line of a rung."""
    (rung,) = read(f"rung r\n    {line}\n    => out\n")
    return (*rung.elements, *rung.outputs)[0]


def name(text: str) -> tree.Name:
    return tree.Name(S, text)


def number(text: str, unit: str | None = None) -> tree.Number:
    return tree.Number(S, text, unit)


@pytest.mark.parametrize("file", ["controller", "plant", "requirements"])
def test_the_examples_of_the_language_read_and_stand_as_the_formatter_leaves_them(file: str) -> None:
    """The texts that the language's description shows: no diagnosis, and not a blank to move."""
    text = (TEXTS / f"{file}.rung").read_text(encoding="utf-8")
    assert len(read(text)) > 2
    assert format_text(text, file, Reporter(dict(CATALOGUE))) == text


@pytest.mark.parametrize(
    ("line", "node"),
    [
        ("estop_ok", tree.Condition(S, name("estop_ok"))),
        ("not S0.1", tree.Condition(S, tree.Not(S, name("S0.1")))),
        ("falling a", tree.Condition(S, tree.Edge(S, "falling", name("a")))),
        ("a <> 3", tree.Condition(S, tree.Compare(S, "<>", name("a"), number("3")))),
        (
            "a or b and not c",
            tree.Condition(S, tree.Parallel(S, (name("a"), tree.Series(S, (name("b"), tree.Not(S, name("c"))))))),
        ),
        (
            "x between 1 cm and y and z",
            tree.Condition(S, tree.Series(S, (tree.Between(S, name("x"), number("1", "cm"), name("y")), name("z")))),
        ),
        (
            "a - b - 1 < 2 * c",
            tree.Condition(
                S,
                tree.Compare(
                    S,
                    "<",
                    tree.Arithmetic(S, "-", tree.Arithmetic(S, "-", name("a"), name("b")), number("1")),
                    tree.Arithmetic(S, "*", number("2"), name("c")),
                ),
            ),
        ),
        ("on-delay 4 min as rest_time", tree.Stage(S, "on-delay", "rest_time", number("4", "min"))),
        ("off-delay t as x retained", tree.Stage(S, "off-delay", "x", name("t"), retained=True)),
        ("pulse 5s as x", tree.Stage(S, "pulse", "x", number("5", "s"))),
        (
            "accumulating on-delay 1 h as x retained clear by r",
            tree.Stage(S, "accumulating on-delay", "x", number("1", "h"), name("r"), True),
        ),
        (
            "accumulating  on-delay 1 h as x clear by r retained",
            tree.Stage(S, "accumulating on-delay", "x", number("1", "h"), name("r"), True),
        ),
        ("count-up 5 as n clear by r", tree.Stage(S, "count-up", "n", number("5"), name("r"))),
        ("count-down 5 as n load by r", tree.Stage(S, "count-down", "n", number("5"), name("r"))),
        ("rising as begun", tree.Stage(S, "rising", "begun")),
        ("=> not lamp", tree.Output(S, "negated", name("lamp"))),
        ("=> set trip when a", tree.Output(S, "set", name("trip"), None, name("a"))),
        ("=> reset trip", tree.Output(S, "reset", name("trip"))),
        ("=> v := -3 V when a", tree.Output(S, "assign", name("v"), tree.Negate(S, number("3", "V")), name("a"))),
        ("=> v := on", tree.Output(S, "assign", name("v"), tree.Truth(S, True))),
    ],
)
def test_a_line_of_a_rung(line: str, node: Any) -> None:
    """Each sort of path element and output."""
    assert path_line(line) == node


@pytest.mark.parametrize(
    ("text", "figure", "unit"),
    [
        ("4 min", "4", "min"),
        ("4min", "4", "min"),
        ("0.8  V", "0.8", "V"),
        ("12 L/min", "12", "L/min"),
        ("2 V/L", "2", "V/L"),
        ("100 %", "100", "%"),
        ("20 °C", "20", "°C"),
        ("1.5e-3 m3/h", "1.5e-3", "m3/h"),
    ],
)
def test_a_unit_belongs_to_its_number(text: str, figure: str, unit: str) -> None:
    """One token, with or without a blank; `min` is the minute here."""
    line = path_line(f"x < {text} and y")
    assert line.expression.operands[0].right == number(figure, unit)


@pytest.mark.parametrize("word", ["and", "or"])
def test_a_word_of_the_language_is_no_unit(word: str) -> None:
    """`x < 3 and y` compares with a bare 3."""
    assert path_line(f"x < 3 {word} y").expression.operands == (
        tree.Compare(S, "<", name("x"), number("3")),
        name("y"),
    )


@pytest.mark.parametrize("text", ["notable", "android", "on_1", "offset", "inlet", "risings", "minimum", "setpoint"])
def test_a_name_may_begin_like_a_word(text: str) -> None:
    """Words are whole words."""
    assert path_line(text) == tree.Condition(S, name(text))
    assert path_line(f"=> {text}") == tree.Output(S, "coil", name(text))


def test_calls_hold_intervals_points_and_named_arguments() -> None:
    """Named arguments are told from comparisons by the function."""
    (rung,) = read(
        "rung r\n"
        "    => a := pi(v, target, gain = 2 V/L, starts from = 3 V) as loop\n"
        "    => b := table(x, 0 cm: 0 L, 10 cm: 31 L)\n"
        "    => c := select(n = 3, 1, min(2, 4))\n"
    )
    pi, table, select = (output.value for output in rung.outputs)
    assert (pi.name, [argument.keyword for argument in pi.arguments]) == ("loop", [None, None, "gain", "starts from"])
    assert table.arguments[1].value == tree.Point(S, number("0", "cm"), number("0", "L"))
    assert select.arguments[0] == tree.Argument(S, tree.Compare(S, "=", name("n"), number("3")))


def test_a_tag_line_says_its_extras_in_any_order() -> None:
    """Whatever the order, the tree is the same, and the formatter puts one order."""
    usual = read('tags\n    x memory real cm -5..10 = 3 on stop hold retained "why"\n')
    other = read('tags\n    x memory real cm -5..10 "why" retained on stop hold = 3\n')
    assert usual == other
    assert to_text(usual[0]) == 'tags\n    x  memory  real cm -5..10 = 3   on stop hold retained   "why"\n'


def test_headers_carry_what_they_say() -> None:
    """Names, sentences, times, supplies, own parts, hazards."""
    use, controller, plant, hazard, requirement = read(
        'use "plant.rung"\n'
        'controller "C" every 10..50 ms\n'
        'plant "Yard" every 5 ms parts from "own.py"\n'
        "    lamp P1\n"
        'hazard H1 "Flood"\n'
        "    safe state not pump\n"
        'requirement R1 "Dry" against H1, H2\n'
        "    even with any one fault\n"
        "    from 30 min always dry\n"
    )
    assert use == tree.Use(S, "plant.rung")
    assert controller.every == tree.Interval(S, number("10"), number("50", "ms"))
    assert plant.parts_from == "own.py"
    assert hazard.safe_state == tree.Not(S, name("pump"))
    assert requirement.against == (name("H1"), name("H2"))
    assert (requirement.any_one_fault, requirement.outputs_free) == (True, False)
    assert requirement.from_time == number("30", "min")
    assert requirement.form == tree.Always(S, name("dry"))


def test_spans_point_at_the_text() -> None:
    """Line and column count from 1, the end column is exclusive, tabs count as one character."""
    source = parse_text("rung r\n\tabc and   de # x\n    => f\n", "x.rung", Reporter(dict(CATALOGUE)))
    (rung,) = source.blocks
    assert isinstance(rung, tree.Rung)
    (condition,) = rung.elements
    assert condition.span == tree.Span("x.rung", 2, 2, 14)
    assert isinstance(condition, tree.Condition) and isinstance(condition.expression, tree.Series)
    assert [operand.span.column for operand in condition.expression.operands] == [2, 12]


def test_a_scenario_knows_all_its_lines() -> None:
    """Every action, with and without duration, on parts, contacts, terminals and the controller."""
    lines = (
        "at 0 s set x 3 cm",
        "at 1 s press S1 for 200 ms",
        "at 2 s release S1",
        "at 3 s fault X1:3 wire_broken for 1 s",
        "at 4 s clear S0.1 welded",
        "at 5 s cut controller for 1 s",
        "at 6 s restore P24",
        "at 7 s stop controller",
        "at 8 s resume controller",
        "parameter target = 120 L",
        "scans 10 ms, 50 ms",
        "noise seed 7 lane 3",
        "ends at 12 s",
        "expect x within 1 s",
        "expect x for 1 s",
        "expect x",
    )
    (scenario,) = read('scenario "S"\n' + "".join(f"    {line}\n" for line in lines))
    events = scenario.lines
    assert events[3] == tree.At(
        S, number("3", "s"), "fault", name("X1:3"), tree.Word(S, "wire_broken"), number("1", "s")
    )
    assert events[5] == tree.At(S, number("5", "s"), "cut", name("controller"), None, number("1", "s"))
    assert events[10] == tree.ScansLine(S, (number("10", "ms"), number("50", "ms")))
    assert events[11] == tree.NoiseLine(S, 7, 3)
    assert [event.mode for event in events[13:]] == ["within", "for", "at end"]
