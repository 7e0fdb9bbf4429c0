"""A user's own parts: classes in a Python file of their own, by the same contract.

Loading the file runs it, as any `import` would: a file of parts is code, to be trusted as
code is. A mistake in it comes out as `PartFileError` with the line where it stands.
"""

from __future__ import annotations

import re
import sys
import traceback
from pathlib import Path
from types import ModuleType

from rungproof.plant.catalogue import KINDS
from rungproof.plant.clauses import elements
from rungproof.plant.part import Clause, Fault, Part


class PartFileError(ValueError):
    """Raised where a file of parts cannot be used. `line` is 0 where no line is to blame."""

    def __init__(self, path: Path, line: int, message: str, mend: str = "") -> None:
        super().__init__(message)
        self.path = path
        self.line = line
        self.message = message
        self.mend = mend


def load_parts(path: str | Path) -> dict[str, type[Part]]:
    """The part classes of a Python file, by the word that begins their lines.

    Raises `PartFileError` where the file cannot be read or run, holds no part, or holds one
    that breaks the contract.
    """
    path = Path(path)
    module = _run(path)
    classes = [
        each
        for each in vars(module).values()
        if isinstance(each, type) and issubclass(each, Part) and each.__module__ == module.__name__
    ]
    found: dict[str, type[Part]] = {}
    for part in classes:
        if not hasattr(part, "kind"):
            if not part.__subclasses__():
                raise _blame(
                    path, part, f"class {part.__name__} has no `kind`", 'add `kind = "heater"`, in its own word'
                )
            continue
        _check(path, part)
        if part.kind in found:
            raise _blame(path, part, f"two classes are of the kind `{part.kind}`", "give one of them another word")
        found[part.kind] = part
    if not found:
        raise PartFileError(path, 0, "holds no part", "write a class that inherits from rungproof.plant.Part")
    return found


def _run(path: Path) -> ModuleType:
    """Run the file as a module of its own. Compiled here, so that no bytecode is left beside it."""
    if path.suffix != ".py":
        raise PartFileError(path, 0, f"{path.name} is no Python file", "its name must end in .py")
    if not path.is_file():
        raise PartFileError(path, 0, f"there is no file {path.name}")
    module = ModuleType(f"rungproof_own_parts_{re.sub(r'[^A-Za-z0-9]', '_', path.stem)}")
    module.__file__ = str(path)
    # dataclasses and the like look their module up by name while it is being run
    sys.modules[module.__name__] = module
    try:
        exec(compile(path.read_bytes(), str(path), "exec", dont_inherit=True), vars(module))
    except SyntaxError as error:
        raise PartFileError(path, error.lineno or 0, f"is not Python: {error.msg}") from error
    except (Exception, SystemExit) as error:
        message = f"stops with {type(error).__name__}: {error}".removesuffix(": ")
        raise PartFileError(path, line_in(path, error), message) from error
    return module


def line_in(path: Path | str, error: BaseException) -> int:
    """The last line of the file itself on the way to the error."""
    lines = [frame.lineno or 0 for frame in traceback.extract_tb(error.__traceback__) if frame.filename == str(path)]
    return lines[-1] if lines else 0


def _check(path: Path, part: type[Part]) -> None:
    if not re.fullmatch(r"[a-z][a-z0-9_]*", str(part.kind)):
        raise _blame(path, part, f"the kind `{part.kind}` is no single lower-case word", "write letters, digits and _")
    if part.kind in KINDS:
        raise _blame(path, part, f"the kind `{part.kind}` is built in", "give it another word")
    if part.step is Part.step and part.look is Part.look:
        raise _blame(path, part, f"class {part.__name__} does nothing", "write its `step`, and `look` if it shows more")
    for clause in part.clauses:
        if not isinstance(clause, Clause):
            raise _blame(path, part, f"`clauses` of {part.__name__} holds {clause!r}", "write `Clause(...)`")
        try:
            slots = [each for each in elements(clause.pattern) if not isinstance(each, str)]
        except ValueError as error:
            raise _blame(path, part, f"class {part.__name__}: {error}", "write `words {slot:unit}`") from error
        if not slots and not clause.flag:
            raise _blame(path, part, f"the clause `{clause.pattern}` gives nothing", "add a slot or a `flag`")
    for fault in part.faults:
        if not isinstance(fault, Fault):
            raise _blame(path, part, f"`faults` of {part.__name__} holds {fault!r}", "write `Fault(name, words)`")


def _blame(path: Path, part: type[Part], message: str, mend: str) -> PartFileError:
    pattern = re.compile(rf"\s*class\s+{re.escape(part.__name__)}\b")
    lines = path.read_text(encoding="utf-8", errors="replace").splitlines()
    line = next((number for number, text in enumerate(lines, 1) if pattern.match(text)), 0)
    return PartFileError(path, line, message, mend)
