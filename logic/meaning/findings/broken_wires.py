"""Stop and trip inputs whose broken wire does not lead to the safe state.

A broken wire reads off. Where off lets something move, the stop is lost without a word: the
trade wires stops and trips with break contacts, closed while healthy, and reads them plain
(IEC 60204-1, 9.2 and 10.7, from memory). What counts as such an input is declared here: one
wired from a sensor or a button, standing in series in a path to something that moves. A
permissive in parallel, or an edge, is a demand and no stop.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from rungproof.grammar.diagnosis import Reporter
from rungproof.logic.meaning.program import Condition, Controller, InputWire, Plant, Program, Rung, Stage
from rungproof.logic.meaning.typed import AllOf, Expression, Inverse, TagValue

#: How many memory tags may stand between the input and the output.
_DEPTH = 4


def find_in_broken_wires(program: Program, moves: Callable[[str], bool], reporter: Reporter) -> None:
    """Each such input once, at the contact nearest to what moves."""
    if program.controller is None or program.plant is None:
        return
    wires = {wire.tag: wire for wire in program.plant.inputs if _from_the_field(wire, program.plant)}
    seen: set[str] = set()
    for output in [t.name for t in program.controller.tags.values() if t.role == "output" and moves(t.name)]:
        needed = _needed(program.controller, output, _DEPTH)
        for name, contact, tripped in _lets_move(program.controller, output, _DEPTH):
            wire = wires.get(name)
            if wire is None or name in seen or name in needed:
                continue
            seen.add(name)
            kind = program.plant.assembly.contacts[wire.source or ""].kind
            code = "broken-wire-hides-trip" if tripped else "broken-wire-lets-run"
            right = f"write `{'not ' if tripped else ''}{name}`: it is wired so that off means danger"
            reporter.report(
                code,
                contact.span,
                mend=right if kind == "break" else None,
                tag=name,
                output=output,
                kind=kind,
                source=wire.source,
                related=((wire.span, "the wire"),),
            )


def _from_the_field(wire: InputWire, plant: Plant) -> bool:
    """Whether a wire comes from a contact of something that nothing drives: a sensor, a button."""
    if wire.channel is not None or wire.source is None:
        return False
    part = wire.source.partition(".")[0]
    return not any(key.partition(".")[0] == part for key in plant.assembly.driven)


def _lets_move(controller: Controller, target: str, depth: int) -> Iterator[tuple[str, Expression, bool]]:
    """Tags whose being off lets `target` come on: read as `not`, or missing to set what is read as `not`."""
    for rung in controller.rungs:
        if not any(o.target == target and o.kind in ("coil", "set") for o in rung.outputs):
            continue
        for contact, plain in _series(rung):
            if not isinstance(contact, TagValue):
                continue
            tag = controller.tags[contact.tag]
            if tag.role == "input":
                if not plain:
                    yield tag.name, contact, False
            elif tag.role == "memory" and plain and depth:
                yield from _lets_move(controller, tag.name, depth - 1)
            elif tag.role == "memory" and depth:
                yield from _trips(controller, tag.name)


def _needed(controller: Controller, target: str, depth: int) -> set[str]:
    """Inputs that must be on for `target` to come on: their broken wire stops it in any case."""
    found: set[str] = set()
    for rung in controller.rungs:
        if any(o.target == target and o.kind in ("coil", "set") for o in rung.outputs):
            plain = [c.tag for c, is_plain in _series(rung) if is_plain and isinstance(c, TagValue)]
            found |= set(plain)
            for name in plain if depth else []:
                if controller.tags[name].role == "memory":
                    found |= _needed(controller, name, depth - 1)
    return found


def _trips(controller: Controller, mark: str) -> Iterator[tuple[str, Expression, bool]]:
    """Inputs read plain in a rung that puts up a mark: off never puts it up."""
    for rung in controller.rungs:
        if any(o.target == mark and o.kind in ("coil", "set") for o in rung.outputs):
            for contact, plain in _series(rung):
                if isinstance(contact, TagValue) and plain and controller.tags[contact.tag].role == "input":
                    yield contact.tag, contact, True


def _series(rung: Rung) -> Iterator[tuple[Expression, bool]]:
    """The contacts in series, each with whether it is read plain; what stands in parallel is left out."""
    for element in rung.elements:
        if isinstance(element, Stage):
            continue
        yield from _contacts(element)


def _contacts(element: Condition) -> Iterator[tuple[Expression, bool]]:
    waiting: list[Expression] = [element.expression]
    while waiting:
        node = waiting.pop()
        if isinstance(node, AllOf):
            waiting += node.operands
        elif isinstance(node, Inverse):
            yield node.operand, False
        else:
            yield node, True
