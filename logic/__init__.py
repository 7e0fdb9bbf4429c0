"""Folder `logic` is the package `rungproof.logic`: what the text means and whether it is right.

In reading order: `meaning` (names, types, units, findings; the Program), `steps` (the step
form, lowering), `engines` (the contract, the reference, the compiled one), `checks` (stories,
search, verdicts), `evidence` (drawings, accounts), `verbs` (what can be asked, as functions),
`commands` (the command line, the plugin).

The verbs of the command line stand here as functions, with small typed results:

    from rungproof.logic import check
    result = check("examples/header_tank")
    result.verdict("R1").word

They are loaded when first asked for, so that importing this package costs nothing.
"""

from __future__ import annotations

import sys
from importlib import import_module
from types import ModuleType
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from rungproof.logic.api_results import ChartResult as ChartResult
    from rungproof.logic.api_results import FilesWrongError as FilesWrongError
    from rungproof.logic.api_results import FormatResult as FormatResult
    from rungproof.logic.api_results import RunResult as RunResult
    from rungproof.logic.checks.replay import ReplayResult as ReplayResult
    from rungproof.logic.checks.verdict import CheckResult as CheckResult
    from rungproof.logic.checks.verdict import Verdict as Verdict
    from rungproof.logic.compare_results import CompareResult as CompareResult
    from rungproof.logic.coverage.result import CoverageResult as CoverageResult
    from rungproof.logic.engines.bench import Bench as Bench
    from rungproof.logic.faults.result import FaultTable as FaultTable
    from rungproof.logic.loops.loop import LoopResult as LoopResult
    from rungproof.logic.meaning.understand import Understanding as Understanding
    from rungproof.logic.mutants.result import MutantsResult as MutantsResult
    from rungproof.logic.safety.independence import IndependenceResult as IndependenceResult
    from rungproof.logic.safety.restart import RestartResult as RestartResult
    from rungproof.logic.verbs.checking import check as check
    from rungproof.logic.verbs.checking import compare as compare
    from rungproof.logic.verbs.checking import reaction as reaction
    from rungproof.logic.verbs.drawing import draw as draw
    from rungproof.logic.verbs.drawing import draw_svg as draw_svg
    from rungproof.logic.verbs.faulting import faults as faults
    from rungproof.logic.verbs.faulting import independence as independence
    from rungproof.logic.verbs.faulting import loop as loop
    from rungproof.logic.verbs.faulting import restart as restart
    from rungproof.logic.verbs.formatting import format as format
    from rungproof.logic.verbs.questioning import coverage as coverage
    from rungproof.logic.verbs.questioning import mutants as mutants
    from rungproof.logic.verbs.reading import understand as understand
    from rungproof.logic.verbs.running import chart as chart
    from rungproof.logic.verbs.running import page as page
    from rungproof.logic.verbs.running import replay as replay
    from rungproof.logic.verbs.running import run as run

_HOMES = {
    "Bench": "engines.bench",
    "ChartResult": "api_results",
    "CheckResult": "checks.verdict",
    "CompareResult": "compare_results",
    "CoverageResult": "coverage.result",
    "FaultTable": "faults.result",
    "FilesWrongError": "api_results",
    "FormatResult": "api_results",
    "MutantsResult": "mutants.result",
    "IndependenceResult": "safety.independence",
    "LoopResult": "loops.loop",
    "ReplayResult": "checks.replay",
    "RestartResult": "safety.restart",
    "RunResult": "api_results",
    "Understanding": "meaning.understand",
    "Verdict": "checks.verdict",
    "chart": "verbs.running",
    "check": "verbs.checking",
    "compare": "verbs.checking",
    "coverage": "verbs.questioning",
    "draw": "verbs.drawing",
    "draw_svg": "verbs.drawing",
    "faults": "verbs.faulting",
    "format": "verbs.formatting",
    "mutants": "verbs.questioning",
    "independence": "verbs.faulting",
    "page": "verbs.running",
    "loop": "verbs.faulting",
    "reaction": "verbs.checking",
    "replay": "verbs.running",
    "restart": "verbs.faulting",
    "run": "verbs.running",
    "understand": "verbs.reading",
}

__all__ = [
    "Bench",
    "ChartResult",
    "CheckResult",
    "CompareResult",
    "CoverageResult",
    "FaultTable",
    "FilesWrongError",
    "FormatResult",
    "IndependenceResult",
    "LoopResult",
    "MutantsResult",
    "ReplayResult",
    "RestartResult",
    "RunResult",
    "Understanding",
    "Verdict",
    "chart",
    "check",
    "compare",
    "coverage",
    "draw",
    "draw_svg",
    "faults",
    "format",
    "independence",
    "loop",
    "mutants",
    "page",
    "reaction",
    "replay",
    "restart",
    "run",
    "understand",
]


class _Door(ModuleType):
    """Three folders bear the name of a verb. Whoever imports from one would leave it standing here in the verb's place:
    `faults`, `coverage` and `mutants` are always the functions, and the folders are had by their whole names."""

    def __setattr__(self, name: str, value: object) -> None:
        if not (name in _HOMES and isinstance(value, ModuleType)):
            super().__setattr__(name, value)


sys.modules[__name__].__class__ = _Door


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)


def __dir__() -> list[str]:
    return [*globals(), *_HOMES]
