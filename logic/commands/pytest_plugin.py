"""The pytest plugin: requirements and scenarios of `.rung` files are test items.

    pytest examples/header_tank         a folder or a `.rung` file named on the command line
    pytest --rungproof                  every project found on the way (ini: rungproof_collect)

A project gives one item for its findings, one for each requirement, one for each scenario. A
requirement fails when it is violated, with the story as text. It fails as well when it is
vacuous or undecided, because nothing is known then; with `rungproof_allow_undecided = true`
it is skipped instead, with the reason, and still not counted as passed.

The fixture `rung_bench` drives a controller scan by scan from a test in Python.

This module is loaded in every run of pytest, so it loads nothing of ours by itself.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from rungproof.logic.engines.bench import Bench


def pytest_addoption(parser: pytest.Parser) -> None:
    group = parser.getgroup("rungproof", "requirements of control logic as tests")
    group.addoption("--rungproof", action="store_true", help="collect the `.rung` projects found on the way")
    parser.addini("rungproof_collect", "collect the `.rung` projects found on the way", type="bool", default=False)
    parser.addini("rungproof_time", "seconds to search for each project (25)", default="25")
    parser.addini("rungproof_seed", "of all that is drawn by chance (0)", default="0")
    words = "skip vacuous and undecided requirements, do not fail them"
    parser.addini("rungproof_allow_undecided", words, type="bool", default=False)


def pytest_collect_file(file_path: Path, parent: pytest.Collector) -> pytest.Collector | None:
    if file_path.suffix != ".rung":
        return None
    session = parent.session
    named = session.isinitpath(file_path)
    asked = named or session.isinitpath(file_path.parent)
    config = parent.config
    if not (asked or config.getoption("--rungproof") or config.getini("rungproof_collect")):
        return None
    items = importlib.import_module("rungproof.logic.commands.pytest_items")
    collector: pytest.Collector | None = items.project_of(file_path, parent, alone=named)
    return collector


def pytest_terminal_summary(terminalreporter: Any) -> None:
    """Wherever verdicts are counted it stands where they come from."""
    reports = [report for some in terminalreporter.stats.values() for report in some]
    if any(key == "rungproof" for report in reports for key, _ in getattr(report, "user_properties", ())):
        terminalreporter.write_line("rungproof: in the model; nothing was measured on a machine")


@pytest.fixture
def rung_bench(request: pytest.FixtureRequest) -> Callable[..., Bench]:
    """Puts a controller on the bench: `bench = rung_bench("controller.rung", parameters={"target": 120})`.

    The path is relative to the test's own file. See `rungproof.logic.Bench`.
    """

    def put(path: str | Path, **options: Any) -> Bench:
        made: Bench = importlib.import_module("rungproof.logic").Bench(request.path.parent / path, **options)
        return made

    return put
