"""Rungs as SVG: one to one with the file, nothing over anything else, power where the engine has it.

Everything is measured on the SVG's own geometry. Symbols: IEC 61131-3, graphical ladder
elements (from memory).
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from random import Random
from xml.etree import ElementTree

import pytest
from generated_plants import plant_text
from generated_programs import controller_text
from hypothesis import given, settings
from hypothesis import strategies as st
from rungproof.grammar import CATALOGUE, Reporter, parse_text, tree
from rungproof.grammar.unparse import to_text
from rungproof.logic.api import draw_svg, read_to_draw
from rungproof.logic.evidence.drawing_contacts import Contacts
from rungproof.logic.evidence.drawing_text import comments_of, sheets_of
from rungproof.logic.evidence.drawn.ink import Power
from rungproof.logic.evidence.drawn.metrics import rows_of, text_width, visible
from rungproof.logic.evidence.drawn.rung_svg import Context, Drawing, draw_rung, sheet_context, svg_of_rung
from svg_reading import SvgDrawing
from test_drawing_round_trip import kinds, rungs

EXAMPLES = sorted(path for path in (Path(__file__).parents[3] / "examples").iterdir() if path.is_dir())


def leaves_of(expression: tree.Expression, in_circuit: bool) -> Iterator[tree.Expression]:
    """What stands as an element of its own, in the order written."""
    match expression:
        case tree.Group(inner=inner):
            yield from leaves_of(inner, in_circuit)
        case tree.Series(operands=operands) | tree.Parallel(operands=operands):
            for operand in operands:
                yield from leaves_of(operand, in_circuit)
        case _:
            yield expression


def elements_of(rung: tree.Rung, in_circuit: bool) -> list[tree.Node]:
    """All elements of a rung in the order of the file, each output behind its contacts."""
    found: list[tree.Node] = []
    for element in rung.elements:
        found += leaves_of(element.expression, in_circuit) if isinstance(element, tree.Condition) else [element]
    for output in rung.outputs:
        found += [*(leaves_of(output.when, in_circuit) if output.when is not None else ()), output]
    return found


def expected_power(rung: tree.Rung, conducts: dict[int, bool]) -> dict[int, bool]:
    """Whether power reaches each output, worked out on the tree."""
    number = iter(range(10**6))

    def value(expression: tree.Expression) -> bool:
        match expression:
            case tree.Group(inner=inner):
                return value(inner)
            case tree.Series(operands=operands):
                values = [value(operand) for operand in operands]
                return all(values)
            case tree.Parallel(operands=operands):
                values = [value(operand) for operand in operands]
                return any(values)
        return conducts[next(number)]

    power = True
    for element in rung.elements:
        if isinstance(element, tree.Stage):
            power = conducts[next(number)]
        else:
            passes = value(element.expression)
            power = power and passes
    found = {}
    for output in rung.outputs:
        reaches = power if output.when is None else power & value(output.when)
        found[next(number)] = reaches
    return found


def check_drawing(rung: tree.Rung, drawing: Drawing, *, in_circuit: bool, random: Random) -> None:
    """All that must hold of any drawing."""
    seen = SvgDrawing(drawing.svg())
    assert list(seen.wrong_places()) == []
    expected = elements_of(rung, in_circuit)
    assert [element.says for element in sorted(seen.elements, key=lambda e: e.number)] == [
        visible(to_text(node)) for node in expected
    ]
    if not rung.outputs:
        return
    assert seen.leads_to_the_right_rail()
    for _ in range(6):
        conducts = {n: random.random() < 0.6 for n in range(len(expected))}
        powered = expected_power(rung, conducts)
        assert seen.powered(conducts) == powered
        power = drawing.nets.power(conducts)
        ends = drawing.nets.line_ends[-len(rung.outputs) :]
        assert [power[net] for net in ends] == list(powered.values())


def check_text(text: str, name: str, random: Random) -> int:
    """Draws every rung of a file; how many there were."""
    reporter = Reporter(CATALOGUE)
    blocks = parse_text(text, name, reporter).blocks
    assert not reporter.has_errors
    context = Context.of(blocks, comments_of([(name, text)]))
    drawn = 0
    for sheet in sheets_of(blocks):
        for rung in sheet.rungs:
            place = random.choice(("beside", "below", "remarks", "none"))
            width = random.choice((300.0, 480.0, 700.0))
            drawing = draw_rung(rung, sheet_context(context, sheet), width=width, notes=place)
            check_drawing(rung, drawing, in_circuit=sheet.contacts is not None, random=random)
            drawn += 1
    return drawn


@pytest.mark.parametrize("tens", range(10))
def test_200_generated_programs_draw_without_a_flaw(tens: int) -> None:
    """No overlap, no text outside its box, every element found, every wire where it leads: ten times twenty."""
    drawn = 0
    for seed in range(20 * tens, 20 * tens + 20):
        random = Random(seed)
        text = plant_text(random) if seed % 4 == 0 else controller_text(random)
        drawn += check_text(text, f"generated_{seed}.rung", random)
    assert drawn >= 60


@settings(max_examples=60, deadline=None)
@given(rung=rungs, width=st.sampled_from([240, 400, 700, 2000]), seed=st.integers(0, 99))
def test_any_rung_draws_without_a_flaw(rung: tree.Rung, width: int, seed: int) -> None:
    """Nested branches, comparisons of many rows and names of 24 letters at any width."""
    drawing = draw_rung(rung, width=width)
    check_drawing(rung, drawing, in_circuit=False, random=Random(seed))


@settings(max_examples=40, deadline=None)
@given(rung=rungs, contacts=kinds, seed=st.integers(0, 99))
def test_any_rung_of_a_circuit_draws_without_a_flaw(rung: tree.Rung, contacts: Contacts, seed: int) -> None:
    """In a circuit a symbol says what the device is; a point that another rung drives stands in a box."""
    drawing = draw_rung(rung, Context(contacts=contacts, rails=("P24", "return")))
    check_drawing(rung, drawing, in_circuit=True, random=Random(seed))
    for element in SvgDrawing(drawing.svg()).elements:
        if element.kind in ("make", "break"):
            assert element.kind == ("break" if contacts.get(element.said("name")) == "break" else "make")


@pytest.mark.parametrize("folder", EXAMPLES, ids=lambda folder: folder.name)
def test_every_example_draws_without_a_flaw(folder: Path) -> None:
    """The examples with their remarks, comments, terminals and circuits, at three widths."""
    singles = {"mistakes": "*.rung", "exercises": "*/solution.rung"}
    paths = sorted(folder.glob(singles[folder.name])) if folder.name in singles else [folder]
    assert paths
    for path in paths:
        project = read_to_draw(path)
        context = Context.of(project.blocks, comments_of((s.path, s.text) for s in project.sources))
        for sheet in sheets_of(project.blocks):
            for rung in sheet.rungs:
                for width in (320.0, 700.0, 1000.0):
                    drawing = draw_rung(rung, sheet_context(context, sheet), width=width)
                    check_drawing(rung, drawing, in_circuit=sheet.contacts is not None, random=Random(1))
                    assert not any("not known" in text for _, text, _ in SvgDrawing(drawing.svg()).free_texts)


# ------------------------------------------------------------------- what it shows

TEXT = """\
controller "Pump" every 10 ms

