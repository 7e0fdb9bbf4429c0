"""Lines as cells: what stands in which column."""

from __future__ import annotations

from typing import Any, assert_never

from rungproof.grammar import tree
from rungproof.grammar.expression_text import expression_text
from rungproof.grammar.line_nodes import AssumptionLine, FormLine, Header, SafeLine, ScopeLine

Cells = tuple[str, ...]


def quoted(text: str) -> str:
    """A text between quotes. What cannot stand there is replaced: a quote by `'`, a line feed by a blank."""
    return '"' + " ".join(text.replace('"', "'").splitlines()) + '"'


def header_cells(word: str, source: Any) -> Cells:
    """A block's first line. `source` is the block, or anything with the same attributes."""
    match word:
        case "tags" | "wiring":
            return (word,)
        case "use":
            return (f"use {quoted(source.file)}",)
        case "controller":
            return (f"controller {quoted(source.name)} every {expression_text(source.every)}",)
        case "rung":
            remark = "" if source.remark is None else f" {quoted(source.remark)}"
            return (f"rung {source.name}{remark}",)
        case "plant":
            own = "" if source.parts_from is None else f" parts from {quoted(source.parts_from)}"
            return (f"plant {quoted(source.name)} every {expression_text(source.every)}{own}",)
        case "circuit":
            return (f"circuit {quoted(source.name)} from {source.supply.text}",)
        case "hazard":
            safe = "" if source.safe_state is None else f"safe state {expression_text(source.safe_state)}"
            return (f"hazard {source.name} {quoted(source.sentence)}", safe)
        case "requirement":
            against = ", ".join(name.text for name in source.against)
            return (
                f"requirement {source.name} {quoted(source.sentence)}" + (f" against {against}" if against else ""),
            )
        case "assume" | "exclude" | "scenario":
            return (f"{word} {quoted(source.sentence)}",)
    raise ValueError(f"no block begins with {word!r}")


class _Attributes:
    """A header's fields, read as attributes."""

    def __init__(self, header: Header) -> None:
        self.__dict__.update(header.fields)


def family_of(node: Any) -> str:
    """Which lines this one shares its columns with."""
    match node:
        case Header():
            return "hazard" if node.word == "hazard" else "header"
        case tree.TagLine():
            return "tag"
        case tree.PartLine():
            return "part"
        case tree.FeedLine():
            return "feed"
        case tree.WireLine():
            return "wire"
        case tree.At() | tree.ParameterLine() | tree.ScansLine() | tree.NoiseLine() | tree.EndsLine() | tree.Expect():
            return "event"
        case tree.Output(kind="assign"):
            return "assign"
        case _:
            return "plain"


def cells_of(node: Any) -> Cells:
    """The cells of any line; a family's cells stand in that family's columns."""
    match node:
        case Header():
            return header_cells(node.word, _Attributes(node))
        case tree.Condition() | AssumptionLine():
            return (expression_text(node.expression),)
        case SafeLine():
            return (f"safe state {expression_text(node.expression)}",)
        case tree.Stage():
            return (_stage(node),)
        case tree.Output():
            return _output(node)
        case tree.TagLine():
            return _tag(node)
        case tree.PartLine():
            return (f"{node.kind} {node.name}", ", ".join(clause_text(clause) for clause in node.clauses))
        case tree.FeedLine():
            module = "" if node.module is None else f" {node.module}"
            return (f"{node.what}{module}", f"from {node.supply.text}")
        case tree.WireLine():
            return _wire(node)
        case ScopeLine():
            return ("with outputs free" if node.scope == "outputs_free" else "even with any one fault",)
        case FormLine():
            start = "" if node.from_time is None else f"from {expression_text(node.from_time)} "
            return (start + form_text(node.form),)
        case tree.ExcludedFault():
            target = "any" if node.target is None else node.target.text
            return (f"fault {target} {node.fault.text}",)
        case _:
            return _event(node)


def _stage(node: tree.Stage) -> str:
    preset = "" if node.preset is None else f" {expression_text(node.preset)}"
    retained = " retained" if node.retained else ""
    verb = "load" if node.kind == "count-down" else "clear"
    by = "" if node.by is None else f" {verb} by {node.by.text}"
    return f"{node.kind}{preset} as {node.name}{retained}{by}"


