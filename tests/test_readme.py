"""The README does what it says: its tour is carried out, its two commands stand first."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

from rungproof.grammar.catalogue import CATALOGUE
from rungproof.grammar.diagnosis import Reporter
from rungproof.grammar.formatter import format_text
from rungproof.logic.meaning.understand import understand

ROOT = Path(__file__).parent.parent
FENCE = re.compile(r"^```(.*?)\n(.*?)^```$", re.MULTILINE | re.DOTALL)


@dataclass(frozen=True)
class Block:
    """A fenced block: its info string, and its text."""

    info: str
    text: str


def blocks() -> list[Block]:
    return [Block(info.strip(), text) for info, text in FENCE.findall((ROOT / "README.md").read_text())]


def carry_out(command: str, folder: Path) -> list[str]:
    environment = {**os.environ, "COLUMNS": "80", "NO_COLOR": "1"}
    words = [sys.executable, "-c", "from rungproof.logic.commands.main import entry; entry()", *command.split()[1:]]
    done = subprocess.run(words, cwd=folder, capture_output=True, text=True, env=environment, check=False)
    assert "Traceback" not in done.stderr, done.stderr
    return [line.rstrip() for line in done.stdout.splitlines()]


def assert_shown(expected: list[str], printed: list[str], command: str) -> None:
    """Each expected line is printed, in this order; between two `...` nothing may be left out."""
    position, skipping = 0, False
    for line in expected:
        if line == "...":
            skipping = True
            continue
        pattern = re.compile(re.escape(line.rstrip()).replace("@", ".*"))
        reach = range(position, len(printed)) if skipping else range(position, min(position + 1, len(printed)))
        found = next((at for at in reach if pattern.fullmatch(printed[at])), None)
        assert found is not None, f"{command}: {line!r} not found from line {position} of:\n" + "\n".join(printed)
        position, skipping = found + 1, False


def edit(path: Path, text: str) -> None:
    before, after = text.rstrip("\n").split("\nbecomes\n")
    content = path.read_text()
    assert content.count(before) == 1, f"{before!r} stands {content.count(before)} times"
    path.write_text(content.replace(before, after))


def test_tour_prints_what_the_readme_shows(tmp_path: Path) -> None:
    """Every file, edit and command of the README's tour is carried out, and prints the lines shown."""
    commands = 0
    for block in blocks():
        kind, _, name = block.info.partition(" file=")
        if kind == "rung":
            (tmp_path / name).write_text(block.text)
        elif kind == "edit":
            edit(tmp_path / name, block.text)
        elif kind == "console":
            first, *expected = block.text.splitlines()
            assert_shown(expected, carry_out(first.removeprefix("$ "), tmp_path), first)
            commands += 1
    assert commands >= 5


def test_the_whole_project_of_the_readme_is_in_order(tmp_path: Path) -> None:
    """The file with plant, circuit and wiring has nothing to be found in it, and is laid out in the one way."""
    (text,) = [block.text for block in blocks() if block.info == "rung file=trough.rung"]
    (tmp_path / "trough.rung").write_text(text, encoding="utf-8")
    understood = understand(tmp_path)
    assert understood.program is not None
    assert understood.program.plant is not None
    assert understood.diagnoses == ()
    assert format_text(text, "trough.rung", Reporter(CATALOGUE)) == text


def test_first_two_blocks_are_the_two_commands() -> None:
    """The first fenced block installs and does the main job, the second passes the tests: one line each."""
    first, second, *_ = blocks()
    assert first.text.strip().endswith("rungproof check examples/header_tank")
    assert second.text.strip().endswith("pytest")
    assert len(first.text.strip().splitlines()) == len(second.text.strip().splitlines()) == 1
