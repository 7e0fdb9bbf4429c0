"""Reads a drawn rung back from its SVG alone: what stands where, and what hangs in which wire.

Written apart from the code that draws: it knows the symbols' sizes and nothing of blocks or nets.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from itertools import combinations, pairwise
from xml.etree import ElementTree

from rungproof.logic.evidence.drawn.metrics import Face, text_width

NS = "{http://www.w3.org/2000/svg}"
#: Half a contact, across and up.
HALF, REACH = 9.0, 10.0
#: Coordinates are rounded to a twentieth.
SLACK = 0.11

Point = tuple[float, float]


@dataclass(frozen=True)
class Area:
    """A rectangle, and what it is of."""

    left: float
    top: float
    right: float
    bottom: float
    of: str

    def overlaps(self, other: Area) -> bool:
        across = min(self.right, other.right) - max(self.left, other.left)
        down = min(self.bottom, other.bottom) - max(self.top, other.top)
        return across > SLACK and down > SLACK

    def holds(self, other: Area) -> bool:
        across = self.left - SLACK <= other.left and other.right <= self.right + SLACK
        return across and self.top - SLACK <= other.top and other.bottom <= self.bottom + SLACK

    def crossed_by(self, a: Point, b: Point) -> bool:
        """Whether the level or upright leg from `a` to `b` passes through the inside."""
        leg = Area(min(a[0], b[0]), min(a[1], b[1]), max(a[0], b[0]), max(a[1], b[1]), "leg")
        inside = Area(self.left + SLACK, self.top + SLACK, self.right - SLACK, self.bottom - SLACK, self.of)
        across = min(inside.right, leg.right) >= max(inside.left, leg.left)
        return across and min(inside.bottom, leg.bottom) >= max(inside.top, leg.top)


@dataclass
class Element:
    """One element of the drawing: its kind, its words, its texts by role, its area."""

    number: int
    kind: str
    says: str
    area: Area
    texts: list[tuple[str, str, Area]] = field(default_factory=list)

    def said(self, role: str) -> str:
        return "".join(text for r, text, _ in self.texts if r == role)


class SvgDrawing:
    """A drawing taken from the text of an `<svg>` element."""

    def __init__(self, svg: str) -> None:
        self.root = ElementTree.fromstring(svg)
        _, _, width, height = map(float, self.root.attrib["viewBox"].split())
        self.paper = Area(0, 0, width, height, "paper")
        self.elements = [_element(g) for g in self.root.iter(f"{NS}g")]
        inside = {id(text) for g in self.root.iter(f"{NS}g") for text in g.iter(f"{NS}text")}
        outside = [text for text in self.root.iter(f"{NS}text") if id(text) not in inside]
        self.free_texts = [(text.attrib["data-role"], _said(text), text_area(text)) for text in outside]
        self.wires = [
            (int(path.attrib["data-net"]), _points(path.attrib["d"]))
            for path in self.root.iter(f"{NS}path")
            if "data-net" in path.attrib
        ]
        (rail,) = [path for path in self.root.iter(f"{NS}path") if path.attrib["class"].startswith("rail")]
        self.left_rail = _points(rail.attrib["d"])
        (right,) = list(self.root.iter(f"{NS}line"))
        at = right.attrib
        self.right_rail = [(float(at["x1"]), float(at["y1"])), (float(at["x2"]), float(at["y2"]))]

    # ------------------------------------------------------------------ places

    def wrong_places(self) -> Iterator[str]:
        """Everything that lies over something else, outside its box, or outside the paper."""
        areas = [element.area for element in self.elements]
        outside = [area for e in self.elements for role, _, area in e.texts if role not in ("row", "letter")]
        areas += outside + [area for _, _, area in self.free_texts]
        for one, other in combinations(areas, 2):
            if one.overlaps(other):
                yield f"{one.of} lies over {other.of}"
        for area in areas:
            if not self.paper.holds(area):
                yield f"{area.of} leaves the paper"
            for _, points in self.wires:
                for a, b in pairwise(points):
                    if area.crossed_by(a, b):
                        yield f"a wire runs through {area.of}"
        for element in self.elements:
            for role, text, area in element.texts:
                if role in ("row", "letter") and not element.area.holds(area):
                    yield f"{text!r} leaves {element.area.of}"
        yield from self._crossings()

    def _crossings(self) -> Iterator[str]:
        """A level and an upright leg that cross inside both."""
        legs = [leg for _, points in self.wires for leg in pairwise(points)]
        level = [(a[1], *sorted((a[0], b[0]))) for a, b in legs if a[1] == b[1]]
        upright = [(a[0], *sorted((a[1], b[1]))) for a, b in legs if a[0] == b[0]]
        for y, left, right in level:
            for x, top, bottom in upright:
                if left + SLACK < x < right - SLACK and top + SLACK < y < bottom - SLACK:
                    yield f"wires cross at {x}, {y}"

    # ----------------------------------------------------------------- network

    def powered(self, conducts: Mapping[int, bool]) -> dict[int, bool]:
        """Whether power reaches each output, by number, if elements conduct so; found along the wires."""
        nodes = self._nodes
        links, stages, outputs = [], [], {}
        for element in self.elements:
            before, behind = self._ends(element, nodes)
            if element.kind in ("coil", "negated", "set", "reset") or "=>" in element.says:
                outputs[element.number] = before
            elif " as " in f" {element.says} " and element.kind == "box" and element.said("name"):
                stages.append((element.number, behind))
            else:
                links.append((element.number, before, behind))
        reached = {nodes[self.left_rail[0]], *(node for number, node in stages if conducts[number])}
        # A stage gives power from its memory, whatever reaches it.
        grown = True
        while grown:
            more = {b for number, a, b in links if conducts[number] and a in reached} - reached
            reached |= more
            grown = bool(more)
        return {number: node in reached for number, node in outputs.items()}

    @cached_property
    def _nodes(self) -> dict[Point, int]:
        """Points of wires by what is joined: two wires join where one ends on the other."""
        wires = [points for _, points in self.wires]
        parent = list(range(len(wires)))

        def root(n: int) -> int:
            while parent[n] != n:
                n = parent[n]
            return n

        for a, b in combinations(range(len(wires)), 2):
            ends_a, ends_b = (wires[a][0], wires[a][-1]), (wires[b][0], wires[b][-1])
            if any(_on(p, wires[b]) for p in ends_a) or any(_on(p, wires[a]) for p in ends_b):
                parent[root(a)] = root(b)
        return {point: root(n) for n, points in enumerate(wires) for point in points}

    def _ends(self, element: Element, nodes: Mapping[Point, int]) -> tuple[int, int]:
        area = element.area
        before = [n for (x, y), n in nodes.items() if abs(x - area.left) < SLACK and area.top < y < area.bottom]
        behind = [n for (x, y), n in nodes.items() if abs(x - area.right) < SLACK and area.top < y < area.bottom]
        assert len(set(before)) == 1, f"{area.of} has {len(set(before))} wires before it"
        assert len(set(behind)) == 1, f"{area.of} has {len(set(behind))} wires behind it"
        return before[0], behind[0]

    def leads_to_the_right_rail(self) -> bool:
        """Whether every output's wire ends at the right rail."""
        x = self.right_rail[0][0]
        ends = [points[-1] for _, points in self.wires if abs(points[-1][0] - x) < SLACK]
        low, high = self.right_rail[0][1], self.right_rail[1][1]
        return bool(ends) and all(low < y < high for _, y in ends)


