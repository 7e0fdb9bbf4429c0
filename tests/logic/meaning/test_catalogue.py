"""The catalogue of diagnoses as a whole: every sample triggers its entry, every code is used."""

from __future__ import annotations

import ast
import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from rungproof.grammar import CATALOGUE, Entry, Reporter, Sample, read_file
from rungproof.grammar.catalogue import circuits, files, findings_plant, plant, requirements, scenarios, wiring
from rungproof.logic.meaning.understand import Understanding, understand, understand_texts

ROOT = Path(__file__).parents[3]
SAMPLES = [
    pytest.param(entry, sample, id=f"{entry.code}-{number}")
    for entry in CATALOGUE.values()
    for number, sample in enumerate(entry.samples)
]
OURS = [
    pytest.param(entry, sample, id=f"{entry.code}-{number}")
    for module in (circuits, files, findings_plant, plant, requirements, scenarios, wiring)
    for entry in module.ENTRIES
    for number, sample in enumerate(entry.samples)
]


def _write(sample: Sample, folder: Path) -> None:
    for name, text in sample.files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(text.encode("utf-8", "surrogateescape"))


def _linked(sample: Sample, folder: Path) -> Understanding:
    """The sample's file lies elsewhere; the folder that is opened holds a link to it."""
    (folder / "elsewhere").mkdir()
    (folder / "opened").mkdir()
    _write(sample, folder / "elsewhere")
    (folder / "opened" / "small.rung").symlink_to(folder / "elsewhere" / "small.rung")
    return understand(folder / "opened")


def _unreadable(sample: Sample, folder: Path) -> Understanding:
    """A folder that cannot be listed: its listing is replaced, because permissions do not stop every user."""

    class Closed(type(folder)):
        def iterdir(self) -> Iterator[Path]:
            raise PermissionError(13, "Permission denied")

    return understand(Closed(folder))


#: What only a file system can trigger, and how.
ON_DISK: dict[str, Callable[[Sample, Path], Understanding]] = {
    "path-missing": lambda sample, folder: understand(folder / "absent"),
    "path-not-rung": lambda sample, folder: understand(folder / next(iter(sample.files))),
    "folder-without-rungs": lambda sample, folder: understand(folder),
    "folder-unreadable": _unreadable,
    "link-outside-folder": _linked,
}


def _codes(entry: Entry, sample: Sample, folder: Path) -> list[str]:
    if entry.code in ON_DISK:
        if entry.code != "link-outside-folder":
            _write(sample, folder)
        return [d.code for d in ON_DISK[entry.code](sample, folder).diagnoses]
    if entry.code.startswith("file-"):
        return _read_codes(sample, folder)
    return [d.code for d in understand_texts(sample.files).diagnoses]


def _read_codes(sample: Sample, folder: Path) -> list[str]:
    """What reading each file of the sample, and each that a `use` names, says."""
    _write(sample, folder)
    reporter = Reporter(dict(CATALOGUE))
    first = next(iter(sample.files))
    source = read_file(folder / first, first, reporter)
    for used in [block.file for block in (source.blocks if source else ()) if hasattr(block, "file")]:
        read_file(folder / used, used, reporter)
    return [d.code for d in reporter.sorted()]


@pytest.mark.parametrize(("entry", "sample"), SAMPLES)
def test_every_sample_triggers_its_entry(entry: Entry, sample: Sample, tmp_path: Path) -> None:
    """No message goes untested: each has samples, and each sample brings it out."""
    assert entry.code in _codes(entry, sample, tmp_path)


@pytest.mark.parametrize(("entry", "sample"), OURS)
def test_a_sample_of_plant_wiring_or_requirements_triggers_nothing_else(
    entry: Entry, sample: Sample, tmp_path: Path
) -> None:
    """One mistake, one answer: no follow-on noise."""
    assert _codes(entry, sample, tmp_path) == [entry.code]


def test_every_entry_has_a_sample_and_a_sentence() -> None:
    """The table holds 50 entries or more, each with something that triggers it."""
    assert len(CATALOGUE) >= 50
    for entry in CATALOGUE.values():
        assert entry.samples, entry.code
        assert entry.message.rstrip().endswith((".", "?", "}")), entry.code


def _source_trees() -> Iterator[ast.Module]:
    for folder in ("grammar", "plant", "logic"):
        for file in sorted((ROOT / folder).rglob("*.py")):
            if "catalogue" not in file.parts:
                yield ast.parse(file.read_text(encoding="utf-8"))


def _called(call: ast.Call) -> str:
    return call.func.attr if isinstance(call.func, ast.Attribute) else getattr(call.func, "id", "")


def test_every_code_that_the_source_reports_is_in_the_catalogue() -> None:
    """A code outside the table would be a KeyError in front of a user."""
    reported = {
        argument.value
        for tree in _source_trees()
        for call in ast.walk(tree)
        if isinstance(call, ast.Call) and _called(call) in ("report", "_report", "_fault")
        for argument in call.args[:1]
        if isinstance(argument, ast.Constant) and isinstance(argument.value, str)
    }
    assert len(reported) > 100
    assert sorted(reported - set(CATALOGUE)) == []


def _codes_made(node: ast.expr) -> str | None:
    """A pattern for a code put together where it is reported: `writes-{tag.role}`."""
    if not isinstance(node, ast.JoinedStr):
        return None
    return "".join(re.escape(str(v.value)) if isinstance(v, ast.Constant) else "[a-z]+" for v in node.values)


def test_every_entry_is_used_by_the_source() -> None:
    """An entry that nothing can report is dead text."""
    nodes = [node for tree in _source_trees() for node in ast.walk(tree)]
    strings = {n.value for n in nodes if isinstance(n, ast.Constant) and isinstance(n.value, str)}
    calls = [n for n in nodes if isinstance(n, ast.Call) and _called(n) == "report" and n.args]
    made = [pattern for call in calls if (pattern := _codes_made(call.args[0]))]
    unused = [c for c in CATALOGUE if c not in strings and not any(re.fullmatch(p, c) for p in made)]
    assert unused == []
