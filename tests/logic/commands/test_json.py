"""JSON output: what the shipped schema documents is what every command writes."""

from __future__ import annotations

import hashlib
import json
from importlib import resources
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from rungproof.logic.commands.main import main

SCHEMA = json.loads(resources.files("rungproof.logic.commands").joinpath("schema.json").read_text(encoding="utf-8"))
VALIDATOR = jsonschema.Draft202012Validator(SCHEMA)
BROKEN = "rung half\n    start_pb or\n"


@pytest.fixture
def story(tmp_path: Path, wrong: Path) -> Path:
    """The story against the wrong file's requirement R2."""
    main(["check", str(wrong), "--time", "1", "--stories", str(tmp_path)])
    return tmp_path / "R2.rung"


def written(path: Path, *arguments: str | Path) -> dict[str, Any]:
    """What a command writes with --json, held to the schema; its exit code is the one it ends with."""
    code = main([*map(str, arguments), "--json", str(path)])
    result: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    VALIDATOR.validate(result)
    assert result["exit_code"] == code
    assert result["command"] == arguments[0]
    return result


def test_the_schema_is_one() -> None:
    """It is valid by the JSON Schema standard (draft 2020-12)."""
    jsonschema.Draft202012Validator.check_schema(SCHEMA)


def test_check_writes_verdicts_findings_and_digests(tmp_path: Path, wrong: Path) -> None:
    """Each requirement with its sentence, restatement, verdict, place and story; sources by SHA-256."""
    result = written(tmp_path / "out.json", "check", wrong, "--time", "1", "--seed", "5")
    by_id = {each["id"]: each for each in result["requirements"]}
    assert (by_id["R1"]["verdict"], by_id["R2"]["verdict"]) == ("proved", "violated")
    assert by_id["R1"]["sentence"] == "The stop button ends the run"
    assert by_id["R2"]["because"] == []
    assert by_id["R1"]["looked_at"] == "at the terminals"
    assert by_id["R2"]["story"].startswith('scenario "R2: ')
    assert result["note"] == "In the model; nothing was measured on a machine."
    assert result["seed"] == result["searched"]["seed"] == 5
    assert result["sources"] == [{"file": str(wrong), "sha256": hashlib.sha256(wrong.read_bytes()).hexdigest()}]


def test_check_of_broken_files_writes_the_diagnoses(tmp_path: Path) -> None:
    """No verdict is made up where nothing can be run."""
    path = tmp_path / "broken.rung"
    path.write_text(BROKEN, encoding="utf-8")
    result = written(tmp_path / "out.json", "check", path)
    assert (result["exit_code"], result["requirements"]) == (2, [])
    assert any(finding["line"] == 2 for finding in result["findings"])


@pytest.mark.parametrize("command", ["check", "run", "draw", "evidence", "sheets", "format"])
def test_missing_and_broken_files_hold_to_the_schema(tmp_path: Path, command: str) -> None:
    """Every command that reads a project answers a missing path and a broken file in the same shape."""
    broken = tmp_path / "broken.rung"
    broken.write_text(BROKEN, encoding="utf-8")
    for path in (tmp_path / "nowhere", broken):
        result = written(tmp_path / "out.json", command, path)
        assert result["exit_code"] == 2
        assert result["findings"]


def test_new_run_draw_format_and_explain_hold_to_the_schema(tmp_path: Path) -> None:
    """The whole way of a first project, every step written as JSON."""
    project, out = tmp_path / "first", tmp_path / "out.json"
    assert len(written(out, "new", project)["files"]) == 2
    run = written(out, "run", project, "--scenario", "A start", "--every", "1s")["run"]
    assert run["result"] == "as expected"
    changes = [moment for moment in run["moments"] if "motor" in moment["changes"]]
    assert [(each["at_ms"], each["changes"]["motor"]) for each in changes] == [(1010, True), (3010, False)]
    assert "rung trip" in written(out, "draw", project)["drawing"]
    assert len(written(out, "draw", project, "-o", tmp_path / "sheets")["files"]) == 5
    assert all(not file["changed"] for file in written(out, "format", project, "--check")["files"])
    assert written(out, "explain", "two-coils")["entries"][0]["grade"] == "error"
    controller = next(project.glob("*controller*.rung"))
    assert written(out, "explain", f"{controller}:6")["line"]["kind"] == "controller"
    told = written(out, "explain", project, "--why", "motor", "--scenario", "A start", "--at", "2s")["why"]
    assert (told["value"], told["chain"][0]["tag"]) == (True, "motor")
    assert told["causes"]


def test_sheets_and_evidence_hold_to_the_schema(tmp_path: Path) -> None:
    """The files written by name; why a report is stale; nothing where it is not."""
    project, out = tmp_path / "first", tmp_path / "out.json"
    assert main(["new", str(project)]) == 0
    press = Path(__file__).parents[3] / "examples" / "press_guard"
    assert "readings.csv" in written(out, "sheets", press, "-o", tmp_path / "sheets")["files"]
    report = ("evidence", project, "-o", tmp_path / "evidence")
    assert written(out, *report)["files"] == ["evidence.html", "evidence.json"]
    assert written(out, *report, "--stale")["stale"] == []
    (project / "more.rung").write_text("", encoding="utf-8")
    told = written(out, *report, "--stale")
    assert (told["exit_code"], told["stale"]) == (1, ["more.rung is new"])


