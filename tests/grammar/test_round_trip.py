"""Tree to text and back, and the formatter's laws."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from rung_strategies import expressions, files, untidy_texts
from rungproof.grammar import CATALOGUE, Reporter, format_text, parse_text, to_text, tree

SLOW = settings(deadline=None, suppress_health_check=list(HealthCheck))
EXAMPLES = sorted((Path(__file__).parents[2] / "examples").rglob("*.rung"))


def _reporter() -> Reporter:
    return Reporter(dict(CATALOGUE))


@SLOW
@given(files)
def test_reading_the_text_of_a_tree_gives_the_tree(source: tree.SourceFile) -> None:
    """`parse(to_text(tree)) == tree`, without a diagnosis."""
    reporter = _reporter()
    text = to_text(source)
    assert parse_text(text, "random.rung", reporter) == source, text
    assert reporter.sorted() == ()


@SLOW
@given(files)
def test_the_text_of_a_tree_is_as_the_formatter_leaves_it(source: tree.SourceFile) -> None:
    """`to_text` gives stories that paste into a formatted file."""
    text = to_text(source)
    assert format_text(text, "random.rung", _reporter()) == text


@SLOW
@given(untidy_texts())
def test_formatting_keeps_meaning_and_comments_and_is_idempotent(text: str) -> None:
    """Trees are equal, comments are all there in their order, and a second pass changes nothing."""
    formatted = format_text(text, "random.rung", _reporter())
    assert formatted is not None
    assert parse_text(formatted, "random.rung", _reporter()) == parse_text(text, "random.rung", _reporter())
    assert _comments(formatted) == _comments(text)
    assert format_text(formatted, "random.rung", _reporter()) == formatted
    assert "\r" not in formatted
    assert "\n\n\n" not in formatted
    assert formatted.endswith("\n") and not formatted.startswith("\n")
    assert all(line == line.rstrip() for line in formatted.split("\n"))


def _comments(text: str) -> list[str]:
    """The comments, found here in another way than the code finds them: quotes out first."""
    without = [re.sub(r'"[^"#]*(#[^"]*)*"', "", line) for line in text.replace("\r\n", "\n").split("\n")]
    cut = [line[line.index("#") :].rstrip() for line in without if "#" in line]
    return [comment for comment in cut if comment]


@SLOW
@given(expressions(2))
def test_an_expression_reads_back_where_it_stands_in_a_requirement(expression: tree.Expression) -> None:
    """Precedence and grouping survive the text."""
    text = f'requirement R1 "x"\n    never {to_text(expression)}\n'
    (block,) = parse_text(text, "random.rung", _reporter()).blocks
    assert isinstance(block, tree.Requirement)
    assert block.form == tree.Never(block.span, expression), text


@pytest.mark.parametrize(
    ("built", "text"),
    [
        (("-", "a", ("-", "b", "c")), "a - (b - c)"),
        (("-", ("-", "a", "b"), "c"), "a - b - c"),
        (("*", ("+", "a", "b"), "c"), "(a + b) * c"),
        (("/", "a", ("*", "b", "c")), "a / (b * c)"),
    ],
)
def test_a_tree_built_by_hand_gets_the_parentheses_it_needs(built: object, text: str) -> None:
    """Without a `Group` in the tree the text still means what the tree means."""

    def make(shape: object) -> tree.Expression:
        span = tree.Span("", 1, 1, 1)
        if isinstance(shape, str):
            return tree.Name(span, shape)
        assert isinstance(shape, tuple)
        return tree.Arithmetic(span, shape[0], make(shape[1]), make(shape[2]))

    assert to_text(make(built)) == text


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: f"{path.parent.name}/{path.name}")
def test_every_example_formats_and_keeps_its_meaning(path: Path) -> None:
    """The examples go through the same laws as the random files."""
    text = path.read_text(encoding="utf-8")
    formatted = format_text(text, path.name, _reporter())
    assert formatted is not None
    assert format_text(formatted, path.name, _reporter()) == formatted
    source = parse_text(text, path.name, _reporter())
    assert parse_text(to_text(source), path.name, _reporter()) == source
