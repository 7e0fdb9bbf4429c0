"""The verbs as functions: what the command line does, for Python and for notebooks.

A path is a folder (one project) or a `.rung` file with what it uses. Nothing here prints. The functions stand in
`rungproof.logic.verbs`, a module for each kind.
"""

from __future__ import annotations

from rungproof.logic.verbs.checking import PROVE_S, check, compare, reaction, record_beside
from rungproof.logic.verbs.drawing import draw, draw_svg, drawing_of, svg_files_of
from rungproof.logic.verbs.faulting import faults, independence, loop, restart
from rungproof.logic.verbs.formatting import format
from rungproof.logic.verbs.grading import grade
from rungproof.logic.verbs.papers import evidence, evidence_of, sheets
from rungproof.logic.verbs.questioning import coverage, mutants
from rungproof.logic.verbs.reading import read_to_draw, understand
from rungproof.logic.verbs.running import IDLE_MS, chart, page, replay, run, run_program, scenario_of

__all__ = [
    "IDLE_MS",
    "PROVE_S",
    "chart",
    "check",
    "compare",
    "coverage",
    "draw",
    "draw_svg",
    "drawing_of",
    "evidence",
    "evidence_of",
    "faults",
    "format",
    "grade",
    "independence",
    "loop",
    "mutants",
    "page",
    "reaction",
    "read_to_draw",
    "record_beside",
    "replay",
    "restart",
    "run",
    "run_program",
    "scenario_of",
    "sheets",
    "svg_files_of",
    "understand",
]
