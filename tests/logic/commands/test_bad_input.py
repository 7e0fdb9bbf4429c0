"""Bad input through the real command line: a clear answer, never a traceback, nothing half-written."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import time
import weakref
from collections.abc import Callable
from pathlib import Path

import pytest
from rungproof.logic.commands.interrupt import never_lost
from rungproof.logic.commands.main import main

#: A sign of life of long work, which a machine that is slow enough lets come.
ALIVE = re.compile(r"^rungproof: [0-9]+ s: .*\n", re.MULTILINE)

Cli = Callable[..., "subprocess.CompletedProcess[str]"]

OK = """\
controller "Pump" every 10 ms

tags
    start_pb  input   bool
    pump      output  bool  on stop off

rung run
    rising start_pb
    => pump
"""

SAME_TAG = OK.replace("    pump", "    START_PB  memory bool\n    pump")
SAME_RUNG = OK + "\nrung run\n    start_pb\n    => pump\n"


def refused(cli: Cli, path: Path, code: str) -> str:
    """What `check` prints for files that it must refuse with a diagnosis of that code."""
    done = cli("check", path, "--time", "1")
    assert "Traceback" not in done.stdout + done.stderr
    assert done.returncode == 2, done.stdout + done.stderr
    assert f"  {code}" in done.stdout
    assert done.stderr == ""
    return done.stdout


@pytest.mark.parametrize(
    ("content", "code"),
    [
        pytest.param(b"", "file-empty", id="empty"),
        pytest.param(bytes(range(256)) * 40, "file-binary", id="binary"),
        pytest.param('rung run "Überlauf"\n    a\n    => b\n'.encode("latin-1"), "file-encoding", id="latin-1"),
        pytest.param(OK.encode("utf-16"), "file-encoding", id="utf-16"),
        pytest.param(b"rung run\n    " + b"a" * 5_000_000 + b"\n    => b\n", "line-too-long", id="one line of 5 MB"),
        pytest.param(
            b"rung run\n    " + b"(" * 10_000 + b"a" + b")" * 10_000 + b"\n    => b\n",
            "line-too-long",
            id="10,000 nested parentheses in one line",
        ),
        pytest.param(
            b"rung run\n    " + b"(" * 9_000 + b"a" + b")" * 9_000 + b"\n    => b\n",
            "nested-too-deep",
            id="as many as a line can hold",
        ),
        pytest.param(b'use "bad.rung"\n' + OK.encode(), "use-itself", id="use of itself"),
        pytest.param(b'use "../other.rung"\n' + OK.encode(), "use-outside-folder", id="use of a file outside"),
        pytest.param(b'use "/elsewhere/other.rung"\n' + OK.encode(), "use-outside-folder", id="use of a path"),
        pytest.param(b'use "missing.rung"\n' + OK.encode(), "use-missing", id="use of a missing file"),
        pytest.param(
            OK.replace("    pump", "    START_PB  memory bool\n    pump").encode(), "name-taken", id="same tag"
        ),
        pytest.param((OK + "\nrung run\n    start_pb\n    => pump\n").encode(), "rung-name-taken", id="same rung"),
    ],
)
def test_a_file_that_cannot_be_run_is_answered_with_its_diagnosis(
    cli: Cli, tmp_path: Path, content: bytes, code: str
) -> None:
    """The code, the place and the counts are printed, and the exit code is 2."""
    path = tmp_path / "bad.rung"
    path.write_bytes(content)
    printed = refused(cli, path, code)
    assert "exit code      2: the files cannot be run" in printed


@pytest.mark.parametrize(
    ("content", "warning"),
    [
        pytest.param(b"\xef\xbb\xbf" + OK.encode(), None, id="byte-order mark"),
        pytest.param(OK.replace("\n", "\r\n").encode(), None, id="CRLF"),
        pytest.param(OK.replace("    ", "\t", 2).encode(), "tab-indentation", id="tabs"),
    ],
)
def test_another_editors_habits_do_no_harm(cli: Cli, tmp_path: Path, content: bytes, warning: str | None) -> None:
    """Line ends, marks and tabs of other systems are read; at most a warning says so."""
    path = tmp_path / "odd.rung"
    path.write_bytes(content)
    done = cli("check", path, "--time", "1")
    assert done.returncode == 0, done.stdout + done.stderr
    assert (warning is None) == ("warning" not in done.stdout)
    assert warning is None or warning in done.stdout


def test_a_missing_path_and_a_folder_without_rungs_are_told_apart(cli: Cli, tmp_path: Path) -> None:
    """Each has a diagnosis of its own; the second says how to begin."""
    (tmp_path / "bare").mkdir()
    refused(cli, tmp_path / "nowhere", "path-missing")
    assert "rungproof new" in refused(cli, tmp_path / "bare", "folder-without-rungs")


@pytest.mark.parametrize("path", ["", "a\x00b"])
def test_what_can_be_no_path_is_refused(capsys: pytest.CaptureFixture[str], path: str) -> None:
    """An empty path is not taken for the folder one stands in."""
    with pytest.raises(SystemExit) as ended:
        main(["check", path])
    assert ended.value.code == 2
    assert "is no path" in capsys.readouterr().err


@pytest.mark.parametrize("command", ["check", "run", "draw", "format"])
def test_json_that_cannot_be_written_is_told_before_the_work(cli: Cli, tmp_path: Path, command: str) -> None:
    """A file stands where a folder is needed: one clear message, exit code 2, and PATH is not even looked at."""
    (tmp_path / "file").write_text("", encoding="utf-8")
    done = cli(command, tmp_path / "nowhere.rung", "--json", tmp_path / "file" / "result.json")
    assert (done.returncode, done.stdout) == (2, "")
    assert "cannot be written: not a directory" in done.stderr
    assert len(done.stderr.splitlines()) == 2


def test_format_in_a_folder_that_takes_no_files_leaves_all_as_it_was(cli: Cli, tmp_path: Path) -> None:
    """The layout is written beside the file first; where that cannot be, nothing is touched.

    The suite may run as a user whom no mode stops, so the name is made too long for any file
    system instead: the file itself just fits, the one beside it does not.
    """
    name = "a" * 250 + ".rung"
    path = tmp_path / name
    path.write_text(OK.replace("    rising", "      rising"), encoding="utf-8")
    before = path.read_bytes()
    done = cli("format", name)
    assert done.returncode == 2
    assert "cannot be written" in done.stderr
    assert path.read_bytes() == before
    assert [each.name for each in tmp_path.iterdir()] == [name]


def test_new_where_no_folder_can_be_made_makes_nothing(cli: Cli, tmp_path: Path) -> None:
    """A file in the place of the parent folder, and a folder that is full already."""
    (tmp_path / "file").write_text("", encoding="utf-8")
    done = cli("new", tmp_path / "file" / "project")
    assert done.returncode == 2
    assert "cannot be made" in done.stderr
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "note.txt").write_text("mine", encoding="utf-8")
    done = cli("new", tmp_path / "full")
    assert done.returncode == 2
    assert "nothing is overwritten" in done.stderr
    assert [each.name for each in (tmp_path / "full").iterdir()] == ["note.txt"]


@pytest.mark.parametrize("proof", ["0", "60"])
def test_ctrl_c_ends_in_one_line(tmp_path: Path, proof: str) -> None:
    """The whole process group is interrupted in mid-search or mid-proof: exit code 130, one line, no JSON left."""
    path = tmp_path / "good.rung"
    sealed = OK.replace("    rising start_pb\n", "    rising start_pb or pump\n")
    path.write_text(
        sealed + '\nrequirement R1 "No end"\n    whenever start_pb has stood for 2 h then not pump\n', encoding="utf-8"
    )
    code = (
        "import rungproof.logic.api as api, sys\n"
        "from rungproof.logic.commands import check_command, main\n"
        "def slow(*args, **more):\n"
        "    print('searching', file=sys.stderr, flush=True)\n"
        "    return api.check(*args, **more)\n"
        "check_command.check = slow\n"
        "main.entry()\n"
    )
    running = subprocess.Popen(
        [
            sys.executable,
            "-c",
            code,
            "check",
            str(path),
            "--time",
            "60",
            "--proof",
            proof,
            "--json",
            str(tmp_path / "out.json"),
        ],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    assert running.stderr is not None
    assert running.stderr.readline() == "searching\n"
    time.sleep(0.5)
    os.killpg(running.pid, signal.SIGINT)
    out, err = running.communicate(timeout=120)
    assert running.returncode == 130, err
    assert (out, ALIVE.sub("", err).strip()) == ("", "rungproof: stopped.")
    assert [each.name for each in tmp_path.iterdir()] == ["good.rung"]


def test_ctrl_c_inside_a_callback_is_not_lost() -> None:
    """An interrupt that falls into a dying weak reference, whose errors Python drops, still stops the command."""

    class Node:
        pass

    def interrupted(_: object) -> None:
        raise KeyboardInterrupt

    node = Node()
    reference = weakref.ref(node, interrupted)
    with pytest.raises(KeyboardInterrupt), never_lost():
        del node
        assert reference() is None
        time.sleep(30)


def test_other_errors_inside_a_callback_are_reported_as_before(monkeypatch: pytest.MonkeyPatch) -> None:
    """Only an interrupt is raised again; whatever else a callback drops goes where it went."""
    seen: list[object] = []
    monkeypatch.setattr(sys, "unraisablehook", seen.append)

    class Node:
        pass

    def broken(_: object) -> None:
        raise ValueError

    node = Node()
    reference = weakref.ref(node, broken)
    with never_lost():
        del node
    assert reference() is None
    assert len(seen) == 1


def test_a_reader_that_goes_away_is_no_error(tmp_path: Path) -> None:
    """Output into a pipe that nobody reads any more ends quietly."""
    call = "from rungproof.logic.commands.main import entry; entry()"
    running = subprocess.Popen(
        [sys.executable, "-c", call, "explain"], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    assert running.stdout is not None
    assert running.stderr is not None
    running.stdout.close()
    assert running.stderr.read() == ""
    assert running.wait(timeout=60) == 141


def test_a_stream_of_fewer_signs_is_no_reason_to_stop(cli: Cli, tmp_path: Path) -> None:
    """Text goes out with the missing signs spelled, and JSON stays JSON."""
    path = tmp_path / "signs.rung"
    text = OK.replace('"Pump"', '"Pumpe für Öl"') + '\nrequirement R1 "Läuft nie"\n    never pump\n'
    path.write_text(text, encoding="utf-8")
    done = cli("check", path, "--time", "60", "--proof", "60", PYTHONIOENCODING="ascii")
    assert done.returncode == 1, done.stderr
    assert "L\\xe4uft nie" in done.stdout
    done = cli("check", path, "--time", "60", "--proof", "60", "--json", "-", PYTHONIOENCODING="ascii")
    assert json.loads(done.stdout)["requirements"][0]["sentence"] == "Läuft nie"


def test_a_file_name_in_another_encoding_is_told_and_written(cli: Cli, tmp_path: Path) -> None:
    """The name is not ours to choose: findings, text and JSON bear it all the same."""
    name = os.fsencode(tmp_path) + b"/caf\xe9.rung"
    try:
        Path(os.fsdecode(name)).write_text(OK, encoding="utf-8")
    except OSError:
        pytest.skip("this file system takes UTF-8 names only")
    done = cli("check", os.fsdecode(name), "--time", "1", "--json", tmp_path / "out.json")
    assert done.returncode == 0, done.stderr
    (source,) = json.loads((tmp_path / "out.json").read_text(encoding="utf-8"))["sources"]
    assert os.fsencode(source["file"]) == name


def many_rungs(path: Path, count: int) -> Path:
    tags = "".join(f"    out{n}  output  bool  on stop off\n" for n in range(count))
    rungs = "".join(f"rung r{n}\n    rising start_pb\n    => out{n}\n\n" for n in range(count))
    path.write_text(
        f'controller "Many" every 10 ms\n\ntags\n    start_pb  input  bool\n{tags}\n{rungs}', encoding="utf-8"
    )
    return path


@pytest.mark.slow
def test_a_hundred_thousand_rungs_take_time_in_proportion(cli: Cli, tmp_path: Path) -> None:
    """Ten times the rungs take about ten times as long, and are checked to the end."""
    took = []
    for count in (10_000, 100_000):
        path = many_rungs(tmp_path / f"many{count}.rung", count)
        before = os.times().children_user
        done = cli("check", path, "--time", "1", timeout=600)
        took.append(os.times().children_user - before)
        assert done.returncode == 0, done.stdout + done.stderr
    assert took[1] < 25 * took[0]
