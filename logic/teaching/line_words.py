"""Any line of a project in words: `rungproof explain PATH:LINE`."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, fields
from inspect import getdoc
from pathlib import Path
from typing import Any

from rungproof.grammar import tree
from rungproof.grammar.expression_text import expression_text
from rungproof.grammar.line_text import clause_text
from rungproof.logic.meaning.program import Program
from rungproof.logic.meaning.restate import Lexicon, Manner
from rungproof.logic.teaching.rung_words import RungWords, Told
from rungproof.plant.catalogue import KINDS

_ROLES = {
    "input": "an input: it is read from its terminal as each scan begins, and no rung may write it",
    "output": "an output: rungs write it, and its terminal follows when the scan ends",
    "memory": "a memory: only the program itself reads and writes it",
    "parameter": "a parameter: it is set beforehand and stays as it is while the program runs",
}


@dataclass(frozen=True, slots=True)
class LineTold:
    """What stands at a line. `lines` tells what belongs to it line by line, where that helps."""

    file: str
    line: int
    text: str
    kind: str
    name: str
    sentences: tuple[str, ...]
    lines: tuple[Told, ...] = ()


def lexicon_of(program: Program | None) -> Lexicon:
    """How names read in a program; where it cannot be understood, dotted numbers are contacts."""
    contacts: set[str] = set()
    kinds: dict[str, str] = {}
    tags: set[str] = set()
    if program is not None and program.plant is not None:
        assembly = program.plant.assembly
        contacts = set(assembly.contacts)
        single = [key.partition(".")[0] for key in contacts]
        contacts |= {name for name in single if single.count(name) == 1}
        kinds = {key: output.type for key, output in assembly.outputs.items()}
    if program is not None and program.controller is not None:
        tags = set(program.controller.tags) | set(program.controller.stages)

    def manner(name: str) -> Manner:
        if name in ("power_up", "scanning"):
            return "moment"
        if name in tags:
            return "tag"
        if name in contacts or name.rpartition(".")[2].isdigit():
            return "contact"
        if name in kinds or "." in name:
            number = kinds.get(name, "real") != "bool" and not name.endswith((".pressed", ".energised", ".turning"))
            return "quantity" if number else "truth"
        return "tag"

    return manner


def tell_line(
    blocks: Iterable[tree.Block], text: str, file: str, line: int, program: Program | None
) -> LineTold | None:
    """What line `line` of `file` says, in words; None where nothing stands there. `text` is the file's text."""
    teller = _Teller(list(blocks), text.splitlines(), file, RungWords(lexicon_of(program)))
    return teller.at(line)


def lines_told(blocks: Iterable[tree.Block], file: str) -> list[int]:
    """The lines of `file` that hold something, in order."""
    return sorted({span.line for block in blocks for span in _spans(block) if span.file == file})


def _spans(block: tree.Block) -> Iterator[tree.Span]:
    yield block.span
    for part in _parts(block):
        yield part.span
        if isinstance(part, tree.Rung):
            yield from (each.span for each in (*part.elements, *part.outputs))


def _parts(block: tree.Block) -> tuple[Any, ...]:
    """The lines below a block's first one."""
    match block:
        case tree.Tags() | tree.Wiring() | tree.Scenario() | tree.Exclude():
            return block.lines
        case tree.Plant():
            return block.parts
        case tree.Circuit():
            return block.rungs
        case tree.Rung():
            return (*block.elements, *block.outputs)
        case tree.Requirement():
            return (block.form,)
        case tree.Assume():
            return (block.condition,)
    return ()


