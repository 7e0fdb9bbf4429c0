"""One row of the catalogue of misconceptions."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from rungproof.logic.teaching.misconceptions.case import Case, Mend

#: What samples are written for; each brings its rungs, a requirement and tags of its own.
SAMPLE_GIVEN = """\
controller "Sample" every 10 ms

tags
    start_pb  input   bool
    stop_ok   input   bool
    guard_ok  input   bool
    left_pb   input   bool
    right_pb  input   bool
    reset_pb  input   bool
    sensor    input   bool
    level     input   int 0..1000
    motor     output  bool       on stop off
    lamp      output  bool       on stop off
    up        output  bool       on stop off
    down      output  bool       on stop off
    speed     output  real V 0..10  on stop 0 V
"""


@dataclass(frozen=True, slots=True)
class Sample:
    """Rungs that fail the first of the requirements (a line each) and keep to the others.

    `tags` are memories beside the tags of `SAMPLE_GIVEN`.
    """

    rungs: str
    requirement: str
    tags: str = ""

    @property
    def answer(self) -> str:
        tags = "".join(f"    {line.strip()}\n" for line in self.tags.splitlines())
        rows = [line if line.startswith("rung ") else f"    {line}" for line in self.rungs.splitlines()]
        return (f"tags\n{tags}\n" if tags else "") + "\n".join(rows) + "\n"

    @property
    def requirements(self) -> str:
        forms = enumerate(self.requirement.splitlines(), start=1)
        return "\n".join(f'requirement R{place} "As asked"\n    {form}\n' for place, form in forms)


@dataclass(frozen=True, slots=True)
class Misconception:
    """A mistake that learners make. `question`, `look` and `rule` are the stages of its hint; `{tag}` is filled in.

    `finds` proposes mends, likeliest first. `sample` gets this as its first hint; `other` must not get it.
    """

    code: str
    title: str
    finds: Callable[[Case], Iterator[Mend]]
    question: str
    look: str
    rule: str
    sample: Sample
    other: Sample