def _output(node: tree.Output) -> Cells:
    before = {"coil": "", "negated": "not ", "set": "set ", "reset": "reset ", "assign": ""}[node.kind]
    target = f"=> {before}{node.target.text}"
    when = "" if node.when is None else f" when {expression_text(node.when)}"
    if node.value is None:
        return (target + when,)
    return (target, f":= {expression_text(node.value)}{when}")


def _tag(node: tree.TagLine) -> Cells:
    what: list[str] = [node.type]
    if node.unit is not None:
        what.append(node.unit)
    if node.range is not None:
        what.append(expression_text(node.range))
    if node.start is not None:
        what.append(f"= {expression_text(node.start)}")
    kept = []
    if node.on_stop is not None:
        kept.append(f"on stop {expression_text(node.on_stop)}")
    if node.retained:
        kept.append("retained")
    remark = "" if node.remark is None else quoted(node.remark)
    return (node.name, node.role, " ".join(what), " ".join(kept), remark)


def clause_text(node: tree.Clause) -> str:
    """A clause of a part's line as the file says it."""
    return " ".join(_item(item) for item in node.items)


def _item(item: tree.Word | tree.Number | tree.Interval | tree.Text) -> str:
    match item:
        case tree.Word():
            return item.text
        case tree.Text():
            return quoted(item.text)
        case tree.Number() | tree.Interval():
            return expression_text(item)
    assert_never(item)


def _wire(node: tree.WireLine) -> Cells:
    signal = "" if node.signal is None else expression_text(node.signal)
    counts = "" if node.counts is None else f" as {expression_text(node.counts)}"
    source = "" if node.source is None else f"from {node.source.text}"
    target = "" if node.target is None else f"to {node.target.text}"
    end = source or target
    return (node.tag.text, f"at {node.terminal}", signal + counts or end, end if signal else "")


def form_text(node: tree.Form) -> str:
    """A requirement's form, without its `from T`."""
    match node:
        case tree.Never():
            return f"never {expression_text(node.condition)}"
        case tree.Always():
            return f"always {expression_text(node.condition)}"
        case tree.Whenever():
            text = f"whenever {expression_text(node.trigger)} then {expression_text(node.response)}"
            return text if node.time is None else f"{text} {node.mode} {expression_text(node.time)}"
        case tree.Stood():
            trigger, time = expression_text(node.trigger), expression_text(node.time)
            return f"whenever {trigger} has stood for {time} then {expression_text(node.response)}"
        case tree.AfterNever():
            trigger, forbidden = expression_text(node.trigger), expression_text(node.forbidden)
            return f"after {trigger} never {forbidden} until {expression_text(node.release)}"
        case tree.AtMost():
            count, event = expression_text(node.count), expression_text(node.event)
            return f"at most {count} {event} in any {expression_text(node.time)}"
        case tree.Before():
            return f"{expression_text(node.first)} before {expression_text(node.then)}"
    assert_never(node)


def _argument(node: tree.Expression | tree.Word) -> str:
    return node.text if isinstance(node, tree.Word) else expression_text(node)


def _event(node: Any) -> Cells:
    match node:
        case tree.At():
            said = "" if node.argument is None else f" {_argument(node.argument)}"
            lasting = "" if node.duration is None else f" for {expression_text(node.duration)}"
            return (f"at {expression_text(node.time)}", f"{node.action} {node.target.text}{said}{lasting}")
        case tree.ParameterLine():
            return ("parameter", f"{node.tag.text} = {expression_text(node.value)}")
        case tree.ScansLine():
            return ("scans", ", ".join(expression_text(length) for length in node.lengths))
        case tree.NoiseLine():
            return ("noise", f"seed {node.seed} lane {node.lane}")
        case tree.EndsLine():
            return ("ends", f"at {expression_text(node.time)}")
        case tree.Expect():
            time = "" if node.time is None else f" {node.mode} {expression_text(node.time)}"
            return ("expect", f"{expression_text(node.condition)}{time}")
    raise TypeError(f"{type(node).__name__} is no line")