tags
    start_pb  input   bool                "Start push-button"
    level     input   int 0..100
    pump      output  bool   on stop off
    half      memory  real L 0..50
    held      memory  bool

rung run "A remark <script>alert(1)</script> & more"
    (rising start_pb and not held) or pump     # why "so"
    level between 3 and 40
    on-delay 30 ms as hold
    => pump
    => set held when falling start_pb
    => reset held when hold
    => not held

rung half
    => half := 0.5 L * level
"""


def _drawn(name: str, **how: str) -> SvgDrawing:
    blocks = parse_text(TEXT, "pump.rung", Reporter(CATALOGUE)).blocks
    (rung,) = [b for b in blocks if isinstance(b, tree.Rung) and b.name == name]
    context = Context.of(blocks, comments_of([("pump.rung", TEXT)]))
    return SvgDrawing(svg_of_rung(rung, context, **how))  # type: ignore[arg-type]


def test_each_symbol_is_drawn_as_what_it_is() -> None:
    """Bars, slash, P, N, arcs, S, R, and boxes for stages, comparisons and assignments."""
    seen = {(e.kind, e.said("name"), e.said("letter")) for e in _drawn("run").elements}
    assert seen == {
        ("rising", "start_pb", "P"),
        ("break", "held", ""),
        ("make", "pump", ""),
        ("box", "", ""),
        ("box", "hold", ""),
        ("coil", "pump", ""),
        ("falling", "start_pb", "N"),
        ("set", "held", "S"),
        ("make", "hold", ""),
        ("reset", "held", "R"),
        ("negated", "held", ""),
    }
    assert [e.said("row") for e in _drawn("half").elements] == [":= 0.5 L * level"]


def test_each_element_bears_its_line_of_the_file() -> None:
    """Whoever signs the drawing finds each element again in the file."""
    lines = {e.says: e.said("line") for e in _drawn("run").elements}
    rows = TEXT.splitlines()
    for says, line in lines.items():
        assert says in rows[int(line) - 1]


def test_remarks_comments_and_cross_references_stand_beside_the_rung() -> None:
    """What a tag is, the comment at the line, and the other rungs that write and read it."""
    said = [text for _, text, _ in _drawn("run").free_texts]
    assert "Start push-button" in said
    assert '# why "so"' in said
    assert "input; read in half" in [text for _, text, _ in _drawn("run").free_texts]
    assert "input; read in run" in [text for _, text, _ in _drawn("half").free_texts]
    assert [role for role, _, _ in _drawn("run", notes="none").free_texts if role in ("note", "comment")] == []
    brief = [text for _, text, _ in _drawn("run", notes="remarks").free_texts]
    assert "Start push-button" in brief
    assert '# why "so"' in brief
    assert not any("read in" in text for text in brief)


def test_a_terminal_of_the_output_module_is_named_in_the_circuit() -> None:
    """The contact of an output module bears the terminal as the wiring names it."""
    project = read_to_draw(EXAMPLES[0].parent / "header_tank")
    context = Context.of(project.blocks)
    (sheet,) = [s for s in sheets_of(project.blocks) if s.contacts is not None]
    (motor,) = [rung for rung in sheet.rungs if rung.name == "motor"]
    seen = SvgDrawing(svg_of_rung(motor, sheet_context(context, sheet)))
    assert {e.said("name"): e.said("terminal") for e in seen.elements} == {
        "K1.2": "",
        "pump_enable": "X4:1",
        "feed_pump.supply": "",
    }


def test_contacts_are_cross_referenced_by_their_numbers() -> None:
    """Where a relay's other contacts are: in which rung, at which terminal, by the numbers that the user gave them."""
    project = read_to_draw(EXAMPLES[0].parent / "header_tank")
    context = Context.of(project.blocks)
    (sheet,) = [s for s in sheets_of(project.blocks) if s.contacts is not None]
    cut = next(rung for rung in sheet.rungs if rung.name == "supply_cut")
    said = " ".join(text for _, text, _ in SvgDrawing(svg_of_rung(cut, sheet_context(context, sheet))).free_texts)
    assert "relay; read in motor (K1.2), terminal X1:6 (K1.3)" in said
    assert "emergency stop; read in terminal X1:3 (S0.2)" in said


