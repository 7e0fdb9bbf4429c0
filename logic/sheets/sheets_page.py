"""The bench sheets as one page to print."""

from __future__ import annotations

from collections.abc import Iterator

from rungproof.logic.checks.words import exactly, rounded, time_words
from rungproof.logic.report.markup import (
    NOTHING,
    Html,
    blank,
    code,
    element,
    items,
    joined,
    own,
    paragraph,
    section,
    text,
)
from rungproof.logic.report.markup import table as table_of
from rungproof.logic.report.page import cautions, figure_words, page, signatures
from rungproof.logic.sheets.bench_sheets import BenchSheets
from rungproof.logic.sheets.cause_effect import GONE_MS, STANDS_MS, Matrix, Row
from rungproof.logic.sheets.readings import Band, Reading
from rungproof.logic.sheets.sheets_words import band_words, cell_words
from rungproof.logic.sheets.steps import Procedure, Step, state_words, value_words
from rungproof.logic.versions import version

ISOLATE = (
    "The people at the machine know that it is going to be tested, and who is in charge of the test.",
    "Everything that can move, heat, spill or fall is isolated and locked off; absence of voltage has been proved "
    "with a tester that was itself proved before and after.",
    "Stored energy is dealt with: raised parts, pressure, springs, full tanks, capacitors.",
    "For the wiring and reading checks the power side stays isolated; only the control supply is on.",
    "Before a step that is marked MOVES: guards shut, nobody within reach, a second person at the hardwired "
    "emergency stop, which has been tried first.",
)

RESTORE = (
    "Every wire that was taken off is back on its terminal, tightened, and pulled at.",
    "Every link is out: count what was put in and what came back.",
)

#: Once it has its supply again.
RESTORE_IN_PROGRAM = "Every value that was forced in the program is free again; parameters have their values."

#: Said only where the machine has such a part: kinds of parts, and what to put back or try at the end.
RESTORE_OF = (
    (
        frozenset({"float_switch", "level_probe", "flow_switch", "level_transmitter", "flow_meter"}),
        "Floats, probes and transmitters are back in their working positions.",
    ),
    (frozenset({"guard_switch", "door"}), "Guards are back in place, and nothing bridges their switches."),
)

LET_OUT = (
    "The emergency stop is let out by hand, the hardwired circuit reset on purpose, and the machine did not start by "
    "itself."
)
LAST = "The machine was run once in the ordinary way and stopped by every stop that it has."


def sheets_page(sheets: BenchSheets) -> str:
    """The file."""
    parts = [
        ("before", "Before step 1", _before(sheets)),
        ("wiring", "Wiring list, by terminal", _wiring(sheets)),
        ("inputs", "Input check", _inputs(sheets)),
        ("outputs", "Output check", _outputs(sheets)),
        (
            "matrix",
            "Causes and effects, computed",
            [_how_to_read(sheets), *(each for matrix in sheets.matrices for each in _matrix(matrix))],
        ),
        ("tests", "Functional tests", [each for procedure in sheets.procedures for each in _procedure(procedure)]),
        ("restore", "Putting everything back", _restore(sheets)),
    ]
    across = {"wiring", "inputs", "outputs", "matrix", "tests"}
    body = [section(anchor, title, inner, "across" if anchor in across else "") for anchor, title, inner in parts]
    lead = [cautions(), _made_from(sheets)]
    subtitle = sheets.controller or sheets.plant
    return page("Bench sheets", subtitle, lead, [(anchor, title) for anchor, title, _ in parts], body)


def _made_from(sheets: BenchSheets) -> Html:
    names = joined((code(f"{path.rpartition('/')[2]} {digest[:12]}") for path, digest in sheets.sources), ", ")
    words = f"Worked out by rungproof {version()} from these files (beginning of their SHA-256): "
    return element("p", joined((text(words), names, text("."))), class_="note")


# ---------------------------------------------------------------------- before


