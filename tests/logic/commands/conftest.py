"""Small projects on disk, and the command line as a user calls it."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from collections.abc import Callable
from importlib import resources
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from rungproof.logic.commands.main import main

Cli = Callable[..., "subprocess.CompletedProcess[str]"]

GOOD = """\
controller "Pump" every 10 ms

tags
    start_pb  input   bool
    stop_ok   input   bool
    pump      output  bool   on stop off

rung run
    rising start_pb or pump
    stop_ok
    => pump

requirement R1 "The stop button ends the run"
    never pump and not stop_ok
"""

#: Wrong: releasing the stop button restarts the pump while the start button is held.
WRONG = GOOD.replace("rising start_pb or pump", "start_pb or pump").replace(
    "requirement R1",
    'requirement R2 "After a stop only a fresh press starts"\n'
    "    after not stop_ok never pump until rising start_pb\n\nrequirement R1",
)


LAMP = """\
controller "Lamp" every 10 ms

tags
    door_ok  input   bool
    lamp     output  bool  on stop off

rung lamp
    not door_ok
    => lamp

requirement R1 "A shut door and a lit lamp never go together"
    never lamp and door_ok
"""


@pytest.fixture(autouse=True)
def _no_clock(unhurried: None) -> None:
    """What a command says of a program must not hang on the machine's speed."""


#: A sign of life of long work, which a machine that is slow enough lets come.
ALIVE = re.compile(r"^rungproof: [0-9]+ s: .*\n", re.MULTILINE)


@pytest.fixture
def good(tmp_path: Path) -> Path:
    """A file in which nothing is wrong."""
    return _file(tmp_path, "good.rung", GOOD)


@pytest.fixture
def wrong(tmp_path: Path) -> Path:
    """A file whose requirement R2 is violated and whose R1 is not."""
    return _file(tmp_path, "wrong.rung", WRONG)


@pytest.fixture
def lamp(tmp_path: Path) -> Path:
    """A file of one rung, in which nothing is wrong and little is asked for."""
    return _file(tmp_path, "lamp.rung", LAMP)


@pytest.fixture
def broken(tmp_path: Path) -> Path:
    """A file that cannot be run."""
    return _file(tmp_path, "broken.rung", "rung half\n    start_pb or\n")


@pytest.fixture
def validated() -> Callable[[Path], dict[str, Any]]:
    """Reads what `--json` wrote, which must be as the shipped schema documents it."""
    text = resources.files("rungproof.logic.commands").joinpath("schema.json").read_text(encoding="utf-8")
    validator = jsonschema.Draft202012Validator(json.loads(text))

    def read(path: Path) -> dict[str, Any]:
        result: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
        validator.validate(result)
        return result

    return read


@pytest.fixture
def said(capsys: pytest.CaptureFixture[str]) -> Callable[..., tuple[int, str, str]]:
    """Runs a command in this process: exit code, standard output, standard error."""

    def run(*arguments: str | Path) -> tuple[int, str, str]:
        code = main([str(argument) for argument in arguments])
        out, err = capsys.readouterr()
        return code, out, err

    return run


def _file(folder: Path, name: str, text: str) -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8", newline="\n")
    return path


@pytest.fixture
def cli(tmp_path: Path) -> Cli:
    """Runs `rungproof` in a process of its own, in a folder of its own; text out, text in."""

    def call(*arguments: str | Path, timeout: float = 600, **environment: str) -> subprocess.CompletedProcess[str]:
        keep = {key: value for key, value in os.environ.items() if not key.startswith("RUNGPROOF")}
        done = subprocess.run(
            [sys.executable, "-c", "from rungproof.logic.commands.main import entry; entry()", *map(str, arguments)],
            cwd=tmp_path,
            env={**keep, **environment},
            capture_output=True,
            text=True,
            encoding="utf-8",
            timeout=timeout,
            check=False,
        )
        done.stderr = ALIVE.sub("", done.stderr)
        return done

    return call
