"""A campaign of hours: it can be killed at any moment and goes on to the same end."""

from __future__ import annotations

import json
import os
import random
import signal
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from rungproof.logic.checks import hours
from rungproof.logic.checks.check import check_program
from rungproof.logic.checks.confirm import violated_at
from rungproof.logic.checks.engine_choice import reference_engine
from rungproof.logic.checks.hours import ChunkTask, chunks_of, story_of, work_off
from rungproof.logic.checks.plan import plan_of
from rungproof.logic.checks.profile import profile_of
from rungproof.logic.checks.record import RecordError
from rungproof.logic.meaning.program import Program

HOURS = 0.3


def told(program: Program, record: Path, **more: Any) -> dict[str, Any]:
    """All that a check with a campaign says, but how long it took."""
    result = check_program(program, runs=4, hours=more.pop("hours", HOURS), record=record, **more).to_json()
    del result["searched"]["elapsed_s"]
    return result


@pytest.fixture(scope="module")
def unbroken(barrel: Program, tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, Any], bytes]:
    """The result of a campaign that nothing broke off, and its record."""
    record = tmp_path_factory.mktemp("campaign") / "unbroken.jsonl"
    return told(barrel, record), record.read_bytes()


def test_the_hours_come_on_top_of_the_plan(barrel: Program, unbroken: tuple[dict[str, Any], bytes]) -> None:
    """So many plant-hours are run beyond the plan, and the figures say so."""
    plain = check_program(barrel, runs=4).to_json()["searched"]
    searched = unbroken[0]["searched"]
    assert searched["simulated_ms"] - plain["simulated_ms"] >= HOURS * 3_600_000 * 0.9
    assert searched["runs"] == searched["planned_runs"] > plain["runs"]
    assert not searched["cut_by_time"]


def test_the_executor_plays_no_part(barrel: Program, tmp_path: Path, unbroken: tuple[dict[str, Any], bytes]) -> None:
    """Threads give the result of processes."""
    with ThreadPoolExecutor(3) as executor:
        assert told(barrel, tmp_path / "record.jsonl", executor=executor) == unbroken[0]


@pytest.mark.parametrize("share", [0.0, 0.03, 0.4, 0.8, 0.999])
def test_a_record_cut_anywhere_is_gone_on_with(
    barrel: Program, tmp_path: Path, unbroken: tuple[dict[str, Any], bytes], share: float
) -> None:
    """Whatever the last byte on the disk was, the result is that of the unbroken run, and the record whole again."""
    record = tmp_path / "record.jsonl"
    record.write_bytes(unbroken[1][: int(share * len(unbroken[1]))])
    assert told(barrel, record) == unbroken[0]
    lines = record.read_bytes().splitlines()
    assert sorted(lines) == sorted(unbroken[1].splitlines())


SCRIPT = """
import json, sys
from pathlib import Path
from rungproof.logic.checks.check import check_program
from rungproof.logic.meaning.understand import understand_texts
program = understand_texts({"main.rung": Path(sys.argv[1]).read_text()}).program
result = check_program(program, runs=4, hours=float(sys.argv[3]), record=Path(sys.argv[2])).to_json()
del result["searched"]["elapsed_s"]
print(json.dumps(result))
"""


@pytest.mark.skipif(sys.platform == "win32", reason="no SIGKILL")
def test_killed_at_random_instants_it_ends_the_same(
    barrel: Program, tmp_path: Path, unbroken: tuple[dict[str, Any], bytes]
) -> None:
    """The same command after each SIGKILL goes on; what was on the disk stays, the end is that of the unbroken run."""
    text, record = tmp_path / "main.rung", tmp_path / "record.jsonl"
    text.write_text(barrel.sources[0].text)
    command = [sys.executable, "-c", SCRIPT, str(text), str(record), str(HOURS)]
    chance, kept, kills = random.Random(os.getpid()), b"", 0
    for _ in range(5):
        run = subprocess.Popen(command, stdout=subprocess.PIPE)
        # The first dies as soon as its record is there, so that one is killed however quick the machine is.
        while kills == 0 and run.poll() is None and not (record.exists() and record.stat().st_size):
            time.sleep(0.01)
        try:
            run.communicate(timeout=chance.uniform(0.6, 3.0) if kills else 0.01)
        except subprocess.TimeoutExpired:
            run.send_signal(signal.SIGKILL)
            run.communicate()
            kills += 1
        now = record.read_bytes() if record.exists() else b""
        assert now.startswith(kept[: kept.rfind(b"\n") + 1])
        kept = now
    assert kills > 0
    ended = subprocess.run(command, stdout=subprocess.PIPE, check=True, timeout=600)
    assert json.loads(ended.stdout) == json.loads(json.dumps(unbroken[0]))