def _before(sheets: BenchSheets) -> list[Html]:
    hazards = [joined((code(h.name), text(" "), own(h.sentence))) for h in sheets.hazards]
    known = (
        items(hazards)
        if hazards
        else paragraph(text("The files name no hazard. That does not mean that there is none."))
    )
    moving = (
        joined((code(each) for each in sheets.moving), ", ")
        if sheets.moving
        else text("nothing that the files know of")
    )
    supplies = (
        joined((own(each) for each in sheets.supplies), "; ") if sheets.supplies else text("none named in the files")
    )
    facts = [
        ("Hazards in the files", known),
        ("What can move", moving),
        ("Control supplies", supplies),
        ("Meter and source: number, calibrated until", blank("16rem")),
        ("Isolated at", blank("16rem")),
        ("Locked off by, key kept by", blank("16rem")),
    ]
    listed = [part for name, inner in facts for part in (element("dt", text(name)), element("dd", inner))]
    ticks = [[text(str(n)), text(each), blank("4rem")] for n, each in enumerate(ISOLATE, start=1)]
    return [
        element("dl", listed, class_="facts"),
        table_of([text("No."), text("Done before anything else"), text("Initials")], ticks, "Isolation and agreement"),
    ]


def _wiring(sheets: BenchSheets) -> list[Html]:
    if not sheets.terminals:
        return [paragraph(text("The files say nothing of any wiring at a controller."))]
    heads = [
        text(each)
        for each in ("Terminal", "Tag", "Way", "Other end", "Signal", "Supply", "Wire off", "On stop", "Rung out by")
    ]
    rows = []
    for each in sheets.terminals:
        remark = element("div", own(each.remark), class_="note") if each.remark else NOTHING
        end = joined((own(each.other_end), remark))
        name = code(each.terminal)
        rows.append(
            [
                name,
                code(each.tag),
                text(each.way),
                end,
                text(each.signal),
                own(each.supply),
                text(each.lost),
                text(each.on_stop),
                blank("3.5rem"),
            ]
        )
    found = [table_of(heads, rows, "Terminals of the controller", "write")]
    if sheets.circuits:
        heads = [text(each) for each in ("Circuit", "Rung", "Line", "Contacts, untouched", "From", "Rung out by")]
        rows = [
            [
                own(line.circuit),
                code(line.rung),
                code(line.text),
                joined(map(text, line.contacts or ("\N{EN DASH}",)), "<br>"),
                own(line.supply),
                blank("3.5rem"),
            ]
            for line in sheets.circuits
        ]
        found.append(
            table_of(heads, rows, "Hardwired circuits, in series from the supply down, `=>` what they drive", "write")
        )
    return found


# -------------------------------------------------------------------- readings


def _inputs(sheets: BenchSheets) -> list[Html]:
    return [
        paragraph(
            text(
                "Meter between the terminal and the 0 V of its module. Terminals with a contact first at rest, then "
                "worked; analog ones at 0, 25, 50, 75, 100 % of their signal and back down (the points of a loop "
                "check, IEC 62382)."
            )
        ),
        _tolerance(sheets),
        *_readings(sheets.inputs, "Bring about", "Switched inputs"),
    ]


def _outputs(sheets: BenchSheets) -> list[Html]:
    return [
        paragraph(
            text(
                "With the power side isolated: force the tag, or bring the program there, and measure what the "
                "terminal gives. Every forced value is written down and freed again. Limits as in the input check."
            )
        ),
        *_readings(sheets.outputs, "Have", "Switched outputs"),
    ]


