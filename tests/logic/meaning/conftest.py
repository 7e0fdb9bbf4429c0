"""Short ways from a few lines of text to what they mean."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from rungproof.grammar import CATALOGUE, Diagnosis, Reporter, parse_text
from rungproof.logic.meaning.controller import ControllerReading, type_controller
from rungproof.logic.meaning.findings.rungs import rung_findings
from rungproof.logic.meaning.typed import Expression

Read = Callable[[str, str], tuple[ControllerReading, tuple[Diagnosis, ...]]]
Value = Callable[[str, str, str], Expression]
Codes = Callable[..., list[str]]


def read_controller(tags: str, rungs: str) -> tuple[ControllerReading, Reporter]:
    """The controller made of tag lines and rungs, each given without its head or indentation."""
    lines = "".join(f"    {line.strip()}\n" for line in tags.strip().splitlines())
    text = f'controller "Test" every 10 ms\n\ntags\n{lines}\n{rungs}\n'
    reporter = Reporter(CATALOGUE)
    return type_controller(parse_text(text, "test.rung", reporter).blocks, reporter), reporter


@pytest.fixture
def read() -> Read:
    """`read(tags, rungs)` gives what was read and the diagnoses, findings not among them."""

    def of(tags: str, rungs: str) -> tuple[ControllerReading, tuple[Diagnosis, ...]]:
        reading, reporter = read_controller(tags, rungs)
        return reading, reporter.sorted()

    return of


@pytest.fixture
def value() -> Value:
    """`value(tags, target, right_side)` gives the typed right side of `target := right_side`."""

    def of(tags: str, target: str, right_side: str) -> Expression:
        reading, reporter = read_controller(tags, f"rung test\n    => {target} := {right_side}\n")
        assert reading.controller is not None, [d.message for d in reporter.found]
        found = reading.controller.rungs[0].outputs[0].value
        assert found is not None
        return found

    return of


@pytest.fixture
def findings() -> Codes:
    """`findings(tags, rungs, moves=None)` gives the codes of the findings, in order of place."""

    def of(tags: str, rungs: str, moves: Callable[[str], bool] | None = None) -> list[str]:
        reading, reporter = read_controller(tags, rungs)
        assert reading.controller is not None, [d.message for d in reporter.found]
        rung_findings(reading.controller, reporter, moves=moves)
        return [found.code for found in reporter.sorted()]

    return of
