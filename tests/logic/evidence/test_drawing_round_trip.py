"""Drawings one to one with the file: drawn rungs, read back, are the rungs."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rungproof.grammar import CATALOGUE, Reporter, parse_text, tree
from rungproof.grammar.tree import Span
from rungproof.grammar.unparse import to_text
from rungproof.logic.evidence.drawing_contacts import Contacts
from rungproof.logic.evidence.drawing_text import comments_of, draw_rung, sheets_of

HERE = Span("sample.rung", 1, 1, 2)

words = st.sampled_from(["a", "stop_ok", "level_is_high", "S0.1", "hold.elapsed", "x" * 24])
names = words.map(lambda text: tree.Name(HERE, text))
comparisons = st.builds(
    lambda name, sign, figure, more: tree.Compare(HERE, sign, name, _sum(figure, more)),
    names,
    st.sampled_from(["<", "<=", ">", "<>"]),
    st.integers(0, 10**6),
    st.lists(names, max_size=8),
)


def _sum(figure: int, more: list[tree.Name]) -> tree.Expression:
    total: tree.Expression = tree.Number(HERE, str(figure), "cm")
    for name in more:
        total = tree.Arithmetic(HERE, "+", total, name)
    return total


leaves = st.one_of(
    names,
    names.map(lambda n: tree.Not(HERE, n)),
    st.builds(lambda kind, n: tree.Edge(HERE, kind, n), st.sampled_from(["rising", "falling"]), names),
    names.map(lambda n: tree.Not(HERE, tree.Group(HERE, tree.Parallel(HERE, (n, n))))),
    names.map(lambda n: tree.Not(HERE, tree.Edge(HERE, "rising", n))),
    st.booleans().map(lambda value: tree.Truth(HERE, value)),
    comparisons,
)


def _grown(children: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    several = st.lists(children, min_size=2, max_size=4).map(tuple)
    return st.one_of(
        several.map(lambda some: tree.Group(HERE, tree.Parallel(HERE, some))),
        several.map(lambda some: tree.Group(HERE, tree.Series(HERE, some))),
    )


conditions = st.recursive(leaves, _grown, max_leaves=12)
stages = st.builds(
    tree.Stage,
    st.just(HERE),
    st.sampled_from(["on-delay", "off-delay", "pulse", "accumulating on-delay", "count-up", "count-down", "rising"]),
    st.sampled_from(["hold", "starts", "a_stage_of_long_name"]),
    st.one_of(st.none(), st.just(tree.Number(HERE, "500", "ms"))),
    st.one_of(st.none(), names),
    st.booleans(),
)
elements = st.one_of(conditions.map(lambda e: tree.Condition(HERE, e)), stages)
outputs = st.builds(
    tree.Output,
    st.just(HERE),
    st.sampled_from(["coil", "negated", "set", "reset", "assign"]),
    names,
    comparisons.map(lambda c: c.right),
    st.one_of(st.none(), conditions),
)
rungs = st.builds(
    tree.Rung,
    st.just(HERE),
    st.just("sample"),
    st.sampled_from([None, "A remark", "A long remark " * 12]),
    st.lists(elements, max_size=5).map(tuple),
    st.lists(outputs, max_size=4).map(tuple),
)


#: What the symbol of a device reads back as; a point of the circuit stands in brackets.
DEVICES = {"make": "contact", "break": "not", "node": "text", None: "contact"}


def network(rung: tree.Rung, contacts: Contacts | None = None) -> list[Any]:
    """What the drawing must show, in the words of the reader in conftest.py; `contacts` in a circuit."""
    items = [item for element in rung.elements for item in _element(element, contacts)]
    ends = [[*_condition(o.when, contacts), _output(o)] if o.when else [_output(o)] for o in rung.outputs]
    if len(ends) > 1:
        return [*items, ("parallel", ends)]
    return [*items, *(ends[0] if ends else [])]


def _element(element: tree.Condition | tree.Stage, contacts: Contacts | None) -> list[Any]:
    if isinstance(element, tree.Condition):
        return _condition(element.expression, contacts)
    said = [element.kind]
    if element.preset is not None:
        said.append(to_text(element.preset))
    if element.by is not None:
        said += ["load by" if element.kind == "count-down" else "clear by", element.by.text]
    if element.retained:
        said.append("retained")
    return [("box", element.name, " ".join(said))]


def _condition(expression: tree.Expression, contacts: Contacts | None) -> list[Any]:
    match expression:
        case tree.Group(inner=inner):
            return _condition(inner, contacts)
        case tree.Series(operands=operands):
            return [item for operand in operands for item in _condition(operand, contacts)]
        case tree.Parallel(operands=operands):
            return [("parallel", [_condition(operand, contacts) for operand in operands])]
        case tree.Name(text=text) if contacts is not None:
            return [(DEVICES[contacts.get(text)], text)]
        case _ if contacts is not None:
            return [("text", to_text(expression))]
        case tree.Name(text=text):
            return [("contact", text)]
        case tree.Not(operand=tree.Name(text=text)):
            return [("not", text)]
        case tree.Edge(kind=kind, operand=tree.Name(text=text)):
            return [(kind, text)]
    return [("text", to_text(expression))]


def _output(output: tree.Output) -> Any:
    if output.kind == "assign":
        assert output.value is not None
        return ("box", output.target.text, f":= {to_text(output.value)}")
    return (output.kind, output.target.text)


Reader = Callable[[list[str]], list[Any]]


@settings(max_examples=200, deadline=None)
@given(rung=rungs, width=st.sampled_from([40, 60, 100, 400]))
def test_a_drawn_rung_read_back_is_the_rung(read_back: Reader, rung: tree.Rung, width: int) -> None:
    """Every element stands in the drawing, in order and in its branch, and nothing else does."""
    assert read_back(draw_rung(rung, width=width)) == network(rung)


kinds: st.SearchStrategy[Contacts] = st.dictionaries(words, st.sampled_from(["make", "break", "node"]), max_size=5)


@settings(max_examples=100, deadline=None)
@given(rung=rungs, width=st.sampled_from([40, 100]), contacts=kinds)
def test_a_drawn_rung_of_a_circuit_read_back_is_the_rung(
    read_back: Reader, rung: tree.Rung, width: int, contacts: Contacts
) -> None:
    """A break contact reads back as one, whatever stands round it; an unknown kind is named below."""
    lines = draw_rung(rung, width=width, contacts=contacts)
    assert read_back(lines) == network(rung, contacts)
    noted = {line.split(":")[0].strip() for line in lines if line.endswith(": kind not known")}
    assert noted == _devices(rung) - set(contacts)


def _devices(rung: tree.Rung) -> set[str]:
    """The names that stand as contacts: those on which no `not`, edge or comparison stands."""
    expressions = [e.expression for e in rung.elements if isinstance(e, tree.Condition)]
    waiting = [*expressions, *(o.when for o in rung.outputs if o.when is not None)]
    found = set()
    while waiting:
        match waiting.pop():
            case tree.Name(text=text):
                found.add(text)
            case tree.Group(inner=inner):
                waiting.append(inner)
            case tree.Series(operands=operands) | tree.Parallel(operands=operands):
                waiting += operands
    return found


@settings(max_examples=60, deadline=None)
@given(rung=rungs)
def test_a_drawing_keeps_to_its_width_where_names_allow(rung: tree.Rung) -> None:
    """No line is wider than asked, down to the columns that nested branches need for themselves."""
    assert max(map(len, draw_rung(rung, width=200))) <= 200


EXAMPLES = sorted((Path(__file__).parents[3] / "examples").rglob("*.rung"))


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: f"{path.parent.name}/{path.name}")
def test_every_rung_of_the_examples_is_drawn_whole(read_back: Reader, path: Path) -> None:
    """Controllers and circuits alike, at the usual width and at a narrow one."""
    reporter = Reporter(CATALOGUE)
    text = path.read_text(encoding="utf-8")
    blocks = parse_text(text, str(path), reporter).blocks
    controller = path.with_name("controller.rung" if path.with_name("controller.rung").exists() else "given.rung")
    if path.name == "plant.rung":
        blocks += parse_text(controller.read_text(encoding="utf-8"), controller.name, reporter).blocks
    for sheet in [each for each in sheets_of(blocks) if each.rungs[0].span.file == str(path)]:
        for rung in sheet.rungs:
            for width in (100, 50):
                comments = comments_of([(str(path), text)])
                lines = draw_rung(rung, rails=sheet.rails, width=width, comments=comments, contacts=sheet.contacts)
                assert read_back(lines) == network(rung, sheet.contacts)
                assert not any("kind not known" in line for line in lines)
    assert not reporter.has_errors
