"""What ran: our version and that of what the results hang on."""

from __future__ import annotations

import platform
from importlib import metadata

#: Distributions whose version may matter for a result.
USED = ("hypothesis", "lark", "numpy", "pint", "python-sat", "z3-solver")


def version() -> str:
    """Our own version; `unknown` where the package was not installed."""
    return _of("rungproof")


def versions() -> dict[str, str]:
    return {"rungproof": version(), "python": platform.python_version(), **{name: _of(name) for name in USED}}


def _of(distribution: str) -> str:
    try:
        return metadata.version(distribution)
    except metadata.PackageNotFoundError:
        return "unknown"
