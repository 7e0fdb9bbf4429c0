"""Why a tag has its value: the chain back through rungs and scans to the inputs.

The reference engine solves each scan in question again and says which line conducted. A link
of the chain is one value and the lines that made it so; the next links are what those lines
read. A value that stood for many scans is told once: when it came, and what has held it since.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from rungproof.grammar.tree import Span
from rungproof.logic.meaning import typed
from rungproof.logic.meaning.program import Program, Rung, Stage, Story
from rungproof.logic.meaning.typed import Scalar
from rungproof.logic.teaching.causes import Causes, causes_of
from rungproof.logic.teaching.recording import Looked, Recording, SceneOfScan

#: Links of a chain that are told; a longer one is cut, and says so.
MOST_LINKS = 40


@dataclass(frozen=True, slots=True)
class Line:
    """A line of a file that had a say: the place, and what it did."""

    span: Span
    words: str


@dataclass(frozen=True, slots=True)
class Link:
    """`name` had `value` since `since_ms`, because of `lines` of `rung` (None: an input, a start value)."""

    since_ms: int
    name: str
    value: Scalar
    words: str
    rung: str | None = None
    lines: tuple[Line, ...] = ()
    held: tuple[Line, ...] = ()


@dataclass(frozen=True, slots=True)
class Why:
    """The value asked about, the chain behind it, newest first, and the inputs that caused it."""

    causes: Causes
    links: tuple[Link, ...]
    cut: bool


@dataclass(frozen=True, slots=True)
class _Reason:
    """A name read, and the line that read it."""

    name: str
    line: Line


def why(program: Program, story: Story, name: str, at_ms: int) -> Why:
    """Why `name` has its value at `at_ms` of `story`. Raises `KeyError` where no tag or stage is called so."""
    controller = program.controller
    if controller is None or name not in {*controller.tags, *controller.stages}:
        raise KeyError(f"no tag or stage is called `{name}`")
    recording = Recording(program, _until(story, at_ms))
    if recording.last > at_ms and len(recording.trace.times) > 1:
        # between two instants, what was visible at the earlier one is what stands
        at_ms = recording.trace.times[-2]
        recording = Recording(program, _until(story, at_ms))
    chain = _Chain(recording)
    first, *others = chain.follow(name)
    links = [first, *sorted(others, key=lambda link: -link.since_ms)]
    return Why(causes_of(program, story, name, at_ms), tuple(links[:MOST_LINKS]), len(links) > MOST_LINKS)


def _until(story: Story, at_ms: int) -> Story:
    return Story(at_ms, story.events, story.parameters, story.scans, story.seed, story.lane)


class _Chain:
    def __init__(self, recording: Recording) -> None:
        self.recording = recording
        self.controller = recording.controller
        self.seen: set[tuple[str, int]] = set()

    def follow(self, name: str) -> Iterator[Link]:
        scan = self.recording.last_scan()
        shown = self.recording.visible(name)
        if scan is None:
            yield Link(0, name, shown, "no scan has ended yet: this is where it begins")
            return
        if self.recording.dead or shown != self._after(name, scan):
            yield Link(self.recording.last, name, shown, "the controller has no power here, or is stopped")
            return
        waiting = [(name, scan)]
        while waiting and len(self.seen) <= MOST_LINKS:
            waiting.sort(key=lambda each: each[1])
            link, reasons = self._link(*waiting.pop())
            if link is not None:
                yield link
            waiting += reasons

    # ------------------------------------------------------------------- links

    def _link(self, name: str, scan: int) -> tuple[Link | None, list[tuple[str, int]]]:
        """The link of a value after `scan`, and what it leads to."""
        begun = self._begun(name, scan)
        if (name, begun) in self.seen:
            return None, []
        self.seen.add((name, begun))
        value = self._after(name, begun)
        tag = self.controller.tags.get(name)
        if tag is not None and tag.role in ("input", "parameter"):
            since = self.recording.begins[begun]
            words = "it was set so beforehand" if tag.role == "parameter" else "that is what it reads"
            return Link(since, name, value, words), []
        since = self.recording.ends(begun)
        rung, reasons, words = self._made(name, begun)
        if name in self.controller.stages:
            words = self._made(name, scan)[2]
        held = self._held(name, begun, scan)
        lines = tuple(dict.fromkeys(reason.line for reason in reasons))
        holding = tuple(dict.fromkeys(reason.line for reason in held))
        link = Link(since, name, value, words, rung.name if rung is not None else None, lines, holding)
        nexts = [(r.name, self._read_at(r.name, begun, rung)) for r in reasons]
        nexts += [(r.name, self._read_at(r.name, scan, rung)) for r in held]
        return link, [(each, at) for each, at in nexts if at >= 0]

    def _begun(self, name: str, scan: int) -> int:
        """The scan since which `name` has had the value it has after `scan`."""
        value = self._after(name, scan)
        while scan > 0 and self._after(name, scan - 1) == value and not self.recording.kept[scan].first:
            scan -= 1
        return scan

    def _after(self, name: str, scan: int) -> Scalar:
        kept = self.recording.kept[scan]
        return kept.tags_after[name] if name in kept.tags_after else kept.stages_after[name].out

    def _read_at(self, name: str, scan: int, reader: Rung | None) -> int:
        """The scan whose value of `name` a rung reads in `scan`: this one where it was written above, else the last.

        -1 where there is none: at the start, and where a power cut or a stop has taken the value away.
        """
        tag = self.controller.tags.get(name)
        if tag is not None and tag.role in ("input", "parameter"):
            return scan
        for rung in self.controller.rungs:
            if reader is not None and rung.name == reader.name:
                break
            if any(o.target == name for o in rung.outputs) or any(_is_stage(e, name) for e in rung.elements):
                return scan
        if reader is not None and any(_is_stage(e, name) for e in reader.elements):
            return scan
        return -1 if self.recording.kept[scan].first and not self._is_retained(name) else scan - 1

    def _is_retained(self, name: str) -> bool:
        kept = self.controller.tags.get(name) or self.controller.stages[name]
        return kept.retained

    # ------------------------------------------------------------------ reasons

    def _made(self, name: str, scan: int) -> tuple[Rung | None, list[_Reason], str]:
        """Which rung gave `name` its value in `scan`, what it read for it, and that in words."""
        scene = self.recording.scene(scan)
        if name in self.controller.stages:
            return self._stage(name, scan, scene)
        for place in range(len(scene.writes) - 1, -1, -1):
            write = scene.writes[place]
            acts = write.power or write.output.kind in ("coil", "negated")
            if write.output.target == name and acts:
                reasons = self._of_output(write.rung, write.rung.outputs.index(write.output), scene)
                return write.rung, reasons, _WORDS[write.output.kind][write.power]
        return None, [], "nothing has written it since power came: this is where it begins"

    def _held(self, name: str, begun: int, scan: int) -> list[_Reason]:
        """What has kept it so: what the line reads now, itself left out."""
        if scan == begun:
            return []
        rung, reasons, _ = self._made(name, scan)
        return [] if rung is None else [reason for reason in reasons if reason.name != name]

    def _of_output(self, rung: Rung, place: int, scene: SceneOfScan) -> list[_Reason]:
        power = scene.passed[rung.name][-1]
        reasons = self._of_path(rung, len(rung.elements), scene)
        output = rung.outputs[place]
        when = scene.when.get((rung.name, place))
        if when is not None and power:
            reasons += [_Reason(name, Line(output.span, words)) for name, words in _deciding(when)]
        value = scene.value.get((rung.name, place))
        if value is not None and power:
            reasons += [_Reason(name, Line(output.span, words)) for name, words in _all_read(value)]
        return reasons

    def _of_path(self, rung: Rung, length: int, scene: SceneOfScan) -> list[_Reason]:
        """What made power pass the first `length` elements, or what stood in its way."""
        passed = scene.passed[rung.name]
        if passed[length]:
            begin = max((i for i in range(length) if isinstance(rung.elements[i], Stage)), default=0)
            places = list(range(begin, length))
        else:
            places = [passed.index(False) - 1]
        reasons = []
        for place in places:
            element = rung.elements[place]
            if isinstance(element, Stage):
                words = f"{element.name} lets power pass" if passed[place + 1] else f"{element.name} lets none pass"
                reasons.append(_Reason(element.name, Line(element.span, words)))
            else:
                looked = scene.looked[rung.name, place]
                reasons += [_Reason(name, Line(element.span, words)) for name, words in _deciding(looked)]
        return reasons

    def _stage(self, name: str, scan: int, scene: SceneOfScan) -> tuple[Rung, list[_Reason], str]:
        rung = next(r for r in self.controller.rungs if any(_is_stage(e, name) for e in r.elements))
        place = next(i for i, e in enumerate(rung.elements) if _is_stage(e, name))
        stage = rung.elements[place]
        assert isinstance(stage, Stage), "it was found by being one"
        state = self.recording.kept[scan].stages_after[name]
        number = "" if stage.kind == "rising" else f" (it stands at {state.number})"
        power = scene.passed[rung.name][place]
        words = f"{stage.kind} with power {'above it' if power else 'gone from above it'}{number}"
        return rung, self._of_path(rung, place, scene), words


_WORDS = {
    "coil": {True: "power reached it", False: "no power reached it"},
    "negated": {True: "power reached it, which takes it off", False: "no power reached it, which leaves it on"},
    "set": {True: "it was set"},
    "reset": {True: "it was reset"},
    "assign": {True: "it was given this value"},
}


def _is_stage(element: object, name: str) -> bool:
    return isinstance(element, Stage) and element.name == name


def _deciding(looked: Looked) -> list[tuple[str, str]]:
    """The names that made a truth what it is, with their states: one branch that conducts, or all that do not."""
    match looked.expression:
        case typed.TagValue(tag=tag):
            return [(tag, f"{tag} is {_value(looked.value)}")]
        case typed.StageOutput(stage=stage):
            return [(stage, f"{stage} is {_value(looked.value)}")]
        case typed.Inverse():
            return _deciding(looked.parts[0])
        case typed.EdgeOf(kind=kind):
            moved = {"rising": "came on", "falling": "went off"}[kind]
            stayed = {"rising": "did not come on", "falling": "did not go off"}[kind]
            names = dict.fromkeys(name for name, _ in _deciding(looked.parts[0]))
            return [(name, f"{name} {moved if looked.value else stayed} in this scan") for name in names]
        case typed.AllOf():
            return [each for part in looked.parts if looked.value or not part.value for each in _deciding(part)]
        case typed.AnyOf():
            some = [part for part in looked.parts if part.value == looked.value]
            return [each for part in (some[:1] if looked.value else some) for each in _deciding(part)]
        case typed.PowerUp() | typed.Scanning():
            return []
        case _:
            return _all_read(looked)


def _all_read(looked: Looked) -> list[tuple[str, str]]:
    """Every name a number or comparison reads, with its value."""
    match looked.expression:
        case typed.TagValue(tag=tag):
            return [(tag, f"{tag} is {_value(looked.value)}{_unit(looked)}")]
        case typed.StageOutput(stage=stage) | typed.StageReading(stage=stage):
            return [(stage, f"{stage} stands at {_value(looked.value)}")]
    found: dict[str, str] = {}
    for part in looked.parts:
        found.update(_all_read(part))
    return list(found.items())


def _unit(looked: Looked) -> str:
    unit = looked.expression.unit
    return "" if unit is None or isinstance(looked.value, bool) else f" {unit.symbol}"


def _value(value: Scalar) -> str:
    return ("on" if value else "off") if isinstance(value, bool) else f"{value:g}"
