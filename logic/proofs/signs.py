"""In which sense a truth depends on what it is made of: comes on as a number rises, or as it falls, or either way."""

from __future__ import annotations

from rungproof.logic.steps.intervals import extreme
from rungproof.logic.steps.node import Node, ordered

#: What operators do to the sense of their operands, in order: 1 keeps it, -1 turns it round. Of all others: either way.
_SENSES = {
    "and": (1, 1),
    "or": (1, 1),
    "not": (-1,),
    "le": (-1, 1),
    "lt": (-1, 1),
    "add": (1, 1),
    "sub": (1, -1),
    "neg": (-1,),
    "real": (1,),
    "round": (1,),
    "trunc": (1,),
}
EITHER = frozenset((1, -1))


def signs_in(root: Node) -> dict[Node, set[int]]:
    """For each node below `root`: 1 where more of it can make more of `root`, -1 where less of it can."""
    found: dict[Node, set[int]] = {root: {1}}
    for node in reversed(ordered([root])):
        senses = found.get(node, set())
        for place, operand in enumerate(node.operands):
            found.setdefault(operand, set()).update(sign * each for sign in senses for each in _sense(node, place))
    return found


def _sense(node: Node, place: int) -> frozenset[int]:
    if node.operator == "select":
        # What chooses the lesser or the greater of two numbers only says which it is.
        if place == 0:
            return frozenset() if extreme(node) is not None else EITHER
        return frozenset((1,))
    senses = _SENSES.get(node.operator)
    return EITHER if senses is None else frozenset((senses[place],))
