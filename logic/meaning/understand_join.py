"""Joins controller, plant, circuits, wiring, requirements and scenarios into one `Program`."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from math import gcd
from pathlib import Path

from rungproof.grammar import tree
from rungproof.grammar.diagnosis import Reporter
from rungproof.grammar.tree import Block, Span
from rungproof.logic.meaning.circuits import read_circuits
from rungproof.logic.meaning.circuits_reading import names_in
from rungproof.logic.meaning.circuits_targets import Drives
from rungproof.logic.meaning.controller import ControllerReading, type_controller
from rungproof.logic.meaning.exclusions import read_exclusions
from rungproof.logic.meaning.knobs import Surroundings, knobs_of
from rungproof.logic.meaning.machine import Machine, read_machine
from rungproof.logic.meaning.machine_kinds import kinds_for
from rungproof.logic.meaning.machine_signals import sound_parts
from rungproof.logic.meaning.program import Circuit, Plant, Program, Tag
from rungproof.logic.meaning.project import Project
from rungproof.logic.meaning.requirements import Watcher
from rungproof.logic.meaning.restate import Restater
from rungproof.logic.meaning.scenarios import Teller, check_names
from rungproof.logic.meaning.scenarios_targets import Stage
from rungproof.logic.meaning.terminals import Wire, faults_of_wires
from rungproof.logic.meaning.typed import TagValue
from rungproof.logic.meaning.understand_names import ProjectNames, hidden_from_program
from rungproof.logic.meaning.wiring import Wired, check_complete, read_wiring


def join(project: Project, folder: Path | None, reporter: Reporter) -> Program | None:
    """The program, or None where nothing can run. The caller drops it where a mistake was found."""
    blocks = project.blocks
    machine = _machine(blocks, folder, reporter)
    reading = type_controller(blocks, reporter, hidden_from_program(machine, blocks))
    tags = _tags(reading)
    wired, plant = Wired(), None
    if machine is None:
        _refuse_without_plant(blocks, reporter)
    else:
        wired, plant = _plant(blocks, machine, tags, reporter)
        _report_scans(blocks, _scan(reading), machine, reporter)
    names = ProjectNames(reading.entries, machine)
    restater = Restater(names.manner)
    scope = names.scope(blocks)
    watcher = Watcher(scope, dict(reading.tags), machine is not None, restater, reporter)
    hazards, requirements = watcher.hazards(blocks), watcher.requirements(blocks)
    assumptions = watcher.assumptions(blocks)
    has_controller = any(isinstance(b, tree.Controller) for b in blocks)
    parts = None if machine is None else tuple(sound_parts(machine))
    leading = _leading(wired, _read_terminals(blocks, tags))
    knobs = knobs_of(Surroundings(reading.tags, parts, faults_of_wires(leading), has_controller))
    wires = {w.tag: w.source for w in wired.inputs}
    stage = Stage(knobs, tags, machine, wires, has_controller, any(r.outputs_free for r in requirements))
    teller = Teller(stage, _scan(reading), machine.tick if machine else 1, scope, restater, reporter)
    scenarios = teller.scenarios(blocks)
    exclusions = read_exclusions(blocks, stage, reporter)
    check_names(blocks, reporter)
    if reading.controller is None and plant is None:
        _refuse_nothing(project, reporter)
        return None
    return Program(
        sources=tuple(project.sources),
        controller=reading.controller,
        plant=plant,
        hazards=tuple(hazards),
        requirements=tuple(requirements),
        assumptions=tuple(assumptions),
        scenarios=tuple(scenarios),
        knobs=knobs,
        exclusions=tuple(exclusions),
    )


def _machine(blocks: list[Block], folder: Path | None, reporter: Reporter) -> Machine | None:
    block = next((b for b in blocks if isinstance(b, tree.Plant)), None)
    return None if block is None else read_machine(block, kinds_for(block, folder, reporter), reporter)


def _tags(reading: ControllerReading) -> dict[str, Tag | None]:
    """Every tag by name; None for one whose own line is wrong."""
    leaves = ((name, leaf) for name, leaf in reading.entries.items() if leaf is None or isinstance(leaf, TagValue))
    return {name: reading.tags.get(name) for name, _ in leaves}


def _scan(reading: ControllerReading) -> tuple[int, int] | None:
    controller = reading.controller
    return None if controller is None else (controller.scan_low, controller.scan_high)


def _report_scans(blocks: list[Block], scan: tuple[int, int] | None, machine: Machine, reporter: Reporter) -> None:
    """A scan begins and ends where the plant moves: its shortest and its longest are whole ticks."""
    if scan is None or machine.off_tick or not any(each % machine.tick for each in scan):
        return
    every = next(b for b in blocks if isinstance(b, tree.Controller)).every
    end = every.high if isinstance(every, tree.Interval) else every
    if isinstance(end, tree.Number) and end.unit is None:
        return  # that is said already
    low, high = scan
    declared = f"{low} ms" if low == high else f"{low}..{high} ms"
    reporter.report("scan-off-tick", every.span, scan=declared, tick=machine.tick, fits=gcd(low, high, machine.tick))


def _leading(wired: Wired, read: Collection[str]) -> tuple[Wire, ...]:
    """The wires that lead somewhere; `read` are the output tags that circuits read."""
    inputs = [w for w in wired.inputs if w.source is not None]
    return (*inputs, *(w for w in wired.outputs if w.target is not None or w.tag in read))


# --------------------------------------------------------------------- plant


def _plant(
    blocks: list[Block], machine: Machine, tags: Mapping[str, Tag | None], reporter: Reporter
) -> tuple[Wired, Plant | None]:
    drives = Drives(machine, tags.keys())
    written = [b for b in blocks if isinstance(b, tree.Circuit)]
    circuits = read_circuits(written, machine, tags, drives, reporter)
    wired = _wiring(blocks, machine, tags, drives, reporter)
    if not machine.broken and wired.sound and len(circuits) == len(written):
        _report_undriven(machine, drives, reporter)
    if machine.assembly is None or not wired.sound or len(circuits) != len(written):
        return wired, None
    return wired, _built(machine, circuits, wired)


def _report_undriven(machine: Machine, drives: Drives, reporter: Reporter) -> None:
    """Parts that nothing drives, unless a lost wire or a misspelt coil explains it already."""
    if any(d.code in ("node-unread", "output-unwired", "output-leads-nowhere") for d in reporter.found):
        return
    undriven: dict[str, list[str]] = {}
    for key in drives.undriven():
        undriven.setdefault(key.partition(".")[0], []).append(f"`{key}`")
    for part, keys in undriven.items():
        reporter.report("drive-undriven", machine.lines[part].span, names=" and ".join(keys), part=part)


def _built(machine: Machine, circuits: list[Circuit], wired: Wired) -> Plant:
    if machine.assembly is None:
        raise ValueError(f"plant {machine.name!r} has not been put together")
    return Plant(
        name=machine.name,
        tick=machine.tick,
        assembly=machine.assembly,
        circuits=tuple(circuits),
        inputs=tuple(wired.inputs),
        outputs=tuple(wired.outputs),
        controller_supply=wired.controller_supply,
        span=machine.span,
    )


def _wiring(
    blocks: list[Block], machine: Machine, tags: Mapping[str, Tag | None], drives: Drives, reporter: Reporter
) -> Wired:
    written = [b for b in blocks if isinstance(b, tree.Wiring)]
    if not any(isinstance(b, tree.Controller | tree.Tags) for b in blocks):
        for block in written:
            reporter.report("wiring-without-controller", block.span)
        return Wired(sound=not written)
    if not written:
        reporter.report("wiring-missing", machine.span)
        return Wired(sound=False)
    wired = read_wiring(written, machine, tags, drives, reporter)
    check_complete(wired, machine, tags, _read_terminals(blocks, tags), reporter)
    return wired


def _read_terminals(blocks: list[Block], tags: Mapping[str, Tag | None]) -> dict[str, Span]:
    """Output tags whose terminals circuits read, and where first."""
    found: dict[str, Span] = {}
    for block in blocks:
        if isinstance(block, tree.Circuit):
            for name in names_in(block.rungs):
                tag = tags.get(name.text)
                if tag is not None and tag.role == "output":
                    found.setdefault(name.text, name.span)
    return found


# ------------------------------------------------------------------ refusals


def _refuse_without_plant(blocks: list[Block], reporter: Reporter) -> None:
    for block in blocks:
        if isinstance(block, tree.Circuit):
            reporter.report("circuit-without-plant", block.span, name=block.name)
        elif isinstance(block, tree.Wiring):
            reporter.report("wiring-without-plant", block.span)


def _refuse_nothing(project: Project, reporter: Reporter) -> None:
    """Files that hold neither controller nor plant, if nothing else has been said about them."""
    if project.sources and not reporter.has_errors:
        source = project.sources[-1]
        reporter.report("nothing-to-run", Span(source.path, 1, 1, 1))
