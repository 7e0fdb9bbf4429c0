"""In which order requirements are told: that of their names, so that a reader finds R17 after R16."""

from __future__ import annotations

import re
from dataclasses import replace

from rungproof.logic.checks.verdict import CheckResult
from rungproof.logic.meaning.program import Program


def by_name(name: str) -> tuple[tuple[int, int, str], ...]:
    """A key to sort by: figures in a name count as numbers, R2 before R10."""
    parts = re.split(r"(\d+)", name)
    return tuple((1, int(part), part) if place % 2 else (0, 0, part) for place, part in enumerate(parts))


def in_order(program: Program, result: CheckResult) -> tuple[Program, CheckResult]:
    """Both, with requirements and verdicts in the order of their names."""
    requirements = tuple(sorted(program.requirements, key=lambda each: by_name(each.name)))
    verdicts = tuple(sorted(result.verdicts, key=lambda each: by_name(each.requirement)))
    return replace(program, requirements=requirements), replace(result, verdicts=verdicts)