def test_a_part_in_a_circuit_is_told_by_the_comment_at_its_own_line() -> None:
    """A push button in a reset circuit is known for the reset, though a part has no remark."""
    project = read_to_draw(EXAMPLES[0].parent / "press_guard")
    comments = comments_of((source.path, source.text) for source in project.sources)
    context = Context.of(project.blocks, comments)
    (sheet,) = [s for s in sheets_of(project.blocks) if s.contacts is not None]
    cut = next(rung for rung in sheet.rungs if rung.name == "reset")
    said = " ".join(text for _, text, _ in SvgDrawing(svg_of_rung(cut, sheet_context(context, sheet))).free_texts)
    assert "31 S3 reset push button" in said


def test_power_shows_by_weight_and_dash_alone() -> None:
    """Live wires are thick, dead ones dashed, closed contacts have thick bars; no rule names a colour."""
    blocks = parse_text(TEXT, "pump.rung", Reporter(CATALOGUE)).blocks
    (rung,) = [b for b in blocks if isinstance(b, tree.Rung) and b.name == "half"]
    drawing = draw_rung(rung)
    power = drawing.nets.power({})
    assert "live" in drawing.svg(Power(power)) and "dead" not in drawing.svg(Power(power))
    dead = drawing.svg(Power(drawing.nets.power({}, rail=False)))
    assert "dead" in dead and "live" not in dead
    from rungproof.logic.evidence.drawn.ink import STYLE

    assert "stroke-dasharray" in STYLE and "stroke-width" in STYLE
    assert not any(f"{what}:{sign}" in STYLE for what in ("stroke", "fill", "color") for sign in "#r")


