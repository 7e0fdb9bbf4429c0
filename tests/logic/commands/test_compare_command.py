"""`rungproof compare`: equal, different or undecided, what a change touches, and exit codes that say so."""

from __future__ import annotations

import multiprocessing
import os
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from rungproof.logic import compare
from rungproof.logic.commands.main import main
from rungproof.logic.meaning.program import Program
from rungproof.logic.meaning.understand import understand
from rungproof.logic.proofs import compare_apart as compare_apart_module
from rungproof.logic.proofs.compare import Comparison

Validated = Callable[[Path], dict[str, Any]]

Captured = pytest.CaptureFixture[str]


def test_the_same_is_equal(good: Path, tmp_path: Path, capsys: Captured, validated: Validated) -> None:
    """Exit code 0; the outputs compared and the cautions stand below; JSON holds to the schema."""
    out = tmp_path / "out.json"
    assert main(["compare", str(good), str(good), "--json", str(out)]) == 0
    shown = capsys.readouterr().out
    assert shown.startswith("equal\n")
    assert "compared   pump" in shown
    assert "not a safety-rated tool" in shown
    result = validated(out)
    assert result["comparison"]["answer"] == "equal"


def test_another_contact_is_different_and_touches_a_requirement(
    good: Path, wrong: Path, tmp_path: Path, capsys: Captured, validated: Validated
) -> None:
    """Exit code 1; the story is one that replays in the new version; R2 is new, R1 touched by the rung."""
    out, story = tmp_path / "out.json", tmp_path / "story.rung"
    assert main(["compare", str(good), str(wrong), "--json", str(out), "--story", str(story)]) == 1
    result = validated(out)
    told = result["comparison"]
    first = told["first_difference"]
    assert (first["tag"], first["old"], first["new"], first["shortest"]) == ("pump", False, True, True)
    assert {each["id"]: each["how"] for each in told["requirements"]} == {"R2": "new", "R1": "touched"}
    assert "R1         touched: rung `run` changed" in capsys.readouterr().out
    assert story.read_text(encoding="utf-8") == first["story"]
    assert main(["replay", str(wrong), str(story)]) == 0


def test_a_change_elsewhere_leaves_a_proof_standing(
    good: Path, wrong: Path, tmp_path: Path, validated: Validated
) -> None:
    """Certificates of the old version are told stale only where what they rest on changed."""
    proofs = tmp_path / "proofs"
    main(["check", str(good), "--time", "1", "--certificates", str(proofs)])
    lamp = (
        good.read_text(encoding="utf-8")
        .replace("rung run", "rung lamp\n    pump\n    => lamp\n\nrung run")
        .replace("    pump      output", "    lamp      output  bool   on stop off\n    pump      output")
    )
    for text, stands in (
        (lamp, "R1 rests on nothing that changed"),
        (wrong.read_text(encoding="utf-8"), "stale: rung `run` changed"),
    ):
        new, out = tmp_path / "new.rung", tmp_path / "out.json"
        new.write_text(text, encoding="utf-8")
        main(["compare", str(good), str(new), "--certificates", str(proofs), "--json", str(out)])
        (told,) = validated(out)["comparison"]["certificates"]
        assert told["stands"] == stands


def test_what_cannot_be_run_is_told_with_its_place(
    good: Path, tmp_path: Path, capsys: Captured, validated: Validated
) -> None:
    """Exit code 2 where either version cannot be read; nothing is compared."""
    broken, out = tmp_path / "broken.rung", tmp_path / "out.json"
    broken.write_text("rung half\n    start_pb or\n", encoding="utf-8")
    assert main(["compare", str(good), str(broken), "--json", str(out)]) == 2
    result = validated(out)
    assert result["comparison"] is None
    assert result["findings"]
    assert "broken.rung:2" in capsys.readouterr().out
    assert main(["compare", str(good), str(tmp_path / "nowhere.rung")]) == 2


