"""The pytest plugin: requirements and scenarios as test items."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

pytest_plugins = ["pytester"]

PARTED = {
    "controller.rung": """\
        controller "Pump" every 10 ms

        tags
            start_pb  input   bool
            stop_ok   input   bool
            pump      output  bool   on stop off

        rung run
            rising start_pb or pump
            stop_ok
            => pump
    """,
    "requirements.rung": """\
        use "controller.rung"

        requirement R1 "The stop button ends the run"
            never pump and not stop_ok

        scenario "Nobody starts it"
            at 0 s   set stop_ok on
            expect   not pump for 1 s
    """,
}


@pytest.fixture
def project(pytester: pytest.Pytester) -> Path:
    """A folder `pump` whose two files are one project."""
    folder = pytester.mkdir("pump")
    for name, text in PARTED.items():
        lines = [line.removeprefix("        ") for line in text.splitlines()]
        (folder / name).write_text("\n".join(lines), encoding="utf-8")
    pytester.makeini("[pytest]\nrungproof_time = 1\n")
    return folder


def names(pytester: pytest.Pytester, *arguments: str) -> list[str]:
    """The items that pytest collects."""
    result = pytester.inline_run("--collect-only", "-p", "no:cacheprovider", *arguments)
    calls = result.getcalls("pytest_collection_modifyitems")
    return [item.nodeid for call in calls for item in call.items]


def test_a_folder_is_one_project_and_gives_each_item_once(pytester: pytest.Pytester, project: Path) -> None:
    """Findings, each requirement, each scenario; files used by others are not collected again."""
    file = "pump/requirements.rung"
    expected = [f"{file}::findings", f"{file}::R1", f"{file}::Nobody starts it"]
    assert names(pytester, "pump") == expected
    assert names(pytester, "--rungproof") == expected


def test_a_named_file_is_a_project_of_its_own(pytester: pytest.Pytester, project: Path) -> None:
    """Naming the controller alone leaves out what the reviewer's file asks."""
    assert names(pytester, "pump/controller.rung") == ["pump/controller.rung::findings"]


def test_nothing_is_collected_unless_asked(pytester: pytest.Pytester, project: Path) -> None:
    """Neither a plain run above the folder nor a run of other tests picks the files up."""
    pytester.makepyfile("def test_other():\n    assert True\n")
    assert [each for each in names(pytester) if ".rung" in each] == []
    pytester.makeini("[pytest]\nrungproof_collect = true\n")
    assert len([each for each in names(pytester) if ".rung" in each]) == 3


def test_a_shelf_of_files_gives_a_project_for_each(pytester: pytest.Pytester, project: Path) -> None:
    """Where a folder holds several controllers, each file that no other uses stands for itself."""
    other = (project / "controller.rung").read_text(encoding="utf-8").replace('"Pump"', '"Other"')
    (project / "other.rung").write_text(other, encoding="utf-8")
    files = {each.split("::")[0] for each in names(pytester, "pump")}
    assert files == {"pump/other.rung", "pump/requirements.rung"}


def test_what_holds_passes_and_the_summary_says_where(pytester: pytest.Pytester, project: Path) -> None:
    """Three items pass; below them stands that all of it was in the model."""
    result = pytester.runpytest("pump")
    result.assert_outcomes(passed=3)
    result.stdout.fnmatch_lines(["*in the model; nothing was measured on a machine*"])


def test_a_violated_requirement_fails_with_its_story(pytester: pytest.Pytester, project: Path) -> None:
    """The report is the verdict's block and a scenario to paste, and no Python traceback."""
    path = project / "requirements.rung"
    text = path.read_text(encoding="utf-8")
    path.write_text(text + '\nrequirement R2 "Never runs"\n    never pump\n', encoding="utf-8")
    result = pytester.runpytest("pump")
    result.assert_outcomes(passed=3, failed=1)
    result.stdout.fnmatch_lines(["R2  violated", '*"Never runs"', 'scenario "R2: *"', "*set start_pb on"])
    result.stdout.no_fnmatch_line("*Traceback*")
    result.stdout.no_fnmatch_line("*pytest_items.py*")


def test_a_failed_expectation_fails_its_scenario(pytester: pytest.Pytester, project: Path) -> None:
    """The report names what was expected and did not come."""
    path = project / "requirements.rung"
    path.write_text(path.read_text(encoding="utf-8").replace("not pump for", "pump for"), encoding="utf-8")
    result = pytester.runpytest("pump")
    result.assert_outcomes(passed=2, failed=1)
    result.stdout.fnmatch_lines(["*not as expected*", "*not met*"])


@pytest.mark.parametrize(("allow", "outcome"), [("false", {"failed": 1}), ("true", {"skipped": 1})])
def test_what_is_not_known_is_no_pass(
    pytester: pytest.Pytester, project: Path, allow: str, outcome: dict[str, int]
) -> None:
    """A vacuous requirement fails, or is skipped with the reason where the ini allows it; it never passes."""
    path = project / "requirements.rung"
    text = path.read_text(encoding="utf-8")
    path.write_text(
        text + '\nrequirement R2 "Not asked"\n    whenever pump and not stop_ok then start_pb\n', encoding="utf-8"
    )
    pytester.makeini(f"[pytest]\nrungproof_time = 1\nrungproof_allow_undecided = {allow}\n")
    result = pytester.runpytest("pump", "-rs", "-k", "R2")
    result.assert_outcomes(deselected=3, **outcome)
    result.stdout.re_match_lines([".*(vacuous|undecided).*"])


def test_files_that_cannot_be_run_fail_once_with_their_diagnoses(pytester: pytest.Pytester, project: Path) -> None:
    """One failing item shows every error with its place."""
    (project / "controller.rung").write_text(
        'controller "Pump" every 10 ms\n\nrung run\n    a b\n    => c\n', encoding="utf-8"
    )
    result = pytester.runpytest("pump")
    result.assert_outcomes(failed=1)
    result.stdout.fnmatch_lines(["*controller.rung:4:*"])


def test_the_bench_drives_a_controller_scan_by_scan(pytester: pytest.Pytester, project: Path) -> None:
    """The fixture `rung_bench` opens a file beside the test."""
    pytester.makepyfile(
        """
        def test_seals_in(rung_bench):
            bench = rung_bench("pump/controller.rung")
            bench.scan(stop_ok=True)
            bench.scan(start_pb=True)
            assert bench.pump
            bench.scan(start_pb=False)
            assert bench.pump
            bench.scan(stop_ok=False)
            assert not bench.pump
        """
    )
    pytester.runpytest().assert_outcomes(passed=1)


def test_the_plugin_loads_nothing_heavy_when_pytest_starts() -> None:
    """A project that only has the package installed pays for neither the parser nor the engines."""
    code = (
        "import sys, rungproof.logic.commands.pytest_plugin\n"
        "print(sorted(m for m in sys.modules if m.startswith('rungproof.') and m.count('.') > 2))\n"
        "print(sorted({'lark', 'hypothesis', 'numpy', 'rich', 'pint'} & set(sys.modules)))\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines() == ["['rungproof.logic.commands.pytest_plugin']", "[]"]
