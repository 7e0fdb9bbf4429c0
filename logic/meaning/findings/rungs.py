"""The findings that need nothing but the rungs: entry point."""

from __future__ import annotations

from collections.abc import Callable, Set

from rungproof.grammar.diagnosis import Reporter
from rungproof.logic.meaning.findings.coils import find_in_coils
from rungproof.logic.meaning.findings.contacts import find_in_contacts
from rungproof.logic.meaning.findings.numbers import find_in_numbers
from rungproof.logic.meaning.findings.paths import Paths
from rungproof.logic.meaning.findings.power_up import find_at_power_up
from rungproof.logic.meaning.findings.sealing import find_in_sealing
from rungproof.logic.meaning.findings.usage import find_in_usage
from rungproof.logic.meaning.program import Controller


def rung_findings(
    controller: Controller,
    reporter: Reporter,
    *,
    moves: Callable[[str], bool] | None = None,
    read_elsewhere: Set[str] = frozenset(),
) -> None:
    """Report what a colleague would say of the rungs before anybody asks.

    `moves` tells whether an output tag moves something (None: there is no plant to tell);
    `read_elsewhere` are the tags that requirements, circuits or wiring read.
    """
    paths = Paths(controller)
    find_in_coils(paths, reporter)
    find_in_usage(paths, moves, read_elsewhere, reporter)
    find_in_contacts(paths, reporter)
    find_in_numbers(paths, reporter)
    find_at_power_up(paths, moves, reporter)
    find_in_sealing(paths, reporter)
