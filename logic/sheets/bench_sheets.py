"""All bench sheets of a project as one result."""

from __future__ import annotations

from dataclasses import dataclass

from rungproof.logic.meaning.program import Hazard, Program
from rungproof.logic.sheets.cause_effect import Matrix, effects_of, matrix_from
from rungproof.logic.sheets.readings import TOLERANCE, Reading, input_readings, output_readings
from rungproof.logic.sheets.states import states_of
from rungproof.logic.sheets.steps import Procedure, procedures_of
from rungproof.logic.sheets.wiring_list import CircuitLine, Terminal, circuit_lines, supply_words, terminals_of


@dataclass(frozen=True, slots=True)
class BenchSheets:
    """What `rungproof sheets` writes down. `tolerance` is in percent of the span; `moving` are the
    parts that can move; `kinds` are the kinds of all parts; `sources` are the files with their SHA-256."""

    controller: str
    plant: str
    scan_ms: tuple[int, int]
    tolerance: float
    sources: tuple[tuple[str, str], ...]
    hazards: tuple[Hazard, ...]
    moving: tuple[str, ...]
    supplies: tuple[str, ...]
    terminals: tuple[Terminal, ...]
    circuits: tuple[CircuitLine, ...]
    inputs: tuple[Reading, ...]
    outputs: tuple[Reading, ...]
    matrices: tuple[Matrix, ...]
    procedures: tuple[Procedure, ...]
    kinds: tuple[str, ...]


def bench_sheets(program: Program, *, tolerance: float = TOLERANCE) -> BenchSheets:
    """Work the sheets out; runs the program some dozens of times. `tolerance`: percent of the span."""
    effects = effects_of(program)
    states = states_of(program, [effect.key for effect in effects])
    matrices = tuple(matrix_from(program, state) for state in states)
    plant, controller = program.plant, program.controller
    parts = plant.assembly.parts if plant is not None else ()
    return BenchSheets(
        controller.name if controller is not None else "",
        plant.name if plant is not None else "",
        (controller.scan_low, controller.scan_high) if controller is not None else (0, 0),
        tolerance,
        tuple((source.path, source.digest) for source in program.sources),
        program.hazards,
        tuple(dict.fromkeys(effect.key.partition(".")[0] for effect in effects if effect.moves)),
        tuple(supply_words(plant, part.name) for part in parts if plant is not None and part.kind == "supply"),
        terminals_of(program),
        circuit_lines(program),
        input_readings(program, tolerance),
        output_readings(program, tolerance),
        matrices,
        procedures_of(program, matrices),
        tuple(sorted({part.kind for part in parts})),
    )
