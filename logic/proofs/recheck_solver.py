"""A solver in a process of its own: it can be stopped, and what goes wrong in it stays there.

The solver reads SMT-LIB 2 text and answers in the same language. Whatever is not a clear
`sat` or `unsat`, a crash, a message, a deadline, is `unknown`.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Literal

from rungproof.logic.steps.operators import Scalar

Word = Literal["sat", "unsat", "unknown"]

#: The solver may not take more memory than this (MB).
MEMORY_MB = 2048

#: Where no executable stands beside the interpreter: the library, given the same text. Each line is one command.
_LIBRARY = """
import sys, z3
for line in sys.stdin:
    try:
        print(z3.Z3_eval_smtlib2_string(z3.main_ctx().ref(), line), end="")
    except z3.Z3Exception as error:
        print(f"(error {error})".replace(chr(10), " "))
"""

#: Asking for values after `unsat` is answered with this error, which is none.
_NO_MODEL = "model is not available"

_WORDS: dict[str, Word] = {"sat": "sat", "unsat": "unsat", "unknown": "unknown"}
_WORD = re.compile(r"^(sat|unsat|unknown)$", re.MULTILINE)
_VALUE = re.compile(r"\(\s*(\w+)\s+((?:[^()\s]+)|\((?:[^()]|\((?:[^()]|\([^()]*\))*\))*\))\s*\)")


@dataclass(frozen=True, slots=True)
class Answer:
    """The answers in order, each with the values that were asked for, if it was `sat`."""

    words: tuple[Word, ...]
    values: tuple[dict[str, Scalar | Fraction], ...]
    why: str = ""

    @classmethod
    def nothing(cls, questions: int, why: str) -> Answer:
        unknown: Word = "unknown"
        return cls((unknown,) * questions, ({},) * questions, why)


def solver_command(deadline_s: float) -> list[str]:
    """How to start the solver: its executable, or a Python that loads its library."""
    beside = Path(sys.executable).with_name("z3")
    found = str(beside) if beside.exists() else shutil.which("z3")
    if found is None:
        return [sys.executable, "-c", _LIBRARY]
    return [found, "-in", "-smt2", f"-memory:{MEMORY_MB}", f"-T:{max(1, round(deadline_s + 1))}"]


def ask(lines: Iterable[str], deadline_s: float, questions: int = 1) -> Answer:
    """Run the solver on `lines`, which ask `questions` times. Raises nothing: failure is `unknown`."""
    if deadline_s <= 0:
        return Answer.nothing(questions, "no time was left for it")
    try:
        # Through a pipe, not from a file: where submissions are graded nobody may write one.
        done = subprocess.run(
            solver_command(deadline_s),
            input="\n".join(lines) + "\n",
            capture_output=True,
            encoding="utf-8",
            timeout=deadline_s,
            check=False,
        )
    except subprocess.TimeoutExpired:
        return Answer.nothing(questions, f"no answer within {deadline_s:g} s")
    except OSError as error:
        return Answer.nothing(questions, f"the solver did not start: {error.strerror}")
    return _read(done.stdout, questions, done.stderr)


def _read(out: str, questions: int, complaint: str) -> Answer:
    parts = _WORD.split(out)
    errors = [row for row in out.split("\n") if "(error" in row and _NO_MODEL not in row]
    if len(parts) != 2 * questions + 1 or errors:
        return Answer.nothing(
            questions, (errors or [complaint.strip()[:200]])[0] or "the solver ended without an answer"
        )
    said = [_WORDS[word] for word in parts[1::2]]
    return Answer(tuple(said), tuple(_values(text) for text in parts[2::2]))


def _values(text: str) -> dict[str, Scalar | Fraction]:
    return {name: _value(value) for name, value in _VALUE.findall(text)}


def _value(text: str) -> Scalar | Fraction:
    if text in ("true", "false"):
        return text == "true"
    tokens = re.findall(r"[()]|[^()\s]+", text)
    value = _number(tokens)
    return int(value) if value.denominator == 1 and "." not in text else value


def _number(tokens: list[str]) -> Fraction:
    """Reads `5`, `5.0`, `(- 5)`, `(/ 1.0 3.0)` and nestings of them."""
    token = tokens.pop(0)
    if token != "(":
        return Fraction(token.rstrip("?"))
    word, operands = tokens.pop(0), []
    while tokens[0] != ")":
        operands.append(_number(tokens))
    tokens.pop(0)
    return -operands[0] if word == "-" else operands[0] / operands[1]
