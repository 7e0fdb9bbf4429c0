"""Ctrl-C, wherever it comes.

Python raises it between any two instructions of the main thread. Should that be inside a
callback whose errors nobody can receive (a weak reference that dies, the collector at work), the
error is reported and dropped, and the command would go on as if nobody had asked it to stop.
Common practice, no source; the rule on dropped errors is that of `sys.unraisablehook`.
"""

from __future__ import annotations

import _thread
import signal
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sys import UnraisableHookArgs

_AGAIN_S = 0.01  # long enough to have left the callback


@contextmanager
def never_lost() -> Iterator[None]:
    """While it holds, a Ctrl-C that fell into such a callback is raised once more outside it."""
    before = sys.unraisablehook

    def hook(dropped: UnraisableHookArgs) -> None:
        if not issubclass(dropped.exc_type, KeyboardInterrupt):
            before(dropped)
            return
        again = threading.Timer(_AGAIN_S, _interrupt_main)
        again.daemon = True
        again.start()

    sys.unraisablehook = hook
    try:
        yield
    finally:
        sys.unraisablehook = before


def _interrupt_main() -> None:
    """A real signal, where there is one: it also ends a wait for a process or for a file."""
    if hasattr(signal, "pthread_kill"):
        signal.pthread_kill(threading.main_thread().ident or 0, signal.SIGINT)
    else:
        _thread.interrupt_main()
