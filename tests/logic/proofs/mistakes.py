"""Mistakes that a rewrite or an encoder could make: each makes a false requirement look true.

A mistake is an edit: of the program's text before it is lowered, or of the system after. A
prover that reads the edited one finds an invariant; the check reads the one that is meant.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from rungproof.logic.meaning.understand import understand_texts
from rungproof.logic.proofs.system import CUT, FIRST, System, requirement_system
from rungproof.logic.steps.node import OFF, Node, apply, ordered, substitute, variable
from rungproof.logic.steps.step import Step

SystemEdit = Callable[[System], System]


@dataclass(frozen=True)
class Mistake:
    """`text` is what is meant; `edits` replace parts of it, `change` alters the system."""

    name: str
    text: str
    edits: tuple[tuple[str, str], ...] = ()
    change: SystemEdit | None = None

    @property
    def meant(self) -> System:
        return system_of(self.text)

    @property
    def mistaken(self) -> System:
        text = self.text
        for old, new in self.edits:
            assert old in text, f"{self.name}: nothing to edit"
            text = text.replace(old, new)
        system = system_of(text)
        return self.change(system) if self.change is not None else system


def system_of(text: str) -> System:
    understood = understand_texts({"mistake.rung": text})
    assert understood.program is not None, understood.diagnoses
    return requirement_system(understood.program, understood.program.requirements[0])


def with_step(system: System, step: Step) -> System:
    return replace(system, step=step)


def edited(system: System, change: Callable[[Node], Node | None]) -> System:
    """Every node for which `change` gives another, operands first, replaced by it."""
    step = system.step
    roots = [*step.next.values(), *step.outputs.values()]
    done: dict[Node, Node] = {}
    for node in ordered(roots):
        became = apply(node.operator, *(done[each] for each in node.operands)) if node.operands else node
        other = change(became)
        done[node] = other if other is not None else became
    nexts = {name: done[node] for name, node in step.next.items()}
    outputs = {name: done[node] for name, node in step.outputs.items()}
    return with_step(system, Step(step.states, step.inputs, nexts, outputs))


def edges_at_power_up(system: System) -> System:
    """Forgets that nothing is an edge on the first scan."""
    no_first = apply("not", variable(FIRST, "bool"))

    def change(node: Node) -> Node | None:
        if node.operator == "and" and no_first in node.operands:
            return node.operands[1] if node.operands[0] is no_first else node.operands[0]
        return None

    return edited(system, change)


def blind_to_cuts(system: System) -> System:
    """Looks at the ends of scans only, not at the start and the end of a power cut."""
    outputs = dict(system.step.outputs)
    outputs[system.bad] = substitute([outputs[system.bad]], {variable(CUT, "bool"): OFF})[outputs[system.bad]]
    return with_step(system, replace(system.step, outputs=outputs))


def parameters_at_start(system: System) -> System:
    """Takes a parameter's start value for its only one."""
    return replace(system, free_starts=frozenset())


def never_cut(system: System) -> System:
    """Takes power for granted."""
    return with_step(system, system.step.given({CUT: OFF}))


def strict_for_not_strict(system: System) -> System:
    """Writes `<` for `<=`: a timer that is out one step late."""
    return edited(system, lambda node: apply("lt", *node.operands) if node.operator == "le" else None)


def text(tags: str, rungs: str, requirement: str, every: str = "1 ms", more: str = "") -> str:
    """A program from lines divided by `;`: tags, rungs (`NAME: line, line => output`), a requirement."""
    lines = [f'controller "Meant" every {every}', "", "tags", *(f"    {each.strip()}" for each in tags.split(";")), ""]
    for rung in rungs.split(";"):
        name, _, body = rung.strip().partition(":")
        path, *outputs = body.split("=>")
        lines += [f"rung {name}", *(f"    {each.strip()}" for each in path.split(",") if each.strip())]
        lines += [*(f"    => {each.strip()}" for each in outputs), ""]
    return "\n".join([*lines, 'requirement R1 "As meant"', f"    {requirement}", "", more, ""])


TAGS = "a input bool; b input bool; x memory bool; y memory bool; z memory bool"