def _readings(readings: tuple[Reading, ...], do: str, switched_title: str) -> Iterator[Html]:
    if not readings:
        yield paragraph(text("The files name no such terminal."))
        return
    switched = [each for each in readings if isinstance(each.program, bool)]
    analog = [each for each in readings if not isinstance(each.program, bool)]
    if switched:
        heads = ["Terminal", "Tag", do, "Meter", "As found", "Program", "As found", "Initials"]
        rows = [
            _switched_row(each)
            for each in sorted(switched, key=lambda each: (_place(switched, each), not each.at_start))
        ]
        yield table_of([text(each) for each in heads], rows, switched_title, "figures", row_heads=2)
    for terminal in dict.fromkeys(each.terminal for each in analog):
        chosen = [each for each in analog if each.terminal == terminal]
        shows = any(each.shows for each in chosen)
        heads = [
            "Point",
            do,
            "Meter",
            "As found",
            "Program",
            "As found",
            *(["Program shows"] if shows else []),
            "Initials",
        ]
        rows = [_analog_row(each, shows) for each in chosen]
        yield table_of([text(each) for each in heads], rows, f"{terminal}: {chosen[0].tag}", "figures keep")


def _place(readings: list[Reading], reading: Reading) -> int:
    return [each.terminal for each in readings].index(reading.terminal)


def _switched_row(reading: Reading) -> list[Html]:
    start = element("span", text(" (so at rest)"), class_="note") if reading.at_start else NOTHING
    return [
        code(reading.terminal),
        code(reading.tag),
        joined((own(reading.do), start)),
        text(_switched_meter(reading.meter)),
        blank("4rem"),
        text("on" if reading.program is True else "off"),
        blank("4rem"),
        blank("3rem"),
    ]


def _switched_meter(band: Band | None) -> str:
    if band is None or band.low is None or band.high is None:
        return band_words(band)
    return f"{figure_words(band.expected, band.unit)} ({exactly(band.low)}..{exactly(band.high)})"


def _analog_row(reading: Reading, shows: bool) -> list[Html]:
    point = reading.name.removeprefix(f"{reading.terminal} ")
    told = items(
        joined((code(each.tag), text(f" {figure_words(each.value)} ±{rounded(each.tolerance, 2)} {each.unit}")))
        for each in reading.shows
    )
    program = reading.program if isinstance(reading.program, Band) else None
    row = [
        text(point),
        own(reading.do),
        text(band_words(reading.meter)),
        blank("4rem"),
        text(band_words(program)),
        blank("4rem"),
    ]
    return [*row, *([told] if shows else []), blank("3rem")]


def _tolerance(sheets: BenchSheets) -> Html:
    return element(
        "p",
        text(
            f"In brackets the limits: {exactly(sheets.tolerance)} % of the span (common practice, no source; "
            "--tolerance sets it), and what the model itself is unsure of: the noise of a transmitter and half a "
            "count. At 24 V DC a terminal reads on from 15 V and off up to 5 V (IEC 61131-2, type 1, from memory: "
            "the module's own data sheet decides)."
        ),
        class_="note",
    )


# ---------------------------------------------------------------------- matrix


def _how_to_read(sheets: BenchSheets) -> Html:
    low, high = sheets.scan_ms
    scan = time_words(low) if low == high else f"{time_words(low)} to {time_words(high)}"
    return paragraph(
        text(
            f"Each cause comes alone, stands for {time_words(STANDS_MS)} and goes; the run is watched for "
            f"{time_words(GONE_MS)} more. A cell says what then differs from the same run without the cause and how "
            "long after it; below, what comes of the cause's going: it stays, or how long after that it is back. A "
            "dot was tried too, and nothing came of it. Times are of one run; on the machine they come up to one "
            f"scan ({scan}) sooner or later."
        )
    )


def _matrix(matrix: Matrix) -> Iterator[Html]:
    state = matrix.state
    yield element("h3", text(state_words(state)))
    yield paragraph(joined((text("The state: "), own(state.source), text(f", at {time_words(state.at_ms)}."))), "note")
    shown = [place for place in range(len(matrix.effects)) if any(not row.cells[place].empty for row in matrix.rows)]
    still = [effect for place, effect in enumerate(matrix.effects) if place not in shown]
    if still:
        yield paragraph(
            joined((text("No cause moves "), joined((code(each.key) for each in still), ", "), text("."))), "note"
        )
    idle = [row.cause.name for row in matrix.rows if not row.works]
    if idle:
        words = joined((own(each) for each in idle), "; ")
        yield paragraph(joined((text("Tried, and nothing came of it: "), words, text("."))), "note")
    working = [row for row in matrix.rows if row.works]
    if working:
        heads = [text("Cause"), *(_effect_head(matrix, place) for place in shown)]
        rows = [[own(row.cause.name), *(_matrix_cell(matrix, row, place) for place in shown)] for row in working]
        yield table_of(heads, rows, f"Causes and effects, {_state(state_words(state))}", "matrix")


