"""A controller of three inputs for charts, its requirements and its stories."""

from __future__ import annotations

from rungproof.logic.meaning.program import Event, Program, Story
from rungproof.logic.meaning.understand import understand_texts

TAGS = """\
controller "Sample" every 10 ms

tags
    a  input  bool
    b  input  bool
    c  input  bool
    x  output bool  on stop off

rung x
    a
    => x
"""


def program_of(text: str) -> Program:
    understood = understand_texts({"sample.rung": text})
    assert understood.program is not None, understood.diagnoses
    return understood.program


def requirement(form: str) -> Program:
    return program_of(f'{TAGS}\nrequirement R1 "As said"\n    {form}\n')


def story(duration: int, *changes: tuple[int, str, bool]) -> Story:
    return Story(duration, tuple(Event(at, key, value) for at, key, value in changes))
