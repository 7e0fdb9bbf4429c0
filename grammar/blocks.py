"""Puts read lines together into blocks, and says which block lacks or repeats something."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from rungproof.grammar import tree
from rungproof.grammar.diagnosis import Reporter
from rungproof.grammar.line_nodes import FormLine, Header, ScopeLine
from rungproof.grammar.tree import Span


@dataclass(slots=True)
class OpenBlock:
    """A block as it is read. `header` is None where its line could not be read.

    `indents` are the columns at which its lines stand, by depth, and `uneven` says that a
    line which stands elsewhere has been reported.

    `nodes` are the lines read so far. `damaged` says that a line of it was lost, so that
    nothing may be said about what the block lacks.
    """

    word: str
    span: Span
    header: Header | None
    nodes: list[Any] = field(default_factory=list)
    damaged: bool = False
    uneven: bool = False
    indents: dict[int, int] = field(default_factory=dict)


def close_block(block: OpenBlock, reporter: Reporter) -> tree.Block | None:
    """The block's tree, or None where too much of it is missing."""
    if block.header is None:
        return None
    closed: tree.Block | None = _CLOSERS[block.word](block, reporter)
    return closed


def _plain(make: Callable[..., Any]) -> Callable[[OpenBlock, Reporter], Any]:
    """A block that is its header and nothing else."""

    def close(block: OpenBlock, reporter: Reporter) -> Any:
        assert block.header is not None
        return make(block.span, **block.header.fields)

    return close


def _listing(make: Callable[..., Any], field_name: str, example: str) -> Callable[[OpenBlock, Reporter], Any]:
    """A block that is its header and a list of lines, at least one."""

    def close(block: OpenBlock, reporter: Reporter) -> Any:
        assert block.header is not None
        if not block.nodes and not block.damaged:
            reporter.report("empty-block", block.span, word=block.word, example=example)
        return make(block.span, **block.header.fields, **{field_name: tuple(block.nodes)})

    return close


def close_rung(header: Header, nodes: list[Any], damaged: bool, reporter: Reporter) -> tree.Rung:
    elements: list[tree.Condition | tree.Stage] = []
    outputs: list[tree.Output] = []
    for node in nodes:
        if isinstance(node, tree.Output):
            outputs.append(node)
            continue
        if outputs:
            reporter.report("condition-after-output", node.span, related=((outputs[0].span, "the first output"),))
        elements.append(node)
    if not damaged and not outputs and not any(isinstance(element, tree.Stage) for element in elements):
        last = elements[-1] if len(elements) > 1 else None  # of a single line nobody would say that it is the output
        bare = (
            last.expression.text if isinstance(last, tree.Condition) and isinstance(last.expression, tree.Name) else ""
        )
        mend = f"add a line such as `=> running`; or write `=> {bare}`, if `{bare}` is what it drives" if bare else None
        reporter.report("rung-without-output", header.span, name=header.fields["name"], mend=mend)
    return tree.Rung(header.span, **header.fields, elements=tuple(elements), outputs=tuple(outputs))


def _rung(block: OpenBlock, reporter: Reporter) -> tree.Rung:
    assert block.header is not None
    return close_rung(block.header, block.nodes, block.damaged, reporter)


def _circuit(block: OpenBlock, reporter: Reporter) -> tree.Circuit:
    """The lines of a circuit are inner headers, each with its path lines after it."""
    assert block.header is not None
    rungs: list[tree.Rung] = []
    inner: Header | None = None
    lines: list[Any] = []
    for node in [*block.nodes, None]:
        if node is not None and not isinstance(node, Header):
            lines.append(node)
            continue
        if inner is not None:
            rungs.append(close_rung(inner, lines, block.damaged, reporter))
        inner, lines = node, []
    if not rungs and not block.damaged:
        reporter.report("empty-block", block.span, word="circuit", example="rung motor")
    return tree.Circuit(block.span, **block.header.fields, rungs=tuple(rungs))


def _only(block: OpenBlock, nodes: list[Any], what: str, reporter: Reporter) -> Any:
    """The one line of its sort that a block may have; the second is diagnosed."""
    for extra in nodes[1:]:
        reporter.report("said-twice", extra.span, what=what, related=((nodes[0].span, "said first here"),))
    return nodes[0] if nodes else None


def _hazard(block: OpenBlock, reporter: Reporter) -> tree.Hazard:
    assert block.header is not None
    fields = dict(block.header.fields)
    given = [fields["safe_state"]] if fields["safe_state"] is not None else []
    conditions = [node.expression for node in block.nodes]
    fields["safe_state"] = _only(block, given + conditions, "safe state", reporter)
    return tree.Hazard(block.span, **fields)


def _requirement(block: OpenBlock, reporter: Reporter) -> tree.Requirement | None:
    assert block.header is not None
    forms = [node for node in block.nodes if isinstance(node, FormLine)]
    scopes = [node for node in block.nodes if isinstance(node, ScopeLine)]
    for scope in ("outputs_free", "any_one_fault"):
        same = [node for node in scopes if node.scope == scope]
        _only(block, same, "the scope line", reporter)
    if not forms:
        if not block.damaged:
            reporter.report("requirement-without-form", block.span, name=block.header.fields["name"])
        return None
    for extra in forms[1:]:
        reporter.report("two-forms", extra.span, related=((forms[0].span, "the first form"),))
    for late in scopes:
        if late.span.line > forms[0].span.line:
            reporter.report("scope-after-form", late.span, related=((forms[0].span, "the form"),))
    return tree.Requirement(
        block.span,
        **block.header.fields,
        form=forms[0].form,
        from_time=forms[0].from_time,
        outputs_free=any(node.scope == "outputs_free" for node in scopes),
        any_one_fault=any(node.scope == "any_one_fault" for node in scopes),
    )


def _assume(block: OpenBlock, reporter: Reporter) -> tree.Assume | None:
    assert block.header is not None
    if not block.nodes:
        if not block.damaged:
            reporter.report("empty-block", block.span, word="assume", example="drip_lines.opening <= 90 %")
        return None
    condition = _only(block, block.nodes, "the assumption's condition", reporter)
    return tree.Assume(block.span, **block.header.fields, condition=condition.expression)


_CLOSERS: dict[str, Callable[[OpenBlock, Reporter], Any]] = {
    "use": _plain(tree.Use),
    "controller": _plain(tree.Controller),
    "tags": _listing(tree.Tags, "lines", "running   memory   bool"),
    "rung": _rung,
    "plant": _listing(tree.Plant, "parts", "relay K1   pulls in 20 ms, drops out 30 ms, make contacts 1"),
    "circuit": _circuit,
    "wiring": _listing(tree.Wiring, "lines", "start_pb   at X1:1   from S1"),
    "hazard": _hazard,
    "requirement": _requirement,
    "assume": _assume,
    "exclude": _listing(tree.Exclude, "lines", "fault X2:1 range_wrong"),
    "scenario": _listing(tree.Scenario, "lines", "at 0 s   press S1 for 200 ms"),
}
