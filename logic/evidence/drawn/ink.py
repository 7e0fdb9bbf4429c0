"""Items as SVG. Power shows by weight and dash: thick where it is, thin and dashed where it is not.

Nothing here relies on a colour: everything is drawn in the colour of the text round it. A
drawing is class names without a style of its own; `STYLE` goes once into whatever holds it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from xml.sax.saxutils import escape, quoteattr

from rungproof.logic.evidence.drawn.metrics import visible
from rungproof.logic.evidence.drawn.shapes import HALF, REACH, Dot, Item, Symbol, Text, Wire

#: The style of every drawing. No rule reaches outside elements of class `rp`.
STYLE = """\
.rp{fill:none;stroke:none;max-width:100%;height:auto}
.rp .w,.rp .bar,.rp .rail{stroke:currentColor;stroke-width:1.6;stroke-linejoin:miter}
.rp .rail{stroke-width:2.4}
.rp .bar{stroke-width:2}
.rp .live{stroke-width:3.8}
.rp .dead{stroke-width:1.1;stroke-dasharray:5 4}
.rp .shut .bar{stroke-width:4}
.rp .open .bar{stroke-width:1.3}
.rp .dot{fill:currentColor;stroke:none}
.rp text{fill:currentColor;white-space:pre;unicode-bidi:isolate}
.rp .mono{font-family:"DejaVu Sans Mono","Liberation Mono",monospace}
.rp .sans{font-family:"DejaVu Sans","Liberation Sans",sans-serif}
.rp .strong{font-weight:bold}
.rp .rule{stroke:currentColor;stroke-width:.6}
"""

#: What a drawing that is a file of its own has besides: paper, and its colours by day and night.
ALONE = """\
svg{color:#16191d;background:#fff}
@media (prefers-color-scheme:dark){svg{color:#e9ebee;background:#14171a}}
@media print{svg{color:#000;background:#fff}}
"""


@dataclass(frozen=True, slots=True)
class Power:
    """What to show of power: the power of every net, and of every element whether it conducts."""

    nets: Sequence[bool]
    conducts: Mapping[int, bool] = field(default_factory=dict)


def number(value: float) -> str:
    """A coordinate, to a twentieth; always the same text for the same value."""
    return f"{round(value * 20) / 20:.2f}".rstrip("0").rstrip(".") or "0"


def ink(items: Iterable[Item], power: Power | None = None) -> list[str]:
    """Items as SVG elements, wires first so that symbols lie above them."""
    items = list(items)
    wires = [each for each in items if isinstance(each, Wire | Dot)]
    others = [each for each in items if not isinstance(each, Wire | Dot)]
    return [_ink(each, power) for each in (*wires, *others)]


def _ink(item: Item, power: Power | None) -> str:
    match item:
        case Wire():
            name = "rail" if item.rail else "w"
            return f'<path class="{name}{_live(item.net, power)}" data-net="{item.net}" d="{path_of(item.points)}"/>'
        case Dot():
            return f'<circle class="dot" cx="{number(item.x)}" cy="{number(item.y)}" r="3"/>'
        case Text():
            return text_svg(item)
        case Symbol():
            return _symbol(item, power)


def _live(net: int, power: Power | None) -> str:
    return "" if power is None else " live" if power.nets[net] else " dead"


def path_of(points: Sequence[tuple[float, float]]) -> str:
    (x, y), *others = points
    words = [f"M{number(x)} {number(y)}"]
    for to_x, to_y in others:
        words.append(f"V{number(to_y)}" if to_x == x else f"H{number(to_x)}" if to_y == y else "")
        if not words[-1]:
            words[-1] = f"L{number(to_x)} {number(to_y)}"
        x, y = to_x, to_y
    return "".join(words)


def text_svg(text: Text) -> str:
    anchor = "" if text.anchor == "start" else f' text-anchor="{text.anchor}"'
    strong = " strong" if text.role == "title" else ""
    return (
        f'<text class="{text.face}{strong}" data-role="{text.role}" x="{number(text.x)}" y="{number(text.y)}" '
        f'font-size="{number(text.size)}"{anchor}>{escape(visible(text.text))}</text>'
    )


def _symbol(symbol: Symbol, power: Power | None) -> str:
    state = ""
    if power is not None and symbol.element in power.conducts:
        state = " shut" if power.conducts[symbol.element] else " open"
    where = f"line {symbol.line}: " if symbol.line else ""
    parts = [f"<title>{escape(visible(where + symbol.says))}</title>", *_strokes(symbol)]
    parts += [text_svg(text) for text in symbol.texts]
    says = quoteattr(visible(symbol.says))
    return (
        f'<g class="element{state}" data-kind="{symbol.kind}" data-element="{symbol.element}" data-says={says}>'
        f"{''.join(parts)}</g>"
    )


def _strokes(symbol: Symbol) -> list[str]:
    x, y = symbol.x, symbol.y
    if symbol.kind == "box":
        size = f'width="{number(symbol.width)}" height="{number(symbol.height)}"'
        return [f'<rect class="bar" x="{number(x)}" y="{number(y)}" {size}/>']
    coil = symbol.kind in ("coil", "negated", "set", "reset")
    strokes = [_arcs(x, y) if coil else _bars(x, y)]
    if symbol.kind in ("break", "negated"):
        inner = HALF * 0.55
        slash = path_of([(x - inner, y + REACH * 0.75), (x + inner, y - REACH * 0.75)])
        strokes.append(f'<path class="bar" d="{slash}"/>')
    letter = {"rising": "P", "falling": "N", "set": "S", "reset": "R"}.get(symbol.kind)
    if letter:
        strokes.append(text_svg(Text(letter, x, y + 4.5, 13, role="letter")))
    return strokes


def _bars(x: float, y: float) -> str:
    left, right, up, down = number(x - HALF), number(x + HALF), number(y - REACH), number(y + REACH)
    return f'<path class="bar" d="M{left} {up}V{down}M{right} {up}V{down}"/>'


def _arcs(x: float, y: float) -> str:
    """Two arcs, open towards each other, as brackets stand round a word."""
    bend = 4.0
    left, right, up, down = x - HALF + bend, x + HALF - bend, number(y - REACH), number(y + REACH)
    a = f"M{number(left)} {up}Q{number(left - 2 * bend)} {number(y)} {number(left)} {down}"
    b = f"M{number(right)} {up}Q{number(right + 2 * bend)} {number(y)} {number(right)} {down}"
    return f'<path class="bar" d="{a}{b}"/>'


def document(width: float, height: float, body: Iterable[str], *, label: str, alone: bool, style: str = "") -> str:
    """An `<svg>` element; `alone`: a file of its own, with its style (and `style`) and its paper."""
    w, h = number(width), number(height)
    style = f"<style>{STYLE}{ALONE}{style}</style>" if alone else ""
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="rp" role="img" aria-label={quoteattr(visible(label))} '
        f'viewBox="0 0 {w} {h}" width="{w}" height="{h}">'
    )
    return "\n".join([head + style, *body, "</svg>"]) + "\n"