class _Teller:
    def __init__(self, blocks: list[tree.Block], rows: list[str], file: str, words: RungWords) -> None:
        self.blocks, self.rows, self.file, self.words = blocks, rows, file, words
        self.rungs = [*(b for b in blocks if isinstance(b, tree.Rung))]
        for block in blocks:
            if isinstance(block, tree.Circuit):
                self.rungs += block.rungs

    def at(self, line: int) -> LineTold | None:
        for block in self.blocks:
            if block.span.file != self.file:
                continue
            if isinstance(block, tree.Circuit):
                for rung in block.rungs:
                    if line in _lines_of(rung):
                        return self._rung(rung, line, f'circuit "{block.name}"')
            if line == block.span.line or any(part.span.line == line for part in _parts(block)):
                return self._block(block, line)
            if isinstance(block, tree.Requirement) and block.span.line < line <= block.form.span.line:
                return self._block(block, line)  # its scope line
        return None

    def _block(self, block: tree.Block, line: int) -> LineTold | None:
        if isinstance(block, tree.Rung):
            return self._rung(block, line, "the program")
        below = next((p for p in _parts(block) if p.span.line == line), None)
        if below is not None and not isinstance(block, tree.Requirement | tree.Assume):
            return _LINES[type(below)](self, below)
        return _BLOCKS[type(block)](self, block)

    def text(self, line: int) -> str:
        return self.rows[line - 1].strip() if line <= len(self.rows) else ""

    def told(self, node: tree.Node, kind: str, name: str, *sentences: str) -> LineTold:
        return LineTold(self.file, node.span.line, self.text(node.span.line), kind, name, sentences)

    # ------------------------------------------------------------------- rungs

    def _rung(self, rung: tree.Rung, line: int, where: str) -> LineTold:
        texts = {each: self.text(each) for each in _lines_of(rung)}
        sentences = self.words.rung(rung)
        lines = self.words.lines(rung, texts)
        if rung.remark is not None and line == rung.span.line:
            sentences = (f'The author says: "{rung.remark}". The lines say:', *sentences)
        if line != rung.span.line:
            own = next(each for each in lines if each.line == line)
            sentences = (f"This line {own.words}.", f"It stands in rung {rung.name}, which says:", *sentences)
        return LineTold(self.file, line, self.text(line), "rung", f"{rung.name}, of {where}", sentences, lines)

    # -------------------------------------------------------------------- tags

    def tag(self, tag: tree.TagLine) -> LineTold:
        said = [f"`{tag.name}` is {_ROLES[tag.role]}."]
        said.append(_value_words(tag))
        if tag.start is not None:
            said.append(f"It begins at {expression_text(tag.start)}.")
        if tag.role == "output":
            stop = "off, or the value nearest 0" if tag.on_stop is None else expression_text(tag.on_stop)
            stop = "as it was" if stop == "hold" else stop
            said.append(f"While the controller is stopped its terminal is {stop}; without power it is dead.")
        if tag.retained:
            said.append("It is retained: a power cut does not change it.")
        elif tag.role in ("memory", "output"):
            said.append("A power cut takes it back to where it begins.")
        written = [r for r in self.rungs if any(o.target.text == tag.name for o in r.outputs)]
        read = [r for r in self.rungs if tag.name in _names_read(r)]
        if tag.role in ("output", "memory"):
            said.append(f"Written by {self._places(written)}.")
        said.append(f"Read by {self._places(read)}.")
        return self.told(tag, "tag", tag.name, *said)

    def _places(self, rungs: list[tree.Rung]) -> str:
        said = []
        for rung in rungs:
            elsewhere = "" if rung.span.file == self.file else f" of {Path(rung.span.file).name}"
            said.append(f"rung {rung.name} (line {rung.span.line}{elsewhere})")
        return ", ".join(said) or "no rung"

    # ------------------------------------------------------------------- plant

    def part(self, part: tree.PartLine) -> LineTold:
        kind = part.kind.replace("_", " ")
        said = [f"{part.name} is {'an' if kind[0] in 'aeiou' else 'a'} {kind}."]
        if part.clauses:
            said.append(f"Of this one is said: {'; '.join(clause_text(clause) for clause in part.clauses)}.")
        made = KINDS.get(part.kind)
        doc = getdoc(made) if made is not None else None
        if made is not None and doc:
            said.append(f"What such a part is: {doc.splitlines()[0]}")
            faults = "; ".join(f"`{fault.name}` ({fault.words})" for fault in made.faults)
            said.append(f"What can fail in it: {faults}." if faults else "Beside its wires and contacts nothing fails.")
        return self.told(part, "part", part.name, *said)

    def feed(self, line: tree.FeedLine) -> LineTold:
        what = "The controller" if line.module is None else f"The module {line.module} of {line.what}"
        said = f"{what} lives on supply {line.supply.text}: while that is dead, so is it."
        return self.told(line, "supply line", line.module or line.what, said)

    def wire(self, line: tree.WireLine) -> LineTold:
        name, said = line.tag.text, []
        if line.source is not None:
            said.append(f"The input `{name}` is read at terminal {line.terminal}, where {line.source.text} is wired.")
        elif line.target is not None:
            said.append(f"The output `{name}` drives {line.target.text} from terminal {line.terminal}.")
        else:
            said.append(f"`{name}` has terminal {line.terminal}; nothing else is said of its other end.")
        if line.signal is not None:
            signal = expression_text(line.signal)
            counts = "" if line.counts is None else f", and the tag counts it as {expression_text(line.counts)}"
            said.append(f"The channel takes a signal of {signal}{counts}; it sees nothing beyond these ends.")
        if line.source is not None and line.signal is None:
            said.append("With the wire broken, or its supply dead, the tag reads off.")
        elif line.signal is not None:
            said.append("With the wire broken, or its supply dead, the signal is 0.")
        return self.told(line, "wire", name, *said)

    # ------------------------------------------------------------------ blocks

    def requirement(self, block: tree.Requirement) -> LineTold:
        said = [f'Its author says: "{block.sentence}".']
        said.append(f"The formula says: {self.words.restater.requirement(block)}")
        if block.against:
            said.append(f"It guards against {', '.join(name.text for name in block.against)}.")
        return self.told(block, "requirement", block.name, *said)

    def assume(self, block: tree.Assume) -> LineTold:
        taken = self.words.restater.assumption(block.condition)
        return self.told(block, "assumption", "", f'Its author says: "{block.sentence}".', taken)

    def exclude(self, block: tree.Exclude) -> LineTold:
        said = f'Faults that no check and no table takes into account, because: "{block.sentence}".'
        return self.told(block, "exclusion", "", said)

    def excluded(self, line: tree.ExcludedFault) -> LineTold:
        whose = "of everything that has it" if line.target is None else f"of `{line.target.text}`"
        said = f"The fault `{line.fault.text}` {whose} is left out of account."
        return self.told(line, "excluded fault", line.fault.text, said)

    def hazard(self, block: tree.Hazard) -> LineTold:
        said = [f'What must not happen: "{block.sentence}".']
        if block.safe_state is not None:
            said.append(f"It is safe while {self.words.restater.statement(block.safe_state)}.")
        return self.told(block, "hazard", block.name, *said)

    def controller(self, block: tree.Controller) -> LineTold:
        said = (
            f"A controller that scans every {expression_text(block.every)}: it reads all inputs at once, solves its "
            "rungs from the first to the last, and its outputs reach the terminals when the scan ends."
        )
        return self.told(block, "controller", block.name, said)

    def plant(self, block: tree.Plant) -> LineTold:
        said = f"What is physically there, moved on every {expression_text(block.every)}: {len(block.parts)} parts."
        return self.told(block, "plant", block.name, said)

    def circuit(self, block: tree.Circuit) -> LineTold:
        said = (
            f"A hardwired circuit, fed from {block.supply.text}: wires and contacts, no program. "
            f"Without that supply nothing in it conducts."
        )
        return self.told(block, "circuit", block.name, said)

    def use(self, block: tree.Use) -> LineTold:
        return self.told(block, "use", block.file, f"What stands in {block.file} belongs to this project too.")

    def heading(self, block: tree.Tags | tree.Wiring) -> LineTold:
        word = type(block).__name__.lower()
        said = {"tags": "tags: the names that rungs read and write", "wiring": "wires: what each terminal leads to"}
        return self.told(block, word, "", f"Below stand {len(block.lines)} {said[word]}.")

    # --------------------------------------------------------------- scenarios

    def scenario(self, block: tree.Scenario) -> LineTold:
        events = sum(isinstance(line, tree.At) for line in block.lines)
        return self.told(block, "scenario", block.sentence, f"A story of {events} events, run with every check.")

    def at_line(self, line: tree.At) -> LineTold:
        said = f"At {expression_text(line.time)}, {_event_words(line)}."
        return self.told(line, "event", line.target.text, said)

    def expect(self, line: tree.Expect) -> LineTold:
        return self.told(line, "expectation", "", self.words.restater.expectation(line))

    def parameter(self, line: tree.ParameterLine) -> LineTold:
        said = f"In this story `{line.tag.text}` is {expression_text(line.value)}."
        return self.told(line, "parameter", line.tag.text, said)

    def scans(self, line: tree.ScansLine) -> LineTold:
        lengths = ", ".join(expression_text(each) for each in line.lengths)
        return self.told(line, "scan times", "", f"The first scans last {lengths}; the last length goes on.")

    def noise(self, line: tree.NoiseLine) -> LineTold:
        said = f"Noise is drawn by seed {line.seed}, lane {line.lane}: the same draws each time."
        return self.told(line, "noise", "", said)

    def ends(self, line: tree.EndsLine) -> LineTold:
        return self.told(line, "end", "", f"The story ends at {expression_text(line.time)}.")


