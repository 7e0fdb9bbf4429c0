"""Projects as pytest collectors: findings, requirements and scenarios as items."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from functools import cached_property
from pathlib import Path
from typing import Any

import pytest
from rungproof.logic.checks.scenarios import run_scenario
from rungproof.logic.checks.verdict import CheckResult, ScenarioResult, Verdict
from rungproof.logic.commands.findings_text import findings_text
from rungproof.logic.commands.screen import USUAL, Screen
from rungproof.logic.commands.verdict_text import print_scenario, print_verdict
from rungproof.logic.meaning.program import Program
from rungproof.logic.meaning.understand import Understanding
from rungproof.logic.verbs.checking import check
from rungproof.logic.verbs.reading import understand

#: Marks a report as one of ours, and carries the verdict's word into machine-readable reports.
PROPERTY = "rungproof"


class NotHeldError(Exception):
    """What was found, as text for the report."""


def project_of(file: Path, parent: pytest.Collector, *, alone: bool) -> pytest.Collector | None:
    """The project that a file stands for; None where another file stands for it.

    A file named on the command line is a project, with what it uses. Else a folder is one,
    and the first of its files that no other uses stands for it; but a folder with more than
    one controller is a shelf of projects, and each file that no other uses stands for itself.
    """
    if alone:
        return Project.from_parent(parent, path=file, project=file)
    texts = {path.name: _glance(path) for path in sorted(file.parent.glob("*.rung"))}
    used = {name for text in texts.values() for name in re.findall(r'^use\s+"([^"]+)"', text, re.MULTILINE)}
    roots = [name for name in texts if name not in used] or list(texts)
    shelf = sum(bool(re.search(r"^controller\b", text, re.MULTILINE)) for text in texts.values()) > 1
    if file.name not in roots or (not shelf and file.name != roots[0]):
        return None
    return Project.from_parent(parent, path=file, project=file if shelf else file.parent)


def _glance(path: Path) -> str:
    """A file's text for a first look; what cannot be read is told by the check."""
    try:
        return path.read_text(encoding="utf-8", errors="replace")
    except OSError:
        return ""


class Project(pytest.File):
    """One project. It is read when collected, and searched when the first requirement is asked for."""

    def __init__(self, *, project: Path, **common: Any) -> None:
        super().__init__(**common)
        self.project = project

    @cached_property
    def understood(self) -> Understanding:
        return understand(self.project)

    @property
    def program(self) -> Program:
        """For the items that only a program that can be run has."""
        if self.understood.program is None:
            raise AssertionError("an item of a program that cannot be run was collected")
        return self.understood.program

    @cached_property
    def result(self) -> CheckResult:
        return check(
            self.understood,
            seed=int(self.config.getini("rungproof_seed")),
            time_s=float(self.config.getini("rungproof_time")),
        )

    def collect(self) -> Iterator[pytest.Item]:
        yield FindingsItem.from_parent(self, name="findings")
        program = self.understood.program
        if program is not None:
            for requirement in program.requirements:
                yield RequirementItem.from_parent(self, name=requirement.name)
            for scenario in program.scenarios:
                yield ScenarioItem.from_parent(self, name=scenario.name)


class _Item(pytest.Item):
    parent: Project

    def repr_failure(self, excinfo: pytest.ExceptionInfo[BaseException], style: Any = None) -> Any:
        if isinstance(excinfo.value, NotHeldError):
            return str(excinfo.value)
        return super().repr_failure(excinfo, style)

    def reportinfo(self) -> tuple[Path, int | None, str]:
        return self.path, None, f"{self.parent.project.name}: {self.name}"


class FindingsItem(_Item):
    """Fails on findings of grade error."""

    def runtest(self) -> None:
        understood = self.parent.understood
        self.user_properties.append((PROPERTY, "findings"))
        errors = tuple(each for each in understood.diagnoses if each.grade == "error")
        if errors:
            raise NotHeldError(findings_text(errors, understood.sources, USUAL))


class RequirementItem(_Item):
    """Fails when violated, and when nothing is known; see the plugin's words."""

    def runtest(self) -> None:
        verdict = self.parent.result.verdict(self.name)
        self.user_properties.append((PROPERTY, verdict.word))
        if verdict.word in ("proved", "exhausted", "simulated"):
            return
        if verdict.word != "violated" and self.config.getini("rungproof_allow_undecided"):
            pytest.skip(f"{verdict.word}: {verdict.reason}")
        raise NotHeldError(verdict_words(verdict, self.parent.program))


class ScenarioItem(_Item):
    """Fails when an expectation is not met or left open, or when its run violates a requirement."""

    def runtest(self) -> None:
        (result,) = run_scenario(self.parent.program, self.name)
        self.user_properties.append((PROPERTY, result.word))
        if result.word == "undecided" and self.config.getini("rungproof_allow_undecided"):
            pytest.skip("undecided: the run ended before it could be said")
        if result.violated or result.word == "undecided":
            raise NotHeldError(scenario_words(result))


def verdict_words(verdict: Verdict, program: Program) -> str:
    """A verdict as `rungproof check` prints it, story and all."""
    text = io.StringIO()
    print_verdict(Screen(text), verdict, program)
    return text.getvalue().rstrip("\n")


def scenario_words(result: ScenarioResult) -> str:
    text = io.StringIO()
    print_scenario(Screen(text), result)
    return text.getvalue().rstrip("\n")