def test_as_found_readings_hold_to_the_schema(tmp_path: Path) -> None:
    """What was read, what lies outside, and what the check was run with."""
    press = Path(__file__).parents[3] / "examples" / "press_guard"
    assert main(["sheets", str(press), "-o", str(tmp_path / "sheets")]) == 0
    filled = tmp_path / "sheets" / "readings.csv"
    text = filled.read_text(encoding="utf-8").replace(",24,15,30,V,,on", ",24,15,30,V,3,on", 1)
    filled.write_text(text, encoding="utf-8", newline="")
    told = written(tmp_path / "out.json", "check", press, "--as-found", filled, "--time", "1", "--proof", "0")
    assert (told["exit_code"], told["as_found"]["readings"]) == (1, 1)
    assert told["as_found"]["outside"] == [{"check": "X1:1 on", "found": "meter 3 V", "expected": "24 (15..30) V"}]


def test_replay_holds_to_the_schema(tmp_path: Path, wrong: Path, story: Path) -> None:
    """The violation and its instant, the run as moments; a story without a scenario as diagnoses."""
    result = written(tmp_path / "out.json", "replay", wrong, story)
    assert result["exit_code"] == 1
    assert result["violated"]["R2"] == result["runs"][0]["violations"][0]["violated_at_ms"]
    story.write_text("nothing of the kind\n", encoding="utf-8")
    result = written(tmp_path / "out.json", "replay", wrong, story)
    assert (result["exit_code"], result["runs"]) == (2, [])


def test_a_dash_gives_standard_output_to_json_alone(capsys: pytest.CaptureFixture[str], good: Path) -> None:
    """With `--json -` nothing but JSON is printed."""
    assert main(["check", str(good), "--time", "1", "--json", "-"]) == 0
    result = json.loads(capsys.readouterr().out)
    VALIDATOR.validate(result)


def test_json_of_an_earlier_run_is_replaced_whole(tmp_path: Path, good: Path) -> None:
    """The file keeps its mode, a link stays a link, and nothing is left beside it."""
    kept = tmp_path / "kept.json"
    kept.write_text("old", encoding="utf-8")
    kept.chmod(0o640)
    link = tmp_path / "link.json"
    link.symlink_to(kept)
    written(link, "check", good, "--time", "1")
    assert link.is_symlink()
    assert kept.stat().st_mode & 0o777 == 0o640
    assert sorted(each.name for each in tmp_path.iterdir()) == ["good.rung", "kept.json", "link.json"]


def test_faults_writes_every_row_with_its_story(tmp_path: Path) -> None:
    """Rows as the schema says, the words that stand on the table, and what each word means."""
    mend = Path(__file__).parents[3] / "examples" / "mistakes" / "lost_signal_read_as_empty_corrected.rung"
    rig = tmp_path / "rig.rung"
    safe = '\nhazard H9 "The tank overflows"   safe state not filler.energised\n'
    rig.write_text(mend.read_text(encoding="utf-8") + safe, encoding="utf-8")
    result = written(tmp_path / "out.json", "faults", rig)
    assert len(result["faults"]) > 50
    assert {each["how"] for each in result["signals"]} >= {"full scale", "frozen", "floating"}
    assert result["only"] == "Faults in this list only."
    assert {row["outcome"] for row in result["faults"]} <= result["legend"]["outcomes"].keys()
    assert result["cautions"]


def test_faults_of_broken_files_writes_the_diagnoses(tmp_path: Path) -> None:
    """There is no table of what cannot be run."""
    path = tmp_path / "broken.rung"
    path.write_text(BROKEN, encoding="utf-8")
    result = written(tmp_path / "out.json", "faults", path)
    assert result["exit_code"] == 2
    assert "faults" not in result


def test_exercise_and_grade_hold_to_the_schema(tmp_path: Path) -> None:
    """A sheet's files; a grade with points, hints as far as asked, and nothing that a hidden requirement says."""
    exercise = Path(__file__).parents[3] / "examples" / "exercises" / "01_seal_in"
    out, sheet = tmp_path / "out.json", tmp_path / "sheet"
    assert written(out, "exercise", exercise, "-o", sheet)["files"] == ["task.md", "answer.rung", "shown.rung"]
    submission = exercise / "wrong" / "start_held.rung"
    result = written(out, "grade", exercise, submission, "--hints", "2", "--csv", tmp_path / "a.csv")
    (grade,) = result["grades"]
    assert (result["exit_code"], grade["outcome"], grade["misconception"]) == (1, "graded", "start-held-down")
    assert len(grade["hints"]) == 2
    hidden = [item for item in grade["items"] if item["hidden"]]
    assert [item["name"] for item in hidden] == ["hidden 1", "hidden 2"]
    assert not any(item["sentence"] or item["restatement"] for item in hidden)
    for text in (out.read_text(encoding="utf-8"), (tmp_path / "a.csv").read_text(encoding="utf-8")):
        assert "Letting the stop go" not in text
        assert "R5" not in text
    shown = written(out, "grade", exercise, submission, "--reveal")["grades"][0]["items"]
    assert any("Letting the stop go" in item["sentence"] for item in shown)
