"""Every check that nobody has to ask for, in one call."""

from __future__ import annotations

from rungproof.grammar.diagnosis import Reporter
from rungproof.logic.meaning.program import Program


def report_findings(program: Program, reporter: Reporter) -> None:
    """Look at a program that can run; findings of grade error leave it runnable."""
