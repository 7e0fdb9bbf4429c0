"""The catalogue of diagnoses: one table, merged from one module per area.

An entry says what is wrong, what was expected and the likely mend, and carries at least
one sample that triggers it; one test loops over the whole table.
"""

from __future__ import annotations

import importlib
from pathlib import Path

from rungproof.grammar.diagnosis import Entry


def _collect() -> dict[str, Entry]:
    table: dict[str, Entry] = {}
    for file in sorted(Path(__file__).parent.glob("*.py")):
        if file.stem == "__init__":
            continue
        module = importlib.import_module(f"{__name__}.{file.stem}")
        for entry in module.ENTRIES:
            if entry.code in table:
                raise ValueError(f"diagnosis {entry.code!r} stands twice in the catalogue")
            table[entry.code] = entry
    return table


#: Every diagnosis, by code.
CATALOGUE: dict[str, Entry] = _collect()
