"""What a run in the reference engine can be watched by, besides its monitors: for pictures and replays.

An observer changes nothing. It is called as the instants come; see `contract.py` for their order.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Protocol

from rungproof.grammar.tree import Span
from rungproof.logic.engines.reference_expressions import Moment

#: What each condition of the rungs (or circuits) was worth, by its place in the files.
Contacts = Mapping[Span, bool]


class Observer(Protocol):
    """`instant`: step 4 at time `t` (ms); `at_scan` says whether requirements on tags alone look at it.

    `scan`: step 5, a scan that begins at `t`, with the worth of all its conditions and the power
    behind each line of each rung (`contract.Trace.conducting`). `circuits`: step 6 at `t`.
    """

    def instant(self, t: int, moment: Moment, at_scan: bool) -> None: ...

    def scan(self, t: int, contacts: Contacts, conducting: Mapping[str, tuple[bool, ...]]) -> None: ...

    def circuits(self, t: int, contacts: Contacts) -> None: ...