MISTAKES = (
    Mistake(
        "a version dropped: a rung reads the value before the write",
        text(TAGS, "old: x => z; new: a => x; reads: x => y", "never y and not z"),
        (
            (
                "rung new\n    a\n    => x\n\nrung reads\n    x\n    => y\n",
                "rung reads\n    x\n    => y\n\nrung new\n    a\n    => x\n",
            ),
        ),
    ),
    Mistake(
        "a shared cut variable: two versions of a tag are one free input",
        text(TAGS, "one: a => x; first: x => y; two: b => x; second: x => z", "never y and not z"),
        (
            ("x memory bool", "x input bool"),
            ("rung one\n    a\n    => x\n", ""),
            ("rung two\n    b\n    => x\n", ""),
        ),
    ),
    Mistake(
        "a preset one too small",
        text(TAGS, "hold: a, on-delay 4 ms as hold => x", "never hold.elapsed > 3 ms"),
        (("4 ms as", "3 ms as"),),
    ),
    Mistake(
        "a timer that is out one step late",
        text(TAGS, "hold: a, on-delay 3 ms as hold => x", "never x"),
        change=strict_for_not_strict,
    ),
    Mistake(
        "an off-delay taken for an on-delay",
        text(TAGS, "hold: a, off-delay 3 ms as hold => x", "never x and not a"),
        (("off-delay", "on-delay"),),
    ),
    Mistake(
        "the power-up rule missing: a jammed button is an edge",
        text(TAGS, "edge: rising a => x; first: power_up => y", "whenever y and a then x"),
        change=edges_at_power_up,
    ),
    Mistake(
        "an assumption lost from the program that the proof was about",
        text(TAGS, "copy: a => x", "never x"),
        (("    never x\n", '    never x\n\nassume "Nobody presses"\n    not a\n'),),
    ),
    Mistake(
        "a cut that keeps what it should lose",
        text(TAGS, "trip: a => set x; clear: b => reset x", "after rising x never not x until b"),
        (("x memory bool", "x memory bool retained"),),
    ),
    Mistake(
        "a retained stage that begins anew after a cut",
        text(
            TAGS, "hold: a, on-delay 3 ms as hold retained => x; first: power_up, hold.elapsed > 0 ms => y", "never y"
        ),
        (("as hold retained", "as hold"),),
    ),
    Mistake(
        "instants of a power cut not looked at",
        text("a input bool; x output bool on stop off", "lamp: => x", "always x"),
        change=blind_to_cuts,
    ),
    Mistake(
        "a parameter held at its start value",
        text("limit parameter int 0..5 = 0; x memory bool", "over: limit > 2 => x", "never x"),
        change=parameters_at_start,
    ),
    Mistake(
        "the varying scan time taken for its longest",
        text(TAGS, "hold: a, on-delay 4 ms as hold => x", "never hold.elapsed = 1 ms", "1..2 ms"),
        (("every 1..2 ms", "every 2 ms"),),
    ),
    Mistake(
        "set and reset in the wrong order",
        text(TAGS, "clear: b => reset x; trip: a => set x", "never x and b"),
        (
            (
                "rung clear\n    b\n    => reset x\n\nrung trip\n    a\n    => set x\n",
                "rung trip\n    a\n    => set x\n\nrung clear\n    b\n    => reset x\n",
            ),
        ),
    ),
    Mistake(
        "a coil taken for one that drops, though it is set",
        text(TAGS, "trip: a => set x", "never x and not a"),
        (("set x", "x"),),
    ),
    Mistake(
        "a start value ignored",
        text("a input bool; x memory bool = on", "stays: x, not a => x", "never x"),
        (("bool = on", "bool"),),
    ),
    Mistake(
        "a range that the tag may leave",
        text("n memory int 0..9", "grow: => n := min(n + 1, 9)", "never n > 5"),
        (("0..9", "0..5"), ("n + 1, 9", "n + 1, 5")),
    ),
    Mistake(
        "a break contact read as a make contact",
        text(TAGS, "run: a, not b => x", "never x and not b"),
        (("not b\n    =>", "b\n    =>"),),
    ),
    Mistake(
        "a cut that loses what it should keep",
        text(TAGS + " retained", "first: power_up, z => x; trip: a => set z", "never x"),
        (("z memory bool retained", "z memory bool"),),
    ),
    Mistake(
        "power taken for granted",
        text(TAGS + " retained", "first: power_up => x; twice: x, z => y; seen: not power_up => set z", "never y"),
        change=never_cut,
    ),
    Mistake(
        "an output branch without its own contact",
        text(TAGS, "copy: a => z; drive: a => x when b", "never z and not x"),
        ((" when b", ""),),
    ),
    Mistake(
        "a stage that is not cleared",
        text(
            TAGS,
            "time: a, accumulating on-delay 2 ms as worn clear by b retained => x",
            "after worn never worn.elapsed < 2 ms until z",
        ),
        (("clear by b", "clear by z"),),
    ),
    Mistake(
        "an accumulating on-delay taken for a plain one",
        text(TAGS, "time: a, accumulating on-delay 2 ms as worn clear by b => x", "never x and not a"),
        (("accumulating on-delay 2 ms as worn clear by b", "on-delay 2 ms as worn"),),
    ),
    Mistake(
        "a pulse one too short",
        text(TAGS, "time: rising a, pulse 2 ms as flash => x", "never flash.elapsed > 1 ms"),
        (("pulse 2 ms", "pulse 1 ms"),),
    ),
    Mistake(
        "a rising contact taken for a plain one",
        text(TAGS, "edge: rising a => x; still: a, not x => y", "never y"),
        (("rising a", "a"),),
    ),
)