def _effect_head(matrix: Matrix, place: int) -> Html:
    effect = matrix.effects[place]
    before = value_words(effect, matrix.before[place]).removeprefix("at ")
    return joined((code(effect.key), element("div", text(f"before: {before}"), class_="note")))


def _matrix_cell(matrix: Matrix, row: Row, place: int) -> Html:
    first, then = cell_words(matrix.effects[place], row.cells[place])
    if not first and not then:
        return Html('<span class="none" aria-label="no effect">\N{MIDDLE DOT}</span>')
    parts = [element("span", text(first), class_="effect")] if first else []
    return joined((*parts, element("span", text(then), class_="then")))


# ----------------------------------------------------------------------- tests


def _procedure(procedure: Procedure) -> Iterator[Html]:
    first = procedure.steps[0].number
    yield element("h3", text(procedure.title))
    again = f". Step {first} brings the machine there; do it again before each other step. Times may be one scan out."
    yield paragraph(joined((text("The state: "), own(procedure.state), text(again))), "note")
    if procedure.fleeting_ms is not None:
        yield paragraph(
            text(
                f"From there it stands for {time_words(procedure.fleeting_ms)} only, in the model: a hand is too slow "
                "for that. Write down how each step was done, or that it was not."
            )
        )
    heads = [
        text(each)
        for each in ("Step", "Do", "Must come", "Then undo, and what must come of it", "As found", "Initials")
    ]
    yield table_of(
        heads, [_step_row(step) for step in procedure.steps], f"Steps from {_state(procedure.title)}", "steps"
    )
    if procedure.not_here:
        words = joined((own(each) for each in procedure.not_here), "; ")
        lead = text("Not to be brought about at a bench, and tried in the model alone (the matrix has them): ")
        yield paragraph(joined((lead, words, text("."))), "note")


def _step_row(step: Step) -> list[Html]:
    mark = joined((Html("<br>"), element("span", text("MOVES"), class_="moves"))) if step.moves else NOTHING
    undo = (
        joined((own(step.undo[:1].upper() + step.undo[1:] + "."), items(own(each) for each in step.then)))
        if step.undo
        else NOTHING
    )
    return [
        joined((text(step.number), mark)),
        own(step.do),
        items(own(each) for each in step.expect),
        undo,
        blank("5rem"),
        blank("3rem"),
    ]


def _restore(sheets: BenchSheets) -> list[Html]:
    """Contacts and wires first, then supplies and program, and the emergency stop is let out last."""
    kinds = set(sheets.kinds)
    forced = dict.fromkeys(_upper(each) for procedure in sheets.procedures for each in procedure.restore)
    by_hand = [each for each in forced if each.startswith("Put ")]
    of_parts = [words for of, words in RESTORE_OF if of & kinds]
    let_out = [LET_OUT] if "emergency_stop" in kinds else []
    switched = [each for each in forced if each not in by_hand]
    order = (*by_hand, *RESTORE, *of_parts, *switched, RESTORE_IN_PROGRAM, *let_out, LAST)
    rows = [[text(str(n)), own(each), blank("4rem")] for n, each in enumerate(order, start=1)]
    heads = [text(each) for each in ("No.", "Put right", "Initials")]
    return [
        table_of(heads, rows, "Restoring, in this order"),
        signatures(("Tested by", "Witnessed by", "Accepted by")),
    ]


def _state(title: str) -> str:
    """`state 1`, without what is on in it: the heading above has said that."""
    return title.partition(":")[0].lower()


def _upper(said: str) -> str:
    return f"{said[:1].upper()}{said[1:]}."
