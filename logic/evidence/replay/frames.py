"""A run as frames: one for the end of every scan, and for whatever lies between that a reader must see.

    recording_of(program, story, title)      run, and gather all that a replay page shows

Where a run has more frames than a page can hold, those stay at which a wire or a tag changes, and
some of the others, evenly; the page says how many it left out.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from rungproof.grammar import CATALOGUE, Reporter, parse_text, tree
from rungproof.logic.engines.contract import Trace
from rungproof.logic.engines.reference import ReferenceEngine
from rungproof.logic.evidence.chart.gather import recorded, strip_from, trace_of
from rungproof.logic.evidence.chart.strip import Number, Strip, Truth
from rungproof.logic.evidence.drawing_text import comments_of, sheets_of
from rungproof.logic.evidence.drawn.rung_svg import Context, draw_rung, sheet_context
from rungproof.logic.evidence.replay.recorder import Recorder, Shown
from rungproof.logic.meaning.program import Expectation, Program, Story

#: Frames of a page at most, and instants of a run that the reference engine is asked for.
MOST_FRAMES, MOST_INSTANTS = 20_000, 1_000_000
#: Between frames while nobody scans, in ms, where the scan time says nothing.
USUAL_STEP = 20
#: Width of the drawn rungs on the page.
RUNG_WIDTH = 520.0


@dataclass(frozen=True, slots=True)
class Recording:
    """All that a page shows. `times` are the frames; `states[i]` the bytes of all rungs in frame i, in
    the order of `shown`; `numbers` the values of each number band in every frame; `all_frames` how many there were."""

    strip: Strip
    shown: tuple[Shown, ...]
    times: tuple[int, ...]
    states: tuple[bytes, ...]
    numbers: dict[str, tuple[float, ...]]
    all_frames: int


def recording_of(
    program: Program,
    story: Story,
    title: str,
    *,
    only: frozenset[str] = frozenset(),
    expectations: Sequence[Expectation] = (),
) -> Recording:
    """Run a story in both engines: the fast one for the tags, the reference one for the wires.

    Raises `ValueError` for a run too long for a page, `KeyError` for a name in `only` that is not there.
    """
    step = program.instant_ms
    if story.duration_ms // step > MOST_INSTANTS:
        raise ValueError(f"the run is too long for a page: at most {MOST_INSTANTS * step // 1000} s here")
    outcome = recorded(program, story, expectations)
    strip = strip_from(program, story, outcome, title, only=only, expectations=expectations)
    shown = shown_of(program)
    recorder = Recorder.of(shown)
    ReferenceEngine(recorder).run(program, story, watch=frozenset())
    times = _times(program, recorder, strip)
    states = _states(recorder, times)
    kept = _kept(times, states, strip)
    trace = trace_of(outcome)
    chosen = tuple(times[n] for n in kept)
    return Recording(strip, shown, chosen, tuple(states[n] for n in kept), _numbers(strip, trace, chosen), len(times))


def shown_of(program: Program) -> tuple[Shown, ...]:
    """Every rung of the program, then of its circuits, drawn."""
    silent = Reporter(CATALOGUE)
    blocks = [block for source in program.sources for block in parse_text(source.text, source.path, silent).blocks]
    comments = comments_of((source.path, source.text) for source in program.sources)
    context = Context.of(blocks, comments)
    # Sheets of circuits come in the order of the circuits.
    supplies = iter([block.supply.text for block in blocks if isinstance(block, tree.Circuit)])
    found = []
    for sheet in sheets_of(blocks):
        supply = next(supplies) if sheet.contacts is not None else None
        for rung in sheet.rungs:
            drawing = draw_rung(rung, sheet_context(context, sheet), width=RUNG_WIDTH, notes="none")
            found.append(Shown(rung, drawing, supply))
    return tuple(found)


def _times(program: Program, recorder: Recorder, strip: Strip) -> list[int]:
    """Instants worth a frame: ends of scans, the violations, and every so often while nobody scans."""
    controller = program.controller
    step = max(controller.scan_low if controller is not None else USUAL_STEP, USUAL_STEP if controller is None else 1)
    wanted = {violation.at_ms for violation in strip.violations}
    times: list[int] = []
    for t, at_scan, _ in recorder.instants:
        if at_scan or t in wanted or t - (times[-1] if times else 0) >= step:
            times.append(t)
    if recorder.instants and times[-1:] != [recorder.instants[-1][0]]:
        times.append(recorder.instants[-1][0])
    return times


def _states(recorder: Recorder, times: Sequence[int]) -> list[bytes]:
    """The wires at each time: the program's as the last scan that has ended left them, the circuits' as they stand."""
    scanning = {t: scans for t, _, scans in recorder.instants}
    starts = [t for t, _ in recorder.scans]
    changes = [t for t, _ in recorder.circuits_at]
    dead = recorder.dead()
    found = []
    for t in times:
        scan = bisect_left(starts, t) - 1
        program = recorder.scans[scan][1] if scan >= 0 and scanning[t] else dead
        circuit = bisect_right(changes, t) - 1
        found.append(program + (recorder.circuits_at[circuit][1] if circuit >= 0 else b""))
    return found


def _kept(times: Sequence[int], states: Sequence[bytes], strip: Strip) -> list[int]:
    """The frames that stay, by place."""
    if len(times) <= MOST_FRAMES:
        return list(range(len(times)))
    changed = {t for band in strip.bands if isinstance(band, Truth) for t, _ in band.changes}
    changed |= {violation.at_ms for violation in strip.violations}
    kept = {0, len(times) - 1}
    kept |= {n + 1 for n, (a, b) in enumerate(pairwise(states)) if a != b}
    kept |= {n for n, t in enumerate(times) if t in changed}
    if len(kept) > MOST_FRAMES // 2:
        inside = sorted(kept)
        kept = set(inside[:: -(-len(inside) // (MOST_FRAMES // 2))]) | {0, len(times) - 1}
    stride = -(-len(times) // (MOST_FRAMES - len(kept)))
    return sorted(kept | set(range(0, len(times), stride)))


def _numbers(strip: Strip, trace: Trace, times: Sequence[int]) -> dict[str, tuple[float, ...]]:
    columns = {**trace.tags, **trace.plant}
    places = [min(bisect_left(trace.times, t), len(trace.times) - 1) for t in times]
    return {
        band.name: tuple(float(columns[band.name][place]) for place in places)
        for band in strip.bands
        if isinstance(band, Number)
    }
