"""What numbers are rewritten to: a Step over bools (and kept whole numbers), and what its names stand for."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from rungproof.logic.proofs.literals import Clause, Literal
from rungproof.logic.steps.node import Node
from rungproof.logic.steps.step import Step


@dataclass(frozen=True)
class Bits:
    """A Step over bools (and kept ints) that shows whatever the given Step shows.

    `facts` says what each new bool state means: the literal of the given Step that it stands for.
    `thresholds` names, for each input, its new inputs by rising threshold. `free` are states
    with any start value, within `start_clauses` over the given Step's literals. `compared` are new
    inputs that say whether the first of two numbers of the given Step is less than the second. `loose`
    are the numbers of what a free bit stands for.
    """

    step: Step
    facts: Mapping[str, Literal]
    thresholds: Mapping[str, tuple[tuple[float | int, str], ...]]
    free: frozenset[str]
    start_clauses: tuple[Clause, ...]
    exact: bool
    compared: Mapping[str, tuple[Node, Node]] = field(default_factory=dict)
    loose: frozenset[str] = frozenset()


def above(value: float | int) -> float | int:
    """The next greater value of its type."""
    return value + 1 if isinstance(value, int) else math.nextafter(value, math.inf)


def below(value: float | int) -> float | int:
    return value - 1 if isinstance(value, int) else math.nextafter(value, -math.inf)
