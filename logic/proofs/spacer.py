"""A solver of Horn clauses as the last resort: it runs beside the others, and can be ended at any time.

Its invariant counts when our own solver has seen that it is one; the second solver is asked after that, as always.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import time
from typing import Any

from rungproof.logic.proofs.bits import Bits
from rungproof.logic.proofs.contract import Engine, Result
from rungproof.logic.proofs.houdini import trimmed
from rungproof.logic.proofs.literals import Clause, Literal
from rungproof.logic.proofs.reach import facts_of
from rungproof.logic.steps.text import print_step

#: Seconds between two looks at the process.
LOOK_S = 0.02
PROCESS = "rungproof.logic.proofs.spacer_process"


def spacer(bits: Bits, output: str, seconds: float) -> Engine:
    """Prove that no run shows `output`, within so many seconds; never refutes. Works while others do."""
    if bits.start_clauses:
        # Its starts are ranges of their own, each for itself; these are not.
        return Result("unknown", 0)
    said = yield from _said(bits, output, seconds)
    if said.get("word") != "proved":
        return Result("unknown", 0)
    clauses = [tuple(Literal(*each) for each in clause) for clause in said["clauses"]]
    return _checked(bits, output, clauses)


def _checked(bits: Bits, output: str, clauses: list[Clause]) -> Result:
    """What our own solver agrees to."""
    start = {each.name: each.start for each in bits.step.states.values()}
    if not all(any(each.name in bits.free or each.true_in(start) for each in clause) for clause in clauses):
        return Result("unknown", 0)
    try:
        kept = trimmed(bits, output, clauses)
    except AssertionError:
        return Result("unknown", 0)
    return Result("proved", 1, tuple(facts_of(bits, clause) for clause in kept))


def _said(bits: Bits, output: str, seconds: float) -> Any:
    """The process's answer; an empty one if it died, talked of anything else, or could not be asked: a process that
    may write no files, as in grading, asks nobody."""
    job = {"step": print_step(bits.step), "output": output, "free": sorted(bits.free), "seconds": seconds}
    try:
        return (yield from _asked(job, seconds))
    except OSError:
        return {}


def _asked(job: dict[str, Any], seconds: float) -> Any:
    with tempfile.TemporaryFile("w+", encoding="utf-8") as given, tempfile.TemporaryFile("w+", encoding="utf-8") as out:
        json.dump(job, given)
        given.seek(0)
        command = [sys.executable, "-m", PROCESS]
        process = subprocess.Popen(command, stdin=given, stdout=out, stderr=subprocess.DEVNULL)
        until = time.monotonic() + 2 * seconds
        try:
            while process.poll() is None and time.monotonic() < until:
                yield None
                time.sleep(LOOK_S)
        finally:
            process.kill()
            process.wait()
        out.seek(0)
        try:
            said = json.loads(out.read())
        except json.JSONDecodeError:
            return {}
        return said if isinstance(said, dict) else {}
