"""All questions, in the order of a review."""

from __future__ import annotations

from rungproof.logic.checks.verdict import CheckResult
from rungproof.logic.faults.result import FaultTable
from rungproof.logic.meaning.program import Program
from rungproof.logic.report.questions.evidence import (
    ask_of_assumptions,
    ask_of_exclusions,
    ask_of_faults,
    ask_of_verdicts,
)
from rungproof.logic.report.questions.hazards import ask_of_hazards
from rungproof.logic.report.questions.question import Question
from rungproof.logic.report.questions.sentences import ask_of_sentences
from rungproof.logic.report.questions.signals import ask_of_signals
from rungproof.logic.report.questions.spoken import Spoken
from rungproof.logic.report.questions.times import ask_of_times


def questions_of(
    program: Program, result: CheckResult, faults: FaultTable | None
) -> tuple[tuple[str, tuple[Question, ...]], ...]:
    """Heading and questions; headings without a question are left out."""
    spoken = Spoken(program)
    groups = (
        (
            "What is left out, and what is taken for granted",
            (*ask_of_exclusions(program, faults), *ask_of_assumptions(result)),
        ),
        ("Hazards", tuple(ask_of_hazards(spoken))),
        ("Sentences and formulas", tuple(ask_of_sentences(spoken))),
        ("Signals, devices and stops", tuple(ask_of_signals(spoken))),
        ("Times, memory and hands", tuple(ask_of_times(spoken))),
        ("What was found", (*ask_of_verdicts(program, result), *ask_of_faults(faults))),
    )
    return tuple((heading, asked) for heading, asked in groups if asked)
