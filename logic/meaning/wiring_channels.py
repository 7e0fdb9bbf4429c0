"""Analog channels: what the jumpers say, against the tag at one end and the signal at the other."""

from __future__ import annotations

from rungproof.grammar import tree
from rungproof.grammar.diagnosis import Reporter
from rungproof.grammar.tree import Span
from rungproof.logic.meaning.expressions import literal_in
from rungproof.logic.meaning.program import Channel, Tag
from rungproof.logic.meaning.scope import Context, Scope, Slots
from rungproof.logic.meaning.units import Unit, known_unit, name_of, parse_unit, ratio_between, same_dimension

#: What an analog channel measures or gives: IEC 60381-1 and -2 know current and voltage.
_SIGNALS = ("V", "mA")


def channel_of(line: tree.WireLine, tag: Tag, far_unit: str | None, reporter: Reporter) -> tuple[Channel | None, bool]:
    """The channel of a line, in the unit of the part at its far end; and whether the line is sound.

    `far_unit` is the unit of the wired signal or drive, None where nothing is known of it.
    """
    if tag.type == "bool":
        if line.signal is not None:
            reporter.report("channel-on-bool", line.signal.span, tag=tag.name)
        return None, line.signal is None
    if line.signal is None:
        example = "0..10 V as 0..65535" if tag.type == "int" else "0..10 V"
        reporter.report("channel-missing", line.span, tag=tag.name, example=example)
        return None, False
    unit = _signal_unit(line.signal, far_unit, reporter)
    ends = _ends(line.signal, unit, reporter) if unit is not None else None
    if unit is None or ends is None:
        return None, False
    if tag.type == "int":
        return _counted(line, tag, ends, unit, reporter)
    return _direct(line, tag, ends, unit, reporter)


def _signal_unit(signal: tree.Interval, far_unit: str | None, reporter: Reporter) -> Unit | None:
    """The unit in which the channel is kept: that of the far end, if the written one is of its kind."""
    symbol = signal.high.unit if isinstance(signal.high, tree.Number) else None
    written = parse_unit(symbol) if symbol is not None else None
    if written is None or not any(same_dimension(written, known_unit(s)) for s in _SIGNALS):
        reporter.report("channel-unit", signal.span, unit=symbol or "no unit")
        return None
    near = known_unit(next(s for s in _SIGNALS if same_dimension(written, known_unit(s))))
    if far_unit is None:
        return near
    far = known_unit(far_unit)
    if not same_dimension(written, far):
        reporter.report("channel-against-part", signal.span, unit=symbol, far=far_unit)
        return None
    return far


def _ends(interval: tree.Interval, unit: Unit | None, reporter: Reporter) -> tuple[float, float] | None:
    context = Context(Scope({}), reporter, Slots(""))
    low = _with_unit(interval.low, interval.high)
    values = [literal_in(end, context, unit, "the channel's signal stands here") for end in (low, interval.high)]
    if values[0] is None or values[1] is None:
        return None
    if values[0] >= values[1]:
        reporter.report("channel-reversed", interval.span)
        return None
    return float(values[0]), float(values[1])


def _with_unit(low: tree.Expression, high: tree.Expression) -> tree.Expression:
    """A bare lower bound takes the upper's unit."""
    if isinstance(low, tree.Negate):
        return tree.Negate(low.span, _with_unit(low.operand, high))
    if isinstance(low, tree.Number) and low.unit is None and isinstance(high, tree.Number):
        return tree.Number(low.span, low.text, high.unit)
    return low


def _counted(
    line: tree.WireLine, tag: Tag, ends: tuple[float, float], unit: Unit, reporter: Reporter
) -> tuple[Channel | None, bool]:
    """`0..10 V as 0..65535`: an int tag holds counts."""
    if line.counts is None:
        reporter.report("counts-missing", line.span, tag=tag.name)
        return None, False
    counts = _ends(line.counts, None, reporter)
    if counts is None:
        return None, False
    if not (counts[0].is_integer() and counts[1].is_integer()):
        reporter.report("counts-not-whole", line.counts.span)
        return None, False
    channel = Channel(*ends, unit, int(counts[0]), int(counts[1]))
    return channel, _agrees(line.counts.span, tag, counts, "", reporter)


def _direct(
    line: tree.WireLine, tag: Tag, ends: tuple[float, float], unit: Unit, reporter: Reporter
) -> tuple[Channel | None, bool]:
    """`0..10 V`: a real tag is the signal itself."""
    assert line.signal is not None
    if line.counts is not None:
        reporter.report("counts-on-real", line.counts.span, tag=tag.name)
        return None, False
    if tag.unit is None or tag.unit.dimension != unit.dimension or ratio_between(tag.unit, unit) != 1:
        reporter.report("channel-against-tag", line.signal.span, tag=tag.name, unit=name_of(tag.unit), far=unit.symbol)
        return None, False
    return Channel(*ends, unit), _agrees(line.signal.span, tag, ends, f" {unit.symbol}", reporter)


def _agrees(span: Span, tag: Tag, ends: tuple[float, float], unit: str, reporter: Reporter) -> bool:
    """An input tag must hold all that its channel gives; an output's channel all that its tag asks for."""
    beyond = ends[0] < tag.low or ends[1] > tag.high
    short = tag.low < ends[0] or ends[1] < tag.high
    if not (beyond if tag.role == "input" else short):
        return True
    fields = {
        "tag": tag.name,
        "range": f"{tag.low:.15g}..{tag.high:.15g}{unit}",
        "channel": f"{ends[0]:.15g}..{ends[1]:.15g}{unit}",
    }
    code = "channel-beyond-tag" if tag.role == "input" else "tag-beyond-channel"
    reporter.report(code, span, related=((tag.span, f"{tag.name} is declared here"),), **fields)
    return False
