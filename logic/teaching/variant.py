"""A variant of an exercise for each student: other names and other presets, drawn from a seed."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from dataclasses import replace

from rungproof.grammar.catalogue import CATALOGUE
from rungproof.grammar.diagnosis import Reporter
from rungproof.grammar.formatter import format_text
from rungproof.logic.teaching.exercise import Exercise


def variant_of(exercise: Exercise, student: str, seed: int) -> Exercise:
    """The exercise as `student` gets it: the same for the same name and seed, on every machine."""
    swaps = {word: choices[_draw(seed, student, word, len(choices))] for word, choices in exercise.varies.items()}
    if not swaps:
        return exercise
    return replace(
        exercise,
        title=swapped(exercise.title, swaps),
        task=swapped(exercise.task, swaps),
        texts={name: _laid_out(name, swapped(text, swaps)) for name, text in exercise.texts.items()},
        wrong={name: swapped(text, swaps) for name, text in exercise.wrong.items()},
        ask=tuple(swapped(name, swaps) for name in exercise.ask),
    )


def _laid_out(name: str, text: str) -> str:
    """Columns as they should be, whatever the lengths of the new names."""
    return format_text(text, name, Reporter(CATALOGUE)) or text


def swapped(text: str, swaps: Mapping[str, str]) -> str:
    """Each whole word of `swaps` replaced, all at once, so that no replacement is replaced again."""
    if not swaps:
        return text
    longest_first = sorted(swaps, key=len, reverse=True)
    pattern = "|".join(re.escape(word) for word in longest_first)
    return re.sub(rf"(?<![\w.])(?:{pattern})(?!\w)", lambda found: swaps[found[0]], text)


def _draw(seed: int, student: str, word: str, choices: int) -> int:
    if choices == 0:
        return 0
    digest = hashlib.sha256(f"{seed}\0{student.casefold()}\0{word}".encode("utf-8", "surrogatepass")).digest()
    return int.from_bytes(digest[:8], "big") % choices
