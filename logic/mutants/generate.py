"""All mutants of a project, in one fixed order: block by block, mistake by mistake."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from typing import get_args

from rungproof.grammar import tree
from rungproof.grammar.tree import Block, Rung, Span
from rungproof.logic.meaning.circuits_reading import names_in
from rungproof.logic.mutants import changes_outputs, changes_paths
from rungproof.logic.mutants.changes_paths import Surroundings
from rungproof.logic.mutants.contacts import with_one, without
from rungproof.logic.mutants.mutant import Change, Kind, Mutant, text_of

_RUNG_CHANGES: tuple[Callable[[Rung, Surroundings], Iterator[Change]], ...] = (
    changes_paths.make_for_break,
    changes_paths.edges,
    changes_paths.lines_lost,
    changes_paths.lines_added,
    changes_paths.lines_swapped,
    changes_paths.branches_widened,
    changes_outputs.outputs,
    changes_paths.wrong_tag,
    changes_outputs.presets,
    changes_outputs.numbers,
    changes_outputs.stage_retained,
)

KINDS: tuple[Kind, ...] = get_args(Kind)


def mutants_of(blocks: Sequence[Block], scan_ms: int = 1) -> tuple[Mutant, ...]:
    """Every mutant of a project's blocks. `scan_ms` is the controller's shortest scan.

    The same change made in two ways (two lines that say the same, one of them lost) is one mutant.
    """
    whole = tuple(blocks)
    original = text_of(whole)
    seen: set[str] = set()
    found: list[Mutant] = []
    for place in range(len(whole)):
        for rung, change, changed in _changed(whole, place, scan_ms):
            text = text_of(changed)
            if text == original or text in seen:
                continue
            seen.add(text)
            before, after = _shown(whole, place, change, changed)
            found.append(Mutant(len(found), change.kind, rung, change.span, change.words, before, after, changed))
    return tuple(found)


def _shown(whole: tuple[Block, ...], place: int, change: Change, changed: tuple[Block, ...]) -> tuple[str, str]:
    """What stood there and what stands there now, as text."""
    if change.kind == "rungs exchanged":
        pair = (place, _next_rung(whole, place))
        before, after = (text_of(tuple(blocks[each] for each in pair)) for blocks in (whole, changed))
        return before, after
    return text_of((whole[place],)), "" if change.after is None else text_of((change.after,))


def _changed(whole: tuple[Block, ...], place: int, scan: int) -> Iterator[tuple[str, Change, tuple[Block, ...]]]:
    """The changes of one block: the rung's name, the change, all blocks after it."""
    block = whole[place]
    around = Surroundings(tags=_tags(whole), scan=scan, neighbours=_neighbours(whole, place))
    if isinstance(block, Rung):
        for change in _rung_changes(block, around):
            left = without(whole, place) if change.after is None else with_one(whole, place, change.after)
            yield block.name, change, left
        yield from _exchanged(whole, place)
    elif isinstance(block, tree.Circuit):
        for rung, change in _circuit_changes(block):
            assert change.after is not None
            yield rung, change, with_one(whole, place, change.after)
    elif isinstance(block, tree.Tags):
        for change in changes_outputs.retained(block):
            assert change.after is not None
            yield change.words.strip("`"), change, with_one(whole, place, change.after)


def _rung_changes(rung: Rung, around: Surroundings) -> Iterator[Change]:
    for changes in _RUNG_CHANGES:
        yield from changes(rung, around)


def _circuit_changes(circuit: tree.Circuit) -> Iterator[tuple[str, Change]]:
    devices = tuple(dict.fromkeys(name.text for name in names_in(circuit.rungs)))
    for place, rung in enumerate(circuit.rungs):
        around = Surroundings(wired=True, devices=devices)
        for change in _rung_changes(rung, around):
            rungs = without(circuit.rungs, place)
            if isinstance(change.after, Rung):
                rungs = with_one(circuit.rungs, place, change.after)
            yield rung.name, replace(change, after=replace(circuit, rungs=rungs))


def _exchanged(whole: tuple[Block, ...], place: int) -> Iterator[tuple[str, Change, tuple[Block, ...]]]:
    """A rung and the next one of the controller, in the other order."""
    rung, later = whole[place], _next_rung(whole, place)
    if later == place:
        return
    other = whole[later]
    assert isinstance(rung, Rung) and isinstance(other, Rung)
    swapped = with_one(with_one(whole, place, other), later, rung)
    yield rung.name, Change("rungs exchanged", _whole(rung), f"`{rung.name}` and `{other.name}`", other), swapped


def _whole(rung: Rung) -> Span:
    return rung.span


def _next_rung(whole: tuple[Block, ...], place: int) -> int:
    return next((later for later in range(place + 1, len(whole)) if isinstance(whole[later], Rung)), place)


def _neighbours(whole: tuple[Block, ...], place: int) -> tuple[Rung, ...]:
    """The controller's rungs before and after a block."""
    before = next((b for b in reversed(whole[:place]) if isinstance(b, Rung)), None)
    later = _next_rung(whole, place)
    after = whole[later] if later != place else None
    return tuple(b for b in (before, after) if isinstance(b, Rung))


def _tags(whole: tuple[Block, ...]) -> dict[str, tree.TagLine]:
    return {line.name: line for block in whole if isinstance(block, tree.Tags) for line in block.lines}