def test_a_folder_without_certificates_is_an_error(good: Path, tmp_path: Path, capsys: Captured) -> None:
    """Exit code 2, and where certificates come from."""
    assert main(["compare", str(good), str(good), "--certificates", str(tmp_path / "none")]) == 2
    assert main(["compare", str(good), str(good), "--certificates", str(tmp_path)]) == 2
    assert "holds no certificate" in capsys.readouterr().err


def test_scan_times_that_never_meet_are_undecided(good: Path, tmp_path: Path, capsys: Captured) -> None:
    """Exit code 3, and why."""
    slow = tmp_path / "slow.rung"
    slow.write_text(good.read_text(encoding="utf-8").replace("every 10 ms", "every 25 ms"), encoding="utf-8")
    assert main(["compare", str(good), str(slow)]) == 3
    assert "no scan time is one of both" in " ".join(capsys.readouterr().out.split())


def test_in_python(good: Path, wrong: Path) -> None:
    """The verb as a function gives the same, with a table for notebooks."""
    result = compare(good, wrong)
    assert (result.word, result.exit_code) == ("different", 1)
    assert result.stories is not None
    assert "nothing was measured on a machine" in result._repr_html_()


def test_versions_with_a_part_of_their_own_are_compared() -> None:
    """The part is loaded once for each version; which of the two classes is meant cannot be told to a process."""
    example = Path(__file__).parents[3] / "examples" / "own_part"
    assert compare(example, example, time_s=2.0).word == "equal"


WIDE = """controller "Wide" every 10..20 ms

tags
    a      input      bool
    level  input      real cm 0..100
    most   parameter  real cm 10..60 = 50
    run    output     bool

rung run
    a
    level < most
    => run
"""


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("Wide", "Other", "every course of the inputs, every parameter, every scan time and every power cut"),
        ("10..20 ms", "10 ms", "every course of the inputs, every parameter, every scan time that both can do and"),
        (
            "0..100",
            "0..90",
            "every course of the inputs within the ranges of both, every parameter, every scan time and",
        ),
        ("10..60", "10..50", "every course of the inputs, every parameter value that both allow, every scan time and"),
    ],
)
def test_equal_is_said_of_what_both_have(tmp_path: Path, capsys: Captured, old: str, new: str, words: str) -> None:
    """Where one version can do or be given less, nothing is claimed of the rest."""
    one, other = tmp_path / "one.rung", tmp_path / "other.rung"
    one.write_text(WIDE, encoding="utf-8")
    other.write_text(WIDE.replace(old, new), encoding="utf-8")
    assert main(["compare", str(one), str(other)]) == 0
    assert f"for {words}" in " ".join(capsys.readouterr().out.split())


def _own_part() -> Program:
    program = understand(Path(__file__).parents[3] / "examples" / "own_part").program
    assert program is not None
    return program


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="only there can a process be copied")
def test_versions_with_a_part_of_their_own_are_compared_in_another_process(monkeypatch: pytest.MonkeyPatch) -> None:
    """A copy of this one: what happens to it happens to nobody else."""

    def where(*_: object) -> Comparison:
        return Comparison("undecided", why=str(os.getpid()))

    monkeypatch.setattr(compare_apart_module, "_compared", where)
    assert compare_apart_module.compare_apart(_own_part(), _own_part(), time_s=1.0).why not in ("", str(os.getpid()))
    monkeypatch.setattr(compare_apart_module, "_compared", lambda *_: os._exit(3))
    found = compare_apart_module.compare_apart(_own_part(), _own_part(), time_s=1.0)
    assert found.why == "the process that compared them died"


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="only there can a process be copied")
def test_a_comparison_that_overruns_its_time_is_killed(monkeypatch: pytest.MonkeyPatch) -> None:
    """With a part of the user's own too; no process is left."""
    for allowance in ("START", "RECHECK_S", "GRACE"):
        monkeypatch.setattr(compare_apart_module, allowance, 0.1)
    monkeypatch.setattr(compare_apart_module, "_compared", lambda *_: time.sleep(600))
    assert compare_apart_module.compare_apart(_own_part(), _own_part(), time_s=0.1).why == "the time was up"
    assert multiprocessing.active_children() == []