def _said(text: ElementTree.Element) -> str:
    return "".join(text.itertext())


def text_area(text: ElementTree.Element) -> Area:
    """Where a row of text may reach, by the metric table; heights by the usual ascent and descent."""
    size, said = float(text.attrib["font-size"]), _said(text)
    face: Face = "sans" if text.attrib["class"].startswith("sans") else "mono"
    width = text_width(said, size, face)
    x, y = float(text.attrib["x"]), float(text.attrib["y"])
    shift = {"start": 0.0, "middle": 0.5, "end": 1.0}[text.attrib.get("text-anchor", "start")]
    left = x - shift * width
    return Area(left, y - 0.76 * size, left + width, y + 0.24 * size, repr(said))


def _element(g: ElementTree.Element) -> Element:
    kind, says = g.attrib["data-kind"], g.attrib["data-says"]
    texts = [(t.attrib["data-role"], _said(t), text_area(t)) for t in g.iter(f"{NS}text")]
    rects = list(g.iter(f"{NS}rect"))
    if rects:
        at = {name: float(rects[0].attrib[name]) for name in ("x", "y", "width", "height")}
        area = Area(at["x"], at["y"], at["x"] + at["width"], at["y"] + at["height"], says)
    else:
        d = next(g.iter(f"{NS}path")).attrib["d"]
        figures = [float(each) for each in re.findall(r"-?[0-9.]+", d)]
        coil = "Q" in d
        left = figures[0] - 4 if coil else figures[0]
        area = Area(left, figures[1], left + 2 * HALF, figures[1] + 2 * REACH, says)
    return Element(int(g.attrib["data-element"]), kind, says, area, texts)


def _points(d: str) -> list[Point]:
    points: list[Point] = []
    for sign, first, second in re.findall(r"([MHV])(-?[0-9.]+)(?: (-?[0-9.]+))?", d):
        if sign == "M":
            points.append((float(first), float(second)))
        else:
            x, y = points[-1]
            points.append((float(first), y) if sign == "H" else (x, float(first)))
    return points


def _on(point: Point, wire: list[Point]) -> bool:
    return any(
        min(a[0], b[0]) - SLACK <= point[0] <= max(a[0], b[0]) + SLACK
        and min(a[1], b[1]) - SLACK <= point[1] <= max(a[1], b[1]) + SLACK
        for a, b in pairwise(wire)
    )