# ------------------------------------------------------------------ hostile texts


@pytest.mark.parametrize(
    "remark",
    [
        "<script>alert(1)</script>",
        "]]></svg><svg onload=alert(1)>",
        "\N{RIGHT-TO-LEFT OVERRIDE}gnp.exe",
        "x" * 10_000,
        "word " * 2_000,
        "\N{COMBINING ACUTE ACCENT}" * 500,
        "\N{CJK UNIFIED IDEOGRAPH-4E00}" * 300,
        "&amp; &lt; \"quotes\" 'single'",
    ],
)
def test_a_hostile_remark_stays_text(tmp_path: Path, remark: str) -> None:
    """Markup, direction marks, ten thousand letters: the drawing stays one, and stays inside its paper."""
    blocks = parse_text(TEXT, "pump.rung", Reporter(CATALOGUE)).blocks
    (rung,) = [b for b in blocks if isinstance(b, tree.Rung) and b.name == "half"]
    hostile = tree.Rung(rung.span, rung.name, remark, rung.elements, rung.outputs)
    svg = svg_of_rung(hostile)
    root = ElementTree.fromstring(svg)
    tags = {element.tag.rpartition("}")[2] for element in root.iter()}
    assert tags <= {"svg", "g", "path", "rect", "text", "title", "circle", "line"}
    assert list(SvgDrawing(svg).wrong_places()) == []
    assert "\N{RIGHT-TO-LEFT OVERRIDE}" not in svg


@given(text=st.text(max_size=200), width=st.integers(40, 400), face=st.sampled_from(["mono", "sans"]))
def test_rows_keep_to_their_width_and_lose_no_letter(text: str, width: int, face: str) -> None:
    """Rows are never wider than asked, and hold all letters in their order."""
    shown = visible(text)
    rows = rows_of(shown, width, 12, face)  # type: ignore[arg-type]
    assert all(text_width(row, 12, face) <= width + 1e-6 or len(row) == 1 for row in rows)  # type: ignore[arg-type]
    assert "".join("".join(rows).split()) == "".join(shown.split())


def test_a_folder_of_drawings_has_a_file_for_each_rung_and_a_page(tmp_path: Path) -> None:
    """One to one: each rung once, names told apart; the page shows them all and asks nobody for anything."""
    files = draw_svg(EXAMPLES[0].parent / "header_tank")
    assert len(files) == 12
    page = files["index.html"]
    assert page.count("<svg") == 11
    assert "default-src 'none'" in page
    assert "http" not in page.replace("http://www.w3.org/2000/svg", "").replace("http-equiv", "")
    for caution in ("verify on the real machine", "hardwired, rated equipment", "licensed practice decide"):
        assert caution in page
    for name, svg in files.items():
        if name.endswith(".svg"):
            assert ElementTree.fromstring(svg).attrib["role"] == "img"