def test_what_is_done_is_not_done_again(
    barrel: Program, tmp_path: Path, unbroken: tuple[dict[str, Any], bytes], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A whole record gives the result without a single run of the campaign."""
    record = tmp_path / "record.jsonl"
    record.write_bytes(unbroken[1])
    monkeypatch.setattr(hours.LongCampaign, "_workers", None)
    assert told(barrel, record) == unbroken[0]


@pytest.mark.parametrize(
    ("more", "words"), [({"seed": 1}, "another seed"), ({"hours": 1.0}, "another number of hours")]
)
def test_a_record_of_something_else_is_refused(
    barrel: Program, tmp_path: Path, unbroken: tuple[dict[str, Any], bytes], more: dict[str, Any], words: str
) -> None:
    """Another seed or another number of hours: a clear error, and the record stays as it was."""
    record = tmp_path / "record.jsonl"
    record.write_bytes(unbroken[1])
    with pytest.raises(RecordError, match=words):
        told(barrel, record, **more)
    assert record.read_bytes() == unbroken[1]


def test_a_record_of_other_files_or_of_another_version_is_refused(
    kettle: Program, barrel: Program, tmp_path: Path, unbroken: tuple[dict[str, Any], bytes]
) -> None:
    """Changed files or another version would mix two results into one."""
    record = tmp_path / "record.jsonl"
    record.write_bytes(unbroken[1])
    with pytest.raises(RecordError, match="other files"):
        told(kettle, record)
    head, rest = unbroken[1].split(b"\n", 1)
    record.write_bytes(json.dumps({**json.loads(head), "version": "0.0.9"}).encode() + b"\n" + rest)
    with pytest.raises(RecordError, match="another version"):
        told(barrel, record)


@pytest.mark.parametrize("text", ["pump log", "pump log\n", "{}\n", "[1]\nx\n"])
def test_a_file_that_is_no_record_is_left_alone(barrel: Program, tmp_path: Path, text: str) -> None:
    """Nobody's notes are appended to or cut."""
    record = tmp_path / "notes.txt"
    record.write_text(text)
    with pytest.raises(RecordError, match="no record"):
        told(barrel, record)
    assert record.read_text() == text


def test_many_runs_go_as_lanes_and_say_the_same(barrel: Program, monkeypatch: pytest.MonkeyPatch) -> None:
    """A chunk of lanes finds what the same chunk finds run by run; its violations replay by number."""
    profile = profile_of(barrel)
    plan = plan_of(barrel, profile, time_s=1, engine="compiled", runs=2)
    chunk = chunks_of(plan, 0.1)[0]
    task = ChunkTask(b"", chunk.group.watches(barrel), (), 3, chunk)
    single = work_off(barrel, profile, task)
    monkeypatch.setattr(hours, "LANES_FROM", 1)
    assert work_off(barrel, profile, task) == single
    number, at = single.violations["R3"]
    story = story_of(profile, (), 3, chunk, number)
    assert violated_at(reference_engine(), barrel, story, "R3") == at


def test_chunks_cover_every_run_once(barrel: Program) -> None:
    """Consecutive numbers from the end of the plan's long runs, in every group, whether few or many."""
    plan = plan_of(barrel, profile_of(barrel), time_s=5, engine="compiled")
    for wanted in (0.01, 3.0, 3000.0):
        chunks = chunks_of(plan, wanted)
        assert sum(c.count * c.length_ms for c in chunks) >= wanted * 3_600_000
        for group in {tier.group for tier in plan.tiers}:
            own = [c for c in chunks if c.group == group]
            assert own[0].first == sum(t.runs for t in plan.tiers if t.group == group and t.long)
            assert all(a.first + a.count == b.first for a, b in pairwise(own))
