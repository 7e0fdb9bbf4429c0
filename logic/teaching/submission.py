"""Reading what a student hands in, and nothing else: every way in which that fails is a reason.

Only the rungs and the tags that they need are taken. Plants, requirements, scenarios and the
like are left aside, whatever they are called, and no Python file beside them is ever loaded.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from rungproof.grammar import tree
from rungproof.grammar.catalogue import CATALOGUE
from rungproof.grammar.diagnosis import Diagnosis, Reporter
from rungproof.logic.meaning.program import SourceText
from rungproof.logic.meaning.project import load_texts

#: No answer to an exercise is bigger: bytes in all, files, lines of one, rungs, tags.
MOST_BYTES, MOST_FILES, MOST_LINES, MOST_RUNGS, MOST_TAGS = 200_000, 30, 3000, 300, 300

#: The file of a sheet that the student writes into.
ANSWER = "answer.rung"

#: Files of a sheet that are handed out, not handed in.
HANDED_OUT = ("plant.rung", "shown.rung")


class RefusedError(ValueError):
    """A submission that is not graded; the reason, as its author may read it."""


@dataclass(frozen=True, slots=True)
class Submission:
    """What was handed in. `notes` say what was left aside; `diagnoses` what could not be read."""

    rungs: tuple[tree.Rung, ...]
    tags: tuple[tree.TagLine, ...]
    circuits: tuple[tree.Circuit, ...]
    requirements: tuple[tree.Requirement, ...]
    controllers: tuple[tree.Controller, ...]
    sources: tuple[SourceText, ...]
    diagnoses: tuple[Diagnosis, ...]
    notes: tuple[str, ...]


def read_submission(path: Path) -> Submission:
    """Read a `.rung` file or a folder. Raises `RefusedError`."""
    files = files_of(path, ".rung")
    texts: dict[str, str] = {}
    for file in files:
        try:
            texts[file.name] = file.read_bytes().decode("utf-8-sig")
        except (OSError, UnicodeDecodeError) as error:
            raise RefusedError(f"{shown(file.name)} is no text in UTF-8") from error
        _short_enough(texts[file.name])
        if "\0" in texts[file.name]:
            raise RefusedError(f"{shown(file.name)} is no text: it holds null characters")
    return read_texts(texts)


def _short_enough(text: str) -> None:
    """Counted before anything is parsed."""
    rungs = sum(line.startswith("rung ") for line in text.splitlines())
    if rungs > MOST_RUNGS:
        raise RefusedError(f"it has {rungs:,} rungs; no answer needs more than {MOST_RUNGS}")
    if text.count("\n") > MOST_LINES:
        raise RefusedError(f"it has more than {MOST_LINES:,} lines")


def read_texts(texts: dict[str, str]) -> Submission:
    """The same from memory."""
    reporter = Reporter(CATALOGUE)
    sources: dict[str, SourceText] = {}
    blocks: dict[tuple[str, int], tree.Block] = {}
    for name, text in texts.items():
        project = load_texts({name: text, **texts}, reporter)
        sources |= {source.path: source for source in project.sources}
        blocks |= {(b.span.file, b.span.line): b for b in project.blocks}
    return _taken(list(blocks.values()), tuple(sources.values()), reporter)


def files_of(path: Path, suffix: str) -> list[Path]:
    """The files handed in, none of them a link, none of them too big. Raises `RefusedError`."""
    if path.is_symlink():
        raise RefusedError("it is a link; hand in the file or the folder itself")
    if path.is_dir():
        files = sorted(p for p in path.iterdir() if p.suffix == suffix)
        answer = [p for p in files if p.name not in HANDED_OUT]
        files = answer or files
    elif path.exists():
        files = [path]
    else:
        raise RefusedError("there is no such file or folder")
    return _fitting(files, suffix)


def _fitting(files: list[Path], suffix: str) -> list[Path]:
    if not files:
        raise RefusedError(f"it holds no {suffix} file")
    if len(files) > MOST_FILES:
        raise RefusedError(f"it holds more than {MOST_FILES} files")
    size = 0
    for file in files:
        if file.suffix != suffix:
            raise RefusedError(f"{shown(file.name)} is no {suffix} file")
        if file.is_symlink():
            raise RefusedError(f"{shown(file.name)} is a link; hand in the file itself")
        if not file.is_file():
            raise RefusedError(f"{shown(file.name)} is no file")
        size += file.stat().st_size
    if size > MOST_BYTES:
        raise RefusedError(f"it is bigger than {MOST_BYTES // 1000} kB, and no answer is")
    return files


def shown(name: str) -> str:
    """A name as it may be printed: one line, not endless."""
    plain = "".join(sign if sign.isprintable() else "\N{MIDDLE DOT}" for sign in name)
    return plain if len(plain) <= 80 else plain[:80] + "..."


def _taken(blocks: list[tree.Block], sources: tuple[SourceText, ...], reporter: Reporter) -> Submission:
    rungs = tuple(b for b in blocks if isinstance(b, tree.Rung))
    tags = tuple(line for b in blocks if isinstance(b, tree.Tags) for line in b.lines)
    for count, most, what in ((len(rungs), MOST_RUNGS, "rungs"), (len(tags), MOST_TAGS, "tags")):
        if count > most:
            raise RefusedError(f"it has {count:,} {what}; no answer needs more than {most}")
    return Submission(
        rungs,
        tags,
        tuple(b for b in blocks if isinstance(b, tree.Circuit)),
        tuple(b for b in blocks if isinstance(b, tree.Requirement)),
        tuple(b for b in blocks if isinstance(b, tree.Controller)),
        sources,
        reporter.sorted(),
        tuple(_left_aside(blocks)),
    )


_ASIDE = (tree.Plant, tree.Wiring, tree.Hazard, tree.Assume, tree.Exclude, tree.Scenario)


def _left_aside(blocks: Iterable[tree.Block]) -> list[str]:
    kinds = dict.fromkeys(type(b).__name__.lower() for b in blocks if isinstance(b, _ASIDE))
    return [f"the block `{kind}` was left aside: the task has its own" for kind in kinds]
