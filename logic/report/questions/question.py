"""One question to a reviewer."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Question:
    """`about` names what it is about, as the files do; `asked` is the question, `why` what in the files raises it."""

    about: tuple[str, ...]
    asked: str
    why: str
