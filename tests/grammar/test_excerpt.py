"""How a diagnosis looks: whole reports, as they are printed."""

from __future__ import annotations

from rungproof.grammar import CATALOGUE, Diagnosis, Reporter, Span, parse_text, render


def _shown(text: str) -> str:
    reporter = Reporter(dict(CATALOGUE))
    parse_text(text, "x.rung", reporter)
    return "\n".join(render(diagnosis, {"x.rung": text.split("\n")}) for diagnosis in reporter.sorted())


def test_a_whole_report() -> None:
    """Place and code, the sentence, the line with its caret, what was expected, the mend."""
    assert _shown("rung r\n    start_pb\n    on-delay 5 as hold\n    => running\n") == (
        "x.rung:3:14  time-without-unit\n"
        "    5 of what? A time stands with its unit.\n"
        "        on-delay 5 as hold\n"
        "                 ^\n"
        "    Expected: a number and a unit of time: ms, s, min or h.\n"
        "    Mend: write `5 s` or `5 ms`."
    )


def test_a_related_place_is_shown_with_its_line() -> None:
    """Where two places make the mistake, both are there."""
    assert _shown("rung r\n    a\n    => b\n    c\n") == (
        "x.rung:4:5  condition-after-output\n"
        "    A condition stands below an output.\n"
        "        c\n"
        "        ^\n"
        "    Expected: all conditions and stages of a rung first, its outputs (`=> ...`) last.\n"
        "    Mend: move this line above the first output, or begin a new rung; "
        "a single output has its own contacts with `=> tag when contact`.\n"
        "    See x.rung:3:5, the first output:\n"
        "        => b\n"
        "        ^^^^"
    )


def test_a_warning_says_that_it_is_one() -> None:
    """Errors are the rule and say nothing of it."""
    assert _shown("rung r\n    a\n      b\n    => c\n").startswith("x.rung:3:7  uneven-indentation  (warning)\n")


def _lines(line: str, column: int, end_column: int) -> tuple[str, str]:
    diagnosis = Diagnosis("code", "error", Span("x", 1, column, end_column), "Message.")
    _head, _message, text, caret = render(diagnosis, {"x": [line]}).split("\n")
    return text, caret


def test_the_caret_stands_below_its_place_behind_tabs_and_wide_characters() -> None:
    """Columns of a terminal, not characters."""
    assert _lines('rung r "電圧" oops', 13, 17) == ('        rung r "電圧" oops', "                      ^^^^")
    assert _lines("\ta\tbb", 4, 6) == ("        a    bb", "             ^^")


def test_a_long_line_is_cut_around_the_caret() -> None:
    """The caret's word is in sight, whether it stands at the beginning, in the middle or at the end."""
    line = "x" * 5_000 + "HERE" + "y" * 5_000
    text, caret = _lines(line, 5_001, 5_005)
    assert len(text) < 120
    assert text[caret.index("^") : caret.rindex("^") + 1] == "HERE"
    assert text.lstrip().startswith("…") and text.endswith("…")
    for column in (1, 9_990):
        text, caret = _lines(line, column, column + 4)
        assert len(text) < 120
        assert text[caret.index("^")] == line[column - 1]


def test_a_caret_may_stand_behind_the_end_of_the_line() -> None:
    """A line that ends too early points behind its last character."""
    assert _lines("a and", 6, 7) == ("        a and", "             ^")


def test_characters_that_cannot_be_shown_are_dots() -> None:
    """Nothing in a file can move the reader's cursor or change its colours."""
    text, _caret = _lines("a\x1b[31mb", 1, 2)
    assert text == "        a·[31mb"


def test_a_place_without_its_text_still_has_its_message() -> None:
    """A file that could not be read has no line to show."""
    diagnosis = Diagnosis("file-missing", "error", Span("gone.rung", 1, 1, 2), "There is no file.")
    assert render(diagnosis, {}) == "gone.rung:1:1  file-missing\n    There is no file."
