"""What is physically there: parts, each with its equations, its faults and its published source.

Folder `plant` is the package `rungproof.plant`. It imports nothing of ours. Reading order:
`part` (the contract), `operators` (what a part's arithmetic may use), any part, `clauses`
(a part's line against its class), `assembly` (all parts together), `catalogue` (all kinds).
"""

from rungproof.plant.assembly import Assembly
from rungproof.plant.catalogue import KINDS
from rungproof.plant.clauses import Interval, Item, Matched, Problem, Quantity, Quoted, Word, match
from rungproof.plant.fitting import AssemblyError, PartProblem
from rungproof.plant.operators import PLAIN, Ops, PlainOps, Value
from rungproof.plant.own_parts import PartFileError, load_parts
from rungproof.plant.part import (
    CONTACT_FAULTS,
    Clause,
    Contact,
    Fault,
    Input,
    Mover,
    Output,
    Part,
    PartError,
    Variable,
    Vessel,
)

__all__ = [
    "CONTACT_FAULTS",
    "KINDS",
    "PLAIN",
    "Assembly",
    "AssemblyError",
    "Clause",
    "Contact",
    "Fault",
    "Input",
    "Interval",
    "Item",
    "Matched",
    "Mover",
    "Ops",
    "Output",
    "Part",
    "PartError",
    "PartFileError",
    "PartProblem",
    "PlainOps",
    "Problem",
    "Quantity",
    "Quoted",
    "Value",
    "Variable",
    "Vessel",
    "Word",
    "load_parts",
    "match",
]
