"""Worker processes end with the process that started them, even where that one is killed."""

from __future__ import annotations

import os
import subprocess
import sys
import time

POOL = """
import multiprocessing, os, time
from concurrent.futures import ProcessPoolExecutor
from rungproof.logic.checks.parent import end_with_parent
pool = ProcessPoolExecutor(1, multiprocessing.get_context("fork"), end_with_parent, (os.getpid(),))
print(pool.submit(os.getpid).result(), flush=True)
time.sleep(60)
"""


def _alive(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return True


def test_a_worker_whose_parent_is_killed_does_not_stay() -> None:
    """It would wait for ever for work that nobody gives."""
    with subprocess.Popen([sys.executable, "-c", POOL], stdout=subprocess.PIPE, text=True) as parent:
        assert parent.stdout is not None
        worker = int(parent.stdout.readline())
        assert _alive(worker)
        parent.kill()
    until = time.monotonic() + 50
    while _alive(worker) and time.monotonic() < until:
        time.sleep(0.1)
    assert not _alive(worker)
