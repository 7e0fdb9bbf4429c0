"""A bench: a controller on the table, driven scan by scan from Python.

    bench = Bench("controller.rung")
    bench.scan(stop_ok=True, estop_ok=True)
    bench.scan(start_pb=True)
    assert bench.running
    assert all(bench.conducting("run"))
    bench.power_cut()

Only the controller runs: where its project has a plant, the bench gives the inputs in the
plant's place. Inputs stay as last given.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

from rungproof.grammar.excerpt import render
from rungproof.logic.engines.reference_control import Control, Mode
from rungproof.logic.engines.reference_numbers import of_type
from rungproof.logic.engines.reference_scan import start_value
from rungproof.logic.meaning.program import Controller, Program, Tag
from rungproof.logic.meaning.typed import Scalar
from rungproof.logic.meaning.understand import Understanding, understand


class BenchError(ValueError):
    """What was asked of the bench makes no sense: the text says what would."""


class UnknownNameError(AttributeError, KeyError):
    """Nothing is called that; the text names the nearest."""

    def __str__(self) -> str:
        return str(self.args[0])


class Values(Mapping[str, Scalar]):
    """Tags and stages as a scan left them: `values.running`, `values["float_hold.elapsed"]`."""

    def __init__(self, values: Mapping[str, Scalar]) -> None:
        self._values = dict(values)

    def __getitem__(self, name: str) -> Scalar:
        if name not in self._values:
            raise UnknownNameError(f"no tag or stage is called `{name}`{_nearest(name, self._values)}")
        return self._values[name]

    def __getattr__(self, name: str) -> Scalar:
        if name.startswith("_"):
            raise AttributeError(name)
        return self[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._values)

    def __len__(self) -> int:
        return len(self._values)

    def __contains__(self, name: object) -> bool:
        return name in self._values

    def __repr__(self) -> str:
        return f"Values({', '.join(f'{name}={_said(value)}' for name, value in self._values.items())})"


class Bench:
    """Runs the controller of `program`: a `Program`, or the path of a `.rung` file or folder.

    `parameters` are set once, in their tags' units; the others have the values that the file
    gives them. Raises `BenchError` where the files cannot be run or have no controller.
    """

    def __init__(self, program: Program | str | Path, *, parameters: Mapping[str, Scalar] | None = None) -> None:
        self._controller = _controller_of(program if isinstance(program, Program) else _opened(Path(program)))
        tags = self._controller.tags
        self._inputs = {name: start_value(tag) for name, tag in tags.items() if tag.role == "input"}
        given = {name: self._checked(name, value, "parameter") for name, value in (parameters or {}).items()}
        self._control = Control(self._controller, given)
        self._conducting: Mapping[str, tuple[bool, ...]] = {}
        self._now_ms = 0

    @property
    def now_ms(self) -> int:
        """The time that all scans so far took (ms); power cuts take none."""
        return self._now_ms

    @property
    def values(self) -> Values:
        """Tags and stages as they are visible now."""
        return Values(self._control.visible())

    def scan(self, *, for_ms: int | None = None, scan_ms: int | None = None, **inputs: Scalar) -> Values:
        """Give `inputs` and let the controller scan; see what the last scan left.

        Each scan takes `scan_ms` (the controller's shortest where not said), and they go on
        for `for_ms` in all (one scan where not said). Numbers stand in their tags' units.
        """
        for name, value in inputs.items():
            self._inputs[name] = self._checked(name, value, "input")
        length = self._controller.scan_low if scan_ms is None else scan_ms
        total = length if for_ms is None else for_ms
        if not self._controller.scan_low <= length <= self._controller.scan_high:
            raise BenchError(f"a scan of {length} ms: this controller scans every {_span(self._controller)} ms")
        if total < length or total % length:
            raise BenchError(f"{total} ms are no whole number of scans of {length} ms; say scan_ms too")
        self._control.enter("running", {})
        for _ in range(total // length):
            self._conducting = self._control.begin_scan(self._now_ms, self._inputs, length)
            self._now_ms += length
            self._control.enter("running", {})
        return self.values

    def power_cut(self) -> Values:
        """Cut the power: terminals go dead, what is not retained is lost, and the next scan is a first one."""
        return self._leave("off")

    def stop(self) -> Values:
        """Stop the controller: terminals do what `on stop` says. The next scan begins as after power-up."""
        return self._leave("stopped")

    def _leave(self, mode: Mode) -> Values:
        self._control.enter(mode, {})
        self._conducting = {}
        return self.values

    def conducting(self, rung: str) -> tuple[bool, ...]:
        """In the scan solved last: power at the left rail, after each line, and at each output of a rung."""
        names = [each.name for each in self._controller.rungs]
        if rung not in names:
            raise UnknownNameError(f"no rung is called `{rung}`{_nearest(rung, names)}")
        if rung not in self._conducting:
            raise BenchError("nothing conducts: scan first")
        return self._conducting[rung]

    def __getitem__(self, name: str) -> Scalar:
        return self.values[name]

    def __getattr__(self, name: str) -> Scalar:
        if name.startswith("_"):
            raise AttributeError(name)
        return self.values[name]

    def __repr__(self) -> str:
        return f'<Bench "{self._controller.name}" after {self._now_ms} ms>'

    def _checked(self, name: str, value: Scalar, role: str) -> Scalar:
        tags = self._controller.tags
        tag = tags.get(name)
        if tag is None:
            able = [each.name for each in tags.values() if each.role == role]
            raise UnknownNameError(f"no {role} is called `{name}`{_nearest(name, able)}")
        if tag.role != role:
            raise BenchError(f"`{name}` is {_article(tag.role)} tag, and {_article(role)} is asked for")
        return _fitting(tag, value)


def _fitting(tag: Tag, value: Scalar) -> Scalar:
    """`value` in the tag's type, if it is one of its values."""
    unit = f" {tag.unit.symbol}" if tag.unit is not None else ""
    whole = isinstance(value, int) and not isinstance(value, bool)
    fits = isinstance(value, bool) if tag.type == "bool" else whole or (tag.type == "real" and isinstance(value, float))
    if not fits:
        wanted = {"bool": "True or False", "int": "a whole number", "real": "a number"}[tag.type]
        raise BenchError(f"`{tag.name}` = {value!r}: it is {tag.type}, so give {wanted}")
    if tag.type != "bool" and not tag.low <= value <= tag.high:
        raise BenchError(f"`{tag.name}` = {value!r}: its range is {tag.low:g}..{tag.high:g}{unit}")
    return of_type(tag.type, value)


def _controller_of(program: Program) -> Controller:
    if program.controller is None:
        raise BenchError("there is no controller in these files: nothing to put on the bench")
    return program.controller


def _opened(path: Path) -> Program:
    understood = understand(path)
    if understood.program is None:
        raise BenchError(f"{path} cannot be run:\n\n{_all_errors(understood)}")
    return understood.program


def _all_errors(understood: Understanding) -> str:
    lines = {source.path: source.text.splitlines() for source in understood.sources}
    return "\n\n".join(render(each, lines) for each in understood.diagnoses if each.grade == "error")


def _nearest(name: str, names: Iterable[str]) -> str:
    known = list(names)
    close = difflib.get_close_matches(name, known, 1)
    if close:
        return f"; did you mean `{close[0]}`?"
    return f"; there are {', '.join(known)}" if known else ""


def _span(controller: Controller) -> str:
    low, high = controller.scan_low, controller.scan_high
    return f"{low}" if low == high else f"{low}..{high}"


def _article(role: str) -> str:
    return f"an {role}" if role[0] in "aeiou" else f"a {role}"


def _said(value: Scalar) -> str:
    return "on" if value is True else "off" if value is False else repr(value)
