"""Worker processes end with the process that started them, however that one ends."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time

import pytest

POOL = """
import multiprocessing, os, time
from concurrent.futures import ProcessPoolExecutor
from rungproof.logic.checks.parent import end_with_parent
pool = ProcessPoolExecutor(1, multiprocessing.get_context("fork"), end_with_parent, (os.getpid(),))
print(pool.submit(os.getpid).result(), flush=True)
time.sleep(60)
"""

FRESH = """
import multiprocessing, signal
from rungproof.logic.checks.parent import no_interrupt
held = "import signal; print(signal.SIGINT in signal.pthread_sigmask(signal.SIG_BLOCK, []), flush=True)"
context = multiprocessing.get_context("spawn")
with no_interrupt(context):
    child = context.Process(target=exec, args=(held,))
    child.start()
child.join()
exec(held)
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


@pytest.mark.skipif(not hasattr(signal, "pthread_sigmask"), reason="signals cannot be held back here")
def test_the_first_fresh_process_is_started_with_ctrl_c_held_back_and_its_parent_is_not() -> None:
    """Starting it starts the process that counts shared things, which lets Ctrl-C through again on its way."""
    done = subprocess.run([sys.executable, "-c", FRESH], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["True", "False"]
