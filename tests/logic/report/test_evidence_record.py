"""The record beside a report: stale when a file changes, and what the command writes and compares."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from rungproof.logic.commands.main import main
from rungproof.logic.report.evidence import Evidence
from rungproof.logic.report.record import RecordError, marked, record_text, stale_of

# ----------------------------------------------------------------------- stale


def test_a_changed_file_makes_the_report_stale(evidence: Evidence, page: str) -> None:
    """Changed, gone and new files are each named; the same files say nothing."""
    record = record_text(evidence, page)
    files = {name: digest for name, digest, _ in evidence.files}
    assert not stale_of(record, page, files).stale
    assert stale_of(record, page, {"pump.rung": "0" * 64}).reasons == ("pump.rung has changed",)
    assert stale_of(record, page, {"other.rung": "0" * 64}).reasons == ("pump.rung is gone", "other.rung is new")


def test_a_report_that_was_touched_up_is_told(evidence: Evidence, page: str) -> None:
    """A word changed by hand is noticed; another date is not."""
    record = record_text(evidence, page)
    files = {name: digest for name, digest, _ in evidence.files}
    assert stale_of(record, page.replace(">violated<", ">proved<"), files).stale
    assert not stale_of(record, page.replace("Made on a day.", "Made on another day."), files).stale


def test_the_stale_mark_stands_in_the_old_report_and_goes_again(evidence: Evidence, page: str) -> None:
    """Whoever opens the old report reads `stale` at its head; with the files restored, the mark goes."""
    record = record_text(evidence, page)
    stale = stale_of(record, page, {"pump.rung": "0" * 64})
    old = marked(page, stale)
    assert "stale: pump.rung has changed" in old[: old.index("Cautions")]
    files = {name: digest for name, digest, _ in evidence.files}
    assert marked(old, stale_of(record, old, files)) == page


@pytest.mark.parametrize(
    "text", ["", "{", "[]", '{"evidence": 2}', '{"evidence": 1}', '{"evidence": 1, "files": {"a": 1}}']
)
def test_a_record_that_is_none_is_refused(text: str, page: str) -> None:
    """Broken or foreign JSON is answered in words."""
    with pytest.raises(RecordError):
        stale_of(text, page, {})


# --------------------------------------------------------------------- command


def test_the_command_writes_report_and_record_and_compares_them(
    file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """`evidence -o DIR`, then `--stale`: current with 0, stale with 1 and the file's name, gone with 2."""
    folder = tmp_path / "out"
    project = tmp_path / "pump.rung"
    project.write_bytes(file.read_bytes())
    assert main(["evidence", str(project), "-o", str(folder)]) == 1
    assert json.loads((folder / "evidence.json").read_text())["verdicts"] == {"R1": "proved", "R2": "violated"}
    assert main(["evidence", str(project), "-o", str(folder), "--stale"]) == 0
    assert "current" in capsys.readouterr().out
    project.write_text(project.read_text() + "\n# a remark\n")
    assert main(["evidence", str(project), "-o", str(folder), "--stale"]) == 1
    assert "pump.rung has changed" in capsys.readouterr().out
    assert "stale: pump.rung has changed" in (folder / "evidence.html").read_text()
    assert main(["evidence", str(project), "-o", str(tmp_path / "nowhere"), "--stale"]) == 2
    assert "Make a report first" in capsys.readouterr().err


def test_files_that_cannot_be_run_give_no_report(
    file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A mistake is shown with its place, and nothing is written."""
    broken = tmp_path / "broken.rung"
    broken.write_text(file.read_text(encoding="utf-8").replace("    => pump\n", "    => pmup\n"), encoding="utf-8")
    assert main(["evidence", str(broken), "-o", str(tmp_path / "out")]) == 2
    assert "No report is written" in capsys.readouterr().out
    assert not (tmp_path / "out").exists()