_BLOCKS: dict[type, Callable[[_Teller, Any], LineTold]] = {
    tree.Requirement: _Teller.requirement,
    tree.Assume: _Teller.assume,
    tree.Exclude: _Teller.exclude,
    tree.Hazard: _Teller.hazard,
    tree.Controller: _Teller.controller,
    tree.Plant: _Teller.plant,
    tree.Circuit: _Teller.circuit,
    tree.Use: _Teller.use,
    tree.Tags: _Teller.heading,
    tree.Wiring: _Teller.heading,
    tree.Scenario: _Teller.scenario,
}
_LINES: dict[type, Callable[[_Teller, Any], LineTold]] = {
    tree.ExcludedFault: _Teller.excluded,
    tree.TagLine: _Teller.tag,
    tree.PartLine: _Teller.part,
    tree.FeedLine: _Teller.feed,
    tree.WireLine: _Teller.wire,
    tree.At: _Teller.at_line,
    tree.Expect: _Teller.expect,
    tree.ParameterLine: _Teller.parameter,
    tree.ScansLine: _Teller.scans,
    tree.NoiseLine: _Teller.noise,
    tree.EndsLine: _Teller.ends,
}


def _lines_of(rung: tree.Rung) -> list[int]:
    return [rung.span.line, *(each.span.line for each in (*rung.elements, *rung.outputs))]


