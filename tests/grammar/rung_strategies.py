"""Random `.rung` files: trees that a text can give, and such texts spoiled by untidy writing.

Other test folders reuse this by adding `tests/grammar` to the path, as the conftest here does.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from hypothesis import strategies as st
from rungproof.grammar import RESERVED, tree
from rungproof.grammar.unparse import to_text

SPAN = tree.Span("", 1, 1, 1)

UNITS = ("s", "ms", "min", "h", "cm", "L", "L/min", "cm2", "V", "V/L", "mA", "%", "°C", "m3/h")
TIMES = ("ms", "s", "min", "h")
#: Words that a rung or a tag line would not read as a name, beside the reserved ones.
_TAKEN = RESERVED | {"hold", "endif", "end_if", "end_rung"}
#: Words that may follow a bare number without being taken for its unit.
_AFTER_NUMBER = ("as", "from", "into", "at", "on", "in", "to", "by")

_letters = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ"
names = st.builds(
    lambda first, rest: first + rest, st.sampled_from(_letters), st.text(_letters + "0123456789_", max_size=9)
).filter(lambda name: name.lower() not in _TAKEN)
dotted = st.builds(lambda base, inner: f"{base}.{inner}", names, st.one_of(names, st.sampled_from("123")))
texts = st.text(
    st.characters(codec="utf-8", exclude_categories=("Cc", "Cs", "Cf", "Zl", "Zp"), exclude_characters='"'), max_size=30
)
figures = st.one_of(
    st.integers(0, 99_999).map(str),
    st.decimals(0, 999, places=2).map(str),
)


def node(make: Callable[..., Any], *parts: Any, **named: Any) -> st.SearchStrategy[Any]:
    """A node whose fields are drawn; its span says nothing."""
    return st.builds(make, st.just(SPAN), *parts, **named)


plain_names = node(tree.Name, names)
any_names = node(tree.Name, st.one_of(names, dotted))
numbers = node(tree.Number, figures, st.one_of(st.none(), st.sampled_from(UNITS)))
counts = node(tree.Number, st.integers(1, 999).map(str), st.none())
times = node(tree.Number, figures, st.sampled_from(TIMES))
times_or_names = st.one_of(times, plain_names)
truths = node(tree.Truth, st.booleans())
literals = st.one_of(numbers, node(tree.Negate, numbers))
spans = node(tree.Interval, literals, literals)


def atoms(depth: int) -> st.SearchStrategy[Any]:
    """A number, a name, a truth, a group or a call."""
    leaves = st.one_of(numbers, truths, any_names)
    if depth <= 0:
        return leaves
    return st.one_of(leaves, node(tree.Group, expressions(depth - 1)), calls(depth - 1))


def calls(depth: int) -> st.SearchStrategy[Any]:
    """A call: of `select` without named arguments, of another function with them."""
    values = st.one_of(
        sums(depth), node(tree.Interval, sums(depth), sums(depth)), node(tree.Point, sums(depth), sums(depth))
    )
    keywords = st.one_of(st.none(), names, st.just("starts from"))
    named = st.lists(node(tree.Argument, sums(depth), keywords), max_size=2)
    arguments = st.builds(
        lambda plain, more: tuple(plain) + tuple(more), st.lists(node(tree.Argument, values), max_size=2), named
    )
    naming = st.one_of(st.none(), names)
    plain = st.lists(node(tree.Argument, expressions(depth)), max_size=3).map(tuple)
    return st.one_of(
        node(tree.Call, st.sampled_from(("pi", "scale", "min", "table")), arguments, naming),
        node(tree.Call, st.just("select"), plain, naming),
    )


def unaries(depth: int) -> st.SearchStrategy[Any]:
    """An atom, with or without minus."""
    return st.one_of(atoms(depth), node(tree.Negate, atoms(depth)))


def products(depth: int) -> st.SearchStrategy[Any]:
    """A product, to the left."""
    simple = unaries(depth)
    return st.one_of(simple, node(tree.Arithmetic, st.sampled_from("*/"), simple, simple))


def sums(depth: int) -> st.SearchStrategy[Any]:
    """A sum, to the left."""
    simple = products(depth)
    pair = node(tree.Arithmetic, st.sampled_from("+-"), simple, simple)
    return st.one_of(simple, pair, node(tree.Arithmetic, st.sampled_from("+-"), pair, simple))


def comparisons(depth: int) -> st.SearchStrategy[Any]:
    """A comparison of two sums, or a `between`."""
    side = sums(depth)
    return st.one_of(
        node(tree.Compare, st.sampled_from(("<", "<=", ">", ">=", "=", "<>")), side, side),
        node(tree.Between, side, side, side),
    )


def elements(depth: int) -> st.SearchStrategy[Any]:
    """One element of a series."""
    edge = node(tree.Edge, st.sampled_from(("rising", "falling")), atoms(depth))
    simple = st.one_of(sums(depth), comparisons(depth), edge)
    return st.one_of(simple, node(tree.Not, simple))


def several(make: Callable[..., Any], part: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    """Two or three operands."""
    return node(make, st.lists(part, min_size=2, max_size=3).map(tuple))


def expressions(depth: int = 1) -> st.SearchStrategy[Any]:
    """Any expression that a requirement may hold."""
    element = elements(depth)
    series = several(tree.Series, element)
    return st.one_of(element, series, several(tree.Parallel, st.one_of(element, series)))


def contacts(depth: int = 1) -> st.SearchStrategy[Any]:
    """An expression that can be drawn: no `not` and no edge before a group."""
    edge = node(tree.Edge, st.sampled_from(("rising", "falling")), any_names)
    simple = st.one_of(any_names, edge, node(tree.Not, st.one_of(any_names, edge)), comparisons(0))
    if depth > 0:
        simple = st.one_of(simple, node(tree.Group, contacts(depth - 1)))
    series = several(tree.Series, simple)
    return st.one_of(simple, series, several(tree.Parallel, st.one_of(simple, series)))


# ---------------------------------------------------------------------- lines

conditions = node(tree.Condition, contacts())
stages = st.one_of(
    node(
        tree.Stage,
        st.sampled_from(("on-delay", "off-delay", "pulse")),
        names,
        preset=times_or_names,
        retained=st.booleans(),
    ),
    node(
        tree.Stage,
        st.just("accumulating on-delay"),
        names,
        preset=times_or_names,
        by=any_names,
        retained=st.booleans(),
    ),
    node(
        tree.Stage,
        st.sampled_from(("count-up", "count-down")),
        names,
        preset=st.one_of(counts, plain_names),
        by=any_names,
        retained=st.booleans(),
    ),
    node(tree.Stage, st.just("rising"), names),
)
_when = st.one_of(st.none(), contacts())
outputs = st.one_of(
    node(tree.Output, st.sampled_from(("coil", "negated", "set", "reset")), any_names, when=_when),
    node(tree.Output, st.just("assign"), any_names, value=expressions(), when=_when),
)
rungs = node(
    tree.Rung,
    names,
    st.one_of(st.none(), texts),
    st.lists(st.one_of(conditions, stages), max_size=3).map(tuple),
    st.lists(outputs, min_size=1, max_size=3).map(tuple),
)

tag_lines = node(
    tree.TagLine,
    names,
    st.sampled_from(("input", "output", "memory", "parameter")),
    st.sampled_from(("bool", "int", "real")),
    unit=st.one_of(st.none(), st.sampled_from(UNITS)),
    range=st.one_of(st.none(), spans),
    start=st.one_of(st.none(), sums(0)),
    on_stop=st.one_of(st.none(), sums(0), st.just(tree.Name(SPAN, "hold"))),
    retained=st.booleans(),
    remark=st.one_of(st.none(), texts),
)

_words = node(tree.Word, st.one_of(names, dotted, st.sampled_from(_AFTER_NUMBER)))
_signed = node(
    tree.Number,
    st.builds(lambda sign, figure: sign + figure, st.sampled_from(("", "-")), figures),
    st.one_of(st.none(), st.sampled_from(UNITS)),
)
_items = st.one_of(_words, _signed, node(tree.Interval, _signed, _signed), node(tree.Text, texts))


def _bare(item: Any) -> bool:
    """Whether a word behind this item would be taken for a unit."""
    last = item.high if isinstance(item, tree.Interval) else item
    return isinstance(last, tree.Number) and last.unit is None


def _kept_apart(items: list[Any]) -> tuple[Any, ...]:
    apart: list[Any] = []
    for item in items:
        if apart and _bare(apart[-1]) and isinstance(item, tree.Word):
            apart.append(tree.Word(SPAN, "from"))
        apart.append(item)
    return tuple(apart)


clauses = node(tree.Clause, st.lists(_items, min_size=1, max_size=4).map(_kept_apart))
part_lines = node(tree.PartLine, names, names, st.lists(clauses, max_size=3).map(tuple))
terminals = st.builds(lambda module, number: f"{module}:{number}", names, st.integers(1, 99))
feed_lines = st.one_of(
    node(tree.FeedLine, st.just("controller"), st.none(), any_names),
    node(tree.FeedLine, st.sampled_from(("inputs", "outputs")), names, any_names),
)
_signals = st.one_of(
    st.fixed_dictionaries({}),
    st.fixed_dictionaries({"signal": spans}),
    st.fixed_dictionaries({"signal": spans, "counts": spans}),
)
_ends = st.one_of(
    st.fixed_dictionaries({}),
    st.fixed_dictionaries({"source": any_names}),
    st.fixed_dictionaries({"target": any_names}),
)
wire_lines = st.builds(
    lambda tag, terminal, signal, end: tree.WireLine(SPAN, tag, terminal, **signal, **end),
    any_names,
    terminals,
    _signals,
    _ends,
)

_condition = expressions()
_events_counted = node(tree.Edge, st.sampled_from(("rising", "falling")), any_names)
forms = st.one_of(
    node(tree.Never, _condition),
    node(tree.Always, _condition),
    node(tree.Whenever, _condition, _condition, st.just("at once")),
    node(tree.Whenever, _condition, _condition, st.sampled_from(("within", "for")), times_or_names),
    node(tree.Stood, _condition, times_or_names, _condition),
    node(tree.AfterNever, _condition, _condition, _condition),
    node(tree.AtMost, counts, _events_counted, times_or_names),
    node(tree.Before, _condition, _condition),
)

_lasting = st.one_of(st.none(), times)
_controller = st.just(tree.Name(SPAN, "controller"))
_faulty = node(tree.Name, st.one_of(names, dotted, terminals))
_fault_words = node(tree.Word, names)
events = st.one_of(
    node(tree.At, times, st.just("set"), any_names, expressions()),
    node(tree.At, times, st.just("press"), any_names, duration=_lasting),
    node(tree.At, times, st.just("release"), any_names),
    node(tree.At, times, st.just("fault"), _faulty, _fault_words, _lasting),
    node(tree.At, times, st.just("clear"), _faulty, _fault_words),
    node(tree.At, times, st.just("cut"), st.one_of(_controller, any_names), duration=_lasting),
    node(tree.At, times, st.just("restore"), st.one_of(_controller, any_names)),
    node(tree.At, times, st.just("stop"), _controller, duration=_lasting),
    node(tree.At, times, st.just("resume"), _controller),
    node(tree.ParameterLine, any_names, expressions()),
    node(tree.ScansLine, st.lists(times, min_size=1, max_size=3).map(tuple)),
    node(tree.NoiseLine, st.integers(0, 10**9), st.integers(0, 10**6)),
    node(tree.EndsLine, times),
    node(tree.Expect, _condition, st.just("at end")),
    node(tree.Expect, _condition, st.sampled_from(("within", "for")), times),
)

# --------------------------------------------------------------------- blocks


def _some(lines: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    return st.lists(lines, min_size=1, max_size=4).map(tuple)


blocks = st.one_of(
    node(tree.Use, texts),
    node(tree.Controller, texts, st.one_of(times, node(tree.Interval, literals, times))),
    node(tree.Tags, _some(tag_lines)),
    rungs,
    node(
        tree.Plant, texts, times, st.lists(part_lines, min_size=1, max_size=4).map(tuple), st.one_of(st.none(), texts)
    ),
    node(tree.Circuit, texts, any_names, _some(rungs)),
    node(tree.Wiring, _some(st.one_of(feed_lines, wire_lines))),
    node(tree.Hazard, names, texts, st.one_of(st.none(), _condition)),
    node(
        tree.Requirement,
        names,
        texts,
        st.lists(any_names, max_size=2).map(tuple),
        forms,
        st.one_of(st.none(), times_or_names),
        st.booleans(),
        st.booleans(),
    ),
    node(tree.Assume, texts, _condition),
    node(tree.Exclude, texts, _some(node(tree.ExcludedFault, st.one_of(st.none(), any_names), node(tree.Word, names)))),
    node(tree.Scenario, texts, _some(events)),
)
#: Whole files, as trees that a text can give.
files = st.builds(
    lambda several: tree.SourceFile("random.rung", tuple(several)), st.lists(blocks, min_size=1, max_size=5)
)


@st.composite
def untidy_texts(draw: st.DrawFn) -> str:
    """The text of a random file, as nobody has tidied it: comments, blank lines, odd depths, CRLF."""
    lines: list[str] = []
    for line in to_text(draw(files)).splitlines():
        blanks = len(line) - len(line.lstrip(" "))
        spoiled = " " * (blanks * draw(st.sampled_from((1, 2)))) + line.lstrip(" ")
        if line.strip() and draw(st.booleans()):
            spoiled += draw(st.sampled_from(("  # why", '# a "quoted" remark', "   #", " \t# äöü")))
        lines.append(spoiled)
        for _ in range(draw(st.integers(0, 2))):
            lines.append(draw(st.sampled_from(("", "   ", "# at the edge", "    # indented", "\t"))))
    end = draw(st.sampled_from(("\n", "\r\n")))
    return end.join(lines) + draw(st.sampled_from(("", end, end * 3)))
