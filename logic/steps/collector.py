"""The garbage collector, held while much is made that stays: it would look through all of it time and again."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def held_collector() -> Iterator[None]:
    """No collection in here, unless there was none before either. Nodes hold no cycles: little is left lying."""
    if not gc.isenabled():
        yield
        return
    gc.disable()
    try:
        yield
    finally:
        gc.enable()
