"""The record of a long campaign: lines of JSON, only ever appended to.

The first line says what the record is of; each further one holds what a finished chunk found.
A line is on the disk before the next chunk counts, so that a kill at any moment loses only what
was in work; a line that was torn by it is dropped.
"""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Mapping
from hashlib import sha256
from pathlib import Path
from typing import Any, BinaryIO

from rungproof.logic.checks.replay import own_parts
from rungproof.logic.meaning.program import Program
from rungproof.logic.versions import version

if sys.platform != "win32":
    import fcntl

#: Grows by one whenever a line changes its meaning.
FORMAT = 1


class RecordError(Exception):
    """A record that cannot be gone on with; `mend` says what to do."""

    def __init__(self, words: str, mend: str) -> None:
        super().__init__(words)
        self.mend = mend


def heading(program: Program, seed: int, hours: float) -> dict[str, Any]:
    """What a record is of. A result hangs on nothing else."""
    texts = {Path(source.path).name: source.digest for source in program.sources}
    texts |= {name: sha256(text.encode()).hexdigest() for name, text in own_parts(program).items()}
    digest = sha256(json.dumps(texts, sort_keys=True).encode()).hexdigest()
    return {"record": FORMAT, "version": version(), "sources": digest, "seed": seed, "hours": hours}


_WORDS = {
    "record": "another form of record",
    "version": "another version of rungproof",
    "sources": "other files, or the same before they were changed",
    "seed": "another seed",
    "hours": "another number of hours",
}


class Record:
    """An open record. `found` holds the finished chunks by number."""

    def __init__(self, path: Path, head: Mapping[str, Any]) -> None:
        """Opens the record at `path`, or makes it. Raises `RecordError` where it is not of `head`."""
        self.path = path
        self.found: dict[int, dict[str, Any]] = {}
        first = json.dumps(head).encode() + b"\n"
        try:
            self._file: BinaryIO = open(path, "a+b")  # noqa: SIM115 - stays open until `close`
        except OSError as error:
            raise RecordError(f"The record {path} cannot be written: {error.strerror}.", _ELSEWHERE) from error
        try:
            self._lock()
            self._read(head, first)
        except RecordError:
            self.close()
            raise

    def append(self, number: int, line: Mapping[str, Any]) -> None:
        """Keep what chunk `number` found; on the disk when this returns."""
        self.found[number] = dict(line)
        self._write(json.dumps({"chunk": number, **line}).encode() + b"\n")

    def close(self) -> None:
        self._file.close()

    def _lock(self) -> None:
        """Two at once would tear each other's lines. Such a lock ends with its process, and no child has it."""
        if sys.platform != "win32":
            try:
                fcntl.lockf(self._file, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except OSError as error:
                raise RecordError(f"Another check is writing the record {self.path}.", _ELSEWHERE) from error

    def _read(self, head: Mapping[str, Any], first: bytes) -> None:
        self._file.seek(0)
        text = self._file.read()
        whole = text[: text.rfind(b"\n") + 1]
        if not whole:
            if not first.startswith(text):
                raise RecordError(f"{self.path} is no record of a campaign.", _ELSEWHERE)
            self._file.truncate(0)
            self._write(first)
            return
        lines = whole.splitlines()
        self._compare(head, _line(self.path, lines[0]))
        for line in lines[1:]:
            told = _line(self.path, line)
            if not isinstance(told.get("chunk"), int):
                raise RecordError(f"{self.path} is no record of a campaign, or is damaged.", _ELSEWHERE)
            self.found[told["chunk"]] = told
        self._file.truncate(len(whole))

    def _compare(self, head: Mapping[str, Any], found: Mapping[str, Any]) -> None:
        if "record" not in found:
            raise RecordError(f"{self.path} is no record of a campaign.", _ELSEWHERE)
        other = [words for key, words in _WORDS.items() if found.get(key) != head[key]]
        if other:
            raise RecordError(f"The record {self.path} is of {'; of '.join(other)}.", _ELSEWHERE)

    def _write(self, line: bytes) -> None:
        self._file.write(line)
        self._file.flush()
        os.fsync(self._file.fileno())


_ELSEWHERE = "Name another file with --record, or take this one away if nothing is to be gone on with."


def _line(path: Path, line: bytes) -> dict[str, Any]:
    try:
        told = json.loads(line)
    except ValueError:
        told = None
    if not isinstance(told, dict):
        raise RecordError(f"{path} is no record of a campaign, or is damaged.", _ELSEWHERE)
    return told
