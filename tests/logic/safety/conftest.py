"""Copies of the examples with one thing changed."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from rungproof.logic.meaning.program import Program
from rungproof.logic.meaning.understand import understand_texts

EXAMPLES = Path(__file__).parents[3] / "examples"


def changed(name: str, *changes: tuple[str, str]) -> Program:
    """The example's program with each text replaced, which must stand in exactly one of its files, once."""
    texts = {path.name: path.read_text(encoding="utf-8") for path in sorted((EXAMPLES / name).glob("*.rung"))}
    for old, new in changes:
        [(file, text)] = [(file, text) for file, text in texts.items() if old in text]
        assert text.count(old) == 1, old
        texts[file] = text.replace(old, new)
    first = "requirements.rung" if "requirements.rung" in texts else next(iter(texts))
    understood = understand_texts({first: texts.pop(first), **texts})
    assert understood.program is not None, [d for d in understood.diagnoses if d.grade == "error"]
    return understood.program


@pytest.fixture(scope="session")
def copy() -> Callable[..., Program]:
    """A copy of an example, changed in places."""
    return changed
