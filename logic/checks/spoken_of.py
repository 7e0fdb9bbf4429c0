"""What a requirement speaks of: the names that a reader of its violation looks up first."""

from __future__ import annotations

from rungproof.logic.checks.expressions import form_expressions, walk
from rungproof.logic.meaning.program import Requirement
from rungproof.logic.meaning.typed import Expression, PartReading, StageOutput, StageReading, TagValue


def names_in(requirement: Requirement) -> tuple[str, ...]:
    """Tags, stages and signals in the requirement's form, each once, in the order written."""
    found = [_name(each) for expression in form_expressions(requirement) for each in walk(expression)]
    return tuple(dict.fromkeys(name for name in found if name is not None))


def _name(expression: Expression) -> str | None:
    match expression:
        case TagValue(tag=name) | PartReading(key=name) | StageOutput(stage=name):
            return name
        case StageReading(stage=name, field=field):
            return f"{name}.{field}"
        case _:
            return None
