"""Circuits: rungs of contacts and coils that are wires and relays, not a program.

A circuit sees contacts (`LS2`: its contact is closed), the controller's output terminals,
and its own nodes: points that one of its rungs drives and others read. Relay coils act one
tick later at the earliest, so only nodes can make a loop within an instant; such a loop is
refused with its path shown.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from rungproof.grammar import tree
from rungproof.grammar.diagnosis import Reporter
from rungproof.grammar.tree import Span
from rungproof.logic.meaning.circuits_reading import circuit_scope, names_in
from rungproof.logic.meaning.circuits_targets import Drives
from rungproof.logic.meaning.expressions import type_contact
from rungproof.logic.meaning.machine import Machine
from rungproof.logic.meaning.machine_supplies import supply_named
from rungproof.logic.meaning.program import Circuit, Condition, Output, Rung, Tag
from rungproof.logic.meaning.scope import Context, Scope, Slots
from rungproof.logic.meaning.typed import Expression


@dataclass(slots=True)
class _Reading:
    """One circuit while it is read: `written` says where each node is driven."""

    circuit: tree.Circuit
    scope: Scope
    drives: Drives
    reporter: Reporter
    written: dict[str, Span] = field(default_factory=dict)
    rungs: list[Rung] = field(default_factory=list)
    sound: bool = True


def read_circuits(
    circuits: Iterable[tree.Circuit],
    machine: Machine,
    tags: Mapping[str, Tag | None],
    drives: Drives,
    reporter: Reporter,
) -> list[Circuit]:
    """The circuits that could be read whole. `tags` maps a tag whose own line is wrong to None."""
    all_circuits = list(circuits)
    nodes_of = {id(c): drives.nodes_of(c) for c in all_circuits}
    found = []
    for circuit in all_circuits:
        elsewhere = {n: c.name for c in all_circuits if c is not circuit for n in nodes_of[id(c)]}
        scope = circuit_scope(circuit, machine, tags, nodes_of[id(circuit)], elsewhere)
        read = _read_circuit(_Reading(circuit, scope, drives, reporter), machine)
        if read is not None:
            found.append(read)
    return found


def _read_circuit(reading: _Reading, machine: Machine) -> Circuit | None:
    circuit, reporter = reading.circuit, reading.reporter
    supply = supply_named(circuit.supply, machine, f'Circuit "{circuit.name}"', reporter)
    names: dict[str, Span] = {}
    for rung in circuit.rungs:
        if rung.name in names:
            related = ((names[rung.name], "the first one"),)
            reporter.report("same-name-twice", rung.span, word="rung", name=rung.name, related=related)
        names.setdefault(rung.name, rung.span)
        _read_rung(rung, reading)
    _unread_nodes(reading)
    ordered = _ordered(reading)
    if supply is None or ordered is None or not reading.sound:
        return None
    return Circuit(circuit.name, supply, tuple(ordered), tuple(reading.rungs), circuit.span)


def _read_rung(rung: tree.Rung, reading: _Reading) -> None:
    elements: list[Condition] = []
    for element in rung.elements:
        if isinstance(element, tree.Stage):
            reading.reporter.report("circuit-stage", element.span, kind=element.kind)
            reading.sound = False
            continue
        expression = _contacts(element.expression, rung, reading)
        if expression is None:
            reading.sound = False
        else:
            elements.append(Condition(expression, element.span))
    outputs = [_output(output, rung, reading) for output in rung.outputs]
    whole = tuple(output for output in outputs if output is not None)
    reading.sound = reading.sound and len(whole) == len(outputs)
    reading.rungs.append(Rung(rung.name, rung.remark, tuple(elements), whole, rung.span))


def _contacts(node: tree.Expression, rung: tree.Rung, reading: _Reading) -> Expression | None:
    """Contacts in series and parallel, and nothing else."""
    refused = _not_wire(node)
    if refused is not None:
        code, span = refused
        reading.reporter.report(code, span)
        return None
    context = Context(reading.scope, reading.reporter, Slots(f"{reading.circuit.name}/{rung.name}"))
    return type_contact(node, context)


def _not_wire(node: tree.Expression) -> tuple[str, Span] | None:
    """The code and place of the first thing that no wire can do."""
    match node:
        case tree.Name():
            return None
        case tree.Group(inner=inner):
            return _not_wire(inner)
        case tree.Series(operands=operands) | tree.Parallel(operands=operands):
            return next((found for o in operands if (found := _not_wire(o)) is not None), None)
        case tree.Not():
            return "circuit-negates", node.span
        case tree.Edge():
            return "circuit-edge", node.span
        case _:
            return "circuit-number", node.span


def _output(output: tree.Output, rung: tree.Rung, reading: _Reading) -> Output | None:
    if output.kind != "coil":
        reading.reporter.report("circuit-output", output.span)
        return None
    target = reading.drives.target(output, reading.circuit, reading.reporter)
    when = None
    if output.when is not None:
        when = _contacts(output.when, rung, reading)
    if target is None or (output.when is not None and when is None):
        return None
    key, kind = target
    if kind == "node":
        reading.written.setdefault(key, output.span)
    return Output("coil", key, kind, None, when, output.span)


# ------------------------------------------------------------------- nodes


def _read_by(rung: tree.Rung, nodes: Mapping[str, Span]) -> list[tuple[str, Span]]:
    return [(name.text, name.span) for name in names_in(rung) if name.text in nodes]


def _unread_nodes(reading: _Reading) -> None:
    """A node nobody reads is most likely a device misspelt."""
    read = {text for rung in reading.circuit.rungs for text, _ in _read_by(rung, reading.written)}
    for node, span in reading.written.items():
        if node not in read:
            reading.drives.report_unread(node, span, reading.reporter)


def _ordered(reading: _Reading) -> list[Rung] | None:
    """Rungs in an order in which every node is driven before it is read; None if there is none.

    Among rungs that are free to go, the first written goes first.
    """
    written = reading.circuit.rungs
    drives = [{output.target.text for output in rung.outputs} & reading.written.keys() for rung in written]
    waits = [_read_by(rung, reading.written) for rung in written]
    driver = {node: index for index, nodes in enumerate(drives) for node in nodes}
    readers: dict[int, set[int]] = {}
    missing = [{driver[node] for node, _ in each} for each in waits]
    for index, needed in enumerate(missing):
        for each in needed:
            readers.setdefault(each, set()).add(index)
    free = [index for index, needed in enumerate(missing) if not needed]
    ordered: list[int] = []
    while free:
        index = heapq.heappop(free)
        ordered.append(index)
        for reader in readers.get(index, ()):
            missing[reader].discard(index)
            if not missing[reader]:
                heapq.heappush(free, reader)
    if len(ordered) < len(written):
        _report_loop(written, [i for i, needed in enumerate(missing) if needed], waits, driver, reading.reporter)
        return None
    return [reading.rungs[index] for index in ordered]


def _report_loop(
    rungs: Sequence[tree.Rung],
    stuck: Sequence[int],
    waits: Sequence[Sequence[tuple[str, Span]]],
    driver: Mapping[str, int],
    reporter: Reporter,
) -> None:
    """Walk from reader to driver until a rung comes back; show that loop."""
    at, path, seen = stuck[0], list[tuple[str, str, Span]](), dict[int, int]()
    waiting = set(stuck)
    while at not in seen:
        seen[at] = len(path)
        node, span = next((n, s) for n, s in waits[at] if driver[n] in waiting)
        path.append((rungs[at].name, node, span))
        at = driver[node]
    loop = path[seen[at] :]
    words = ", ".join(f"rung {name} waits for {node}" for name, node, _ in loop)
    related = tuple((span, f"rung {name} reads {node} here") for name, node, span in loop)
    reporter.report("circuit-loop", loop[0][2], loop=words, related=related)