def names_in(node: Any) -> Iterator[str]:
    """Every name an expression reads, inside stages and calls too."""
    if isinstance(node, tree.Name):
        yield node.text
    elif isinstance(node, tuple):
        for each in node:
            yield from names_in(each)
    elif isinstance(node, tree.Node):
        for each in fields(node):
            if each.name != "span":
                yield from names_in(getattr(node, each.name))


def _names_read(rung: tree.Rung) -> set[str]:
    read: set[str] = set()
    for element in rung.elements:
        if isinstance(element, tree.Condition):
            read |= set(names_in(element.expression))
        else:
            read |= {name.text for name in (element.preset, element.by) if isinstance(name, tree.Name)}
    for output in rung.outputs:
        read |= {*names_in(output.value), *names_in(output.when)}
    return read


def _value_words(tag: tree.TagLine) -> str:
    if tag.type == "bool":
        return "It is on or off."
    unit = "" if tag.unit is None else f" in {tag.unit}"
    span = "" if tag.range is None else f", from {expression_text(tag.range).replace('..', ' to ')}"
    return f"It is a {'whole ' if tag.type == 'int' else ''}number{unit}{span}."


def _event_words(line: tree.At) -> str:
    target = line.target.text
    lasting = "" if line.duration is None else f" for {expression_text(line.duration)}"
    argument = line.argument
    said = "" if argument is None else argument.text if isinstance(argument, tree.Word) else expression_text(argument)
    words = {
        "set": f"{target} becomes {said}",
        "press": f"somebody presses {target}",
        "release": f"somebody lets go of {target}",
        "fault": f"{target} fails: {said.replace('_', ' ')}",
        "clear": f"{target} is mended: no more {said.replace('_', ' ')}",
        "cut": f"{target} loses its power",
        "restore": f"{target} has its power back",
        "stop": f"{target} is stopped: it has power, and solves no scan",
        "resume": f"{target} goes on",
    }
    return words[line.action] + lasting
