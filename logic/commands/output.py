"""Files that a command writes: whole or not at all."""

from __future__ import annotations

import contextlib
import os
import tempfile
from argparse import Namespace
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import ClassVar, Self

from rungproof.logic.commands.errors import CommandError, reason_of
from rungproof.logic.commands.screen import Screen


@dataclass(slots=True)
class Pending:
    """A file to be written when the work is done.

    Made before the work begins, so that a path that cannot be written is told at once. The
    text goes to a file beside the target, which then takes its name: nobody ever reads a half.
    """

    target: Path
    beside: Path

    @classmethod
    def at(cls, path: str | Path) -> Pending:
        """Raises `CommandError` where no file can be written at `path`."""
        target = Path(path)
        try:
            if target.is_dir():
                raise IsADirectoryError(21, "it is a folder")
            # A link stays a link: its target is replaced.
            target = target.resolve() if target.is_symlink() else target
            if target.exists() and not os.access(target, os.W_OK):
                raise PermissionError(13, "it is read-only")
            handle, name = tempfile.mkstemp(prefix=f".{target.name}.", dir=target.parent)
            os.close(handle)
        except (OSError, ValueError) as error:
            raise _unwritable(path, error) from error
        return cls(target, Path(name))

    def write(self, content: str | bytes) -> None:
        """Text is written as UTF-8, its line ends as they are."""
        try:
            with open(self.beside, "wb") as file:
                file.write(content.encode("utf-8") if isinstance(content, str) else content)
                file.flush()
                os.fsync(file.fileno())
            _take_over_mode(self.target, self.beside)
            os.replace(self.beside, self.target)
        except OSError as error:
            self.drop()
            raise _unwritable(self.target, error) from error

    def drop(self) -> None:
        with contextlib.suppress(OSError):
            self.beside.unlink(missing_ok=True)


@dataclass
class PendingFiles:
    """The files that options ask for, by option. A subclass names its `OPTIONS` and writes them."""

    OPTIONS: ClassVar[tuple[str, ...]] = ()
    files: dict[str, Pending] = field(default_factory=dict, init=False)

    @classmethod
    def of(cls, arguments: Namespace) -> Self:
        """Raises `CommandError` at once where a file cannot be written; then none is begun."""
        output = cls()
        try:
            for name in cls.OPTIONS:
                if getattr(arguments, name) is not None:
                    output.files[name] = Pending.at(getattr(arguments, name))
        except CommandError:
            output.drop()
            raise
        return output

    def write_one(self, screen: Screen, name: str, content: str | bytes, words: str) -> None:
        """Write the file of one option, and say so with `words`."""
        self.files[name].write(content)
        screen.labelled("written", f"{self.files[name].target}: {words}", indent=0)

    def drop(self) -> None:
        for pending in self.files.values():
            pending.drop()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.drop()


def named(only: str | None) -> frozenset[str]:
    """The names behind `--only`, commas between."""
    return frozenset(name.strip() for name in (only or "").split(",") if name.strip())


def write_file(path: str | Path, text: str) -> None:
    """Write a file in one go. Raises `CommandError` where that cannot be done."""
    pending = Pending.at(path)
    try:
        pending.write(text)
    finally:
        pending.drop()


def write_folder(folder: str | Path, files: Mapping[str, str]) -> None:
    """Write files into a folder, which is made if its parent is there; other files in it stay.

    Raises `CommandError` where that cannot be done.
    """
    where = Path(folder)
    try:
        where.mkdir(exist_ok=True)
    except (OSError, ValueError) as error:
        reason = reason_of(error) if isinstance(error, OSError) else str(error)
        mend = "Name a folder that is not there yet, or one that may be written."
        raise CommandError(f"{folder} cannot be made: {reason}.", mend) from error
    for name, text in files.items():
        write_file(where / name, text)


def folder_for(name: str) -> Path:
    """The folder of this name, made where it is not there. Raises `CommandError` where that cannot be done."""
    folder = Path(name)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except (OSError, ValueError) as error:
        reason = reason_of(error) if isinstance(error, OSError) else str(error)
        raise CommandError(f"The folder {name} cannot be made: {reason}.") from error
    return folder


def _take_over_mode(target: Path, beside: Path) -> None:
    """A temporary file is private; the file gets the mode it had, or the usual one."""
    if target.exists():
        os.chmod(beside, target.stat().st_mode & 0o7777)
        return
    mask = os.umask(0)
    os.umask(mask)
    os.chmod(beside, 0o666 & ~mask)


def _unwritable(path: str | Path, error: OSError | ValueError) -> CommandError:
    reason = reason_of(error) if isinstance(error, OSError) else str(error)
    return CommandError(
        f"{path} cannot be written: {reason}.", "Name a file in a folder that exists and may be written."
    )
