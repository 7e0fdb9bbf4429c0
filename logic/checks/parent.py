"""Worker processes that end with the process that started them: when it is killed, and when it is interrupted."""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
import threading
import time
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing.context import BaseContext
from multiprocessing.resource_tracker import ensure_running


def worker_pool(processes: int, context: BaseContext | None = None) -> ProcessPoolExecutor:
    """A pool whose workers are there already, and print nothing if the whole group is interrupted."""
    pool = ProcessPoolExecutor(processes, context, end_with_parent, (os.getpid(),))
    with no_interrupt(context):
        pool.submit(os.getpid)  # the first piece of work starts the workers
    return pool


def can_fork() -> bool:
    """Whether workers can be copies of this process: no others do without a guard in the caller's own script."""
    return sys.platform.startswith("linux") and not multiprocessing.current_process().daemon


def forked_pool(processes: int) -> ProcessPoolExecutor:
    """A pool of copies of this process, where it `can_fork`."""
    return worker_pool(processes, multiprocessing.get_context("fork"))


@contextmanager
def no_interrupt(context: BaseContext | None = None) -> Iterator[None]:
    """What is started in here, by `context`, never sees Ctrl-C: a child that does, before our own code
    runs in it, prints a traceback. The parent sees it at the end, and ends its children itself."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    if (context or multiprocessing).get_start_method() != "fork":
        # The first fresh process is preceded by one that keeps count of what is shared, and
        # starting that one opens the process to Ctrl-C again: it is started now.
        ensure_running()
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def end_with_parent(parent: int) -> None:
    """A worker whose parent was killed would wait for ever; one that is interrupted ends without a word."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    if hasattr(signal, "pthread_sigmask"):
        signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGINT})

    def watch() -> None:
        while os.getppid() == parent:
            time.sleep(0.5)
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()
