"""Near misses among names, as the mend of a message."""

from __future__ import annotations

from collections.abc import Iterable

from rungproof.logic.meaning.scope import nearest_name


def did_you_mean(name: str, known: Iterable[str]) -> str | None:
    """The mend for a name that nothing bears; None leaves the entry's own mend in place."""
    near = nearest_name(name, dict.fromkeys(known))
    return f"Did you mean `{near}`?" if near else None
