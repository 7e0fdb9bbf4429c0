"""What an event of a scenario acts on: the knob that its words mean."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from rungproof.grammar import tree
from rungproof.grammar.diagnosis import Reporter
from rungproof.logic.meaning.expressions import literal_in
from rungproof.logic.meaning.machine import Machine
from rungproof.logic.meaning.machine_names import did_you_mean
from rungproof.logic.meaning.program import Knob, Tag
from rungproof.logic.meaning.scope import Context, Scope, Slots
from rungproof.logic.meaning.typed import Scalar
from rungproof.plant.part import CONTACT_FAULTS, Part


@dataclass(frozen=True, slots=True)
class Stage:
    """What a project offers to its scenarios.

    `tags` maps a tag whose own line is wrong to None. `wires` maps a wired input tag to the
    part or contact that its wire comes from. `machine` is None without a plant. Where some
    requirement stands `with outputs free`, a story may set output tags: the terminals then do
    what it says instead of the program, as in the stories that speak against such a requirement.
    """

    knobs: Mapping[str, Knob]
    tags: Mapping[str, Tag | None]
    machine: Machine | None
    wires: Mapping[str, str | None]
    has_controller: bool
    outputs_free: bool = False

    def parameter(self, name: tree.Name, reporter: Reporter) -> Knob | None:
        """The knob of a parameter; None after reporting that there is none."""
        if name.text in self.tags and self.tags[name.text] is None:
            return None
        knob = self.knobs.get(name.text)
        if knob is None or knob.kind != "parameter":
            parameters = [key for key, each in self.knobs.items() if each.kind == "parameter"]
            reporter.report("parameter-unknown", name.span, name=name.text, mend=did_you_mean(name.text, parameters))
            return None
        return knob

    def part(self, name: str) -> Part | None:
        return self.machine.parts.get(name) if self.machine is not None else None

    @property
    def anything_broken(self) -> bool:
        """Whether some part could not be read, so that nobody knows what is missing."""
        return self.machine is not None and bool(self.machine.broken)

    def is_broken(self, name: str) -> bool:
        """Whether a mistake elsewhere already explains why nothing of this name can be set."""
        if name in self.tags and self.tags[name] is None:
            return True
        return self.machine is not None and name.partition(".")[0] in self.machine.broken


def knob_for(line: tree.At, stage: Stage, reporter: Reporter) -> Knob | None:
    """The knob an event means; None after reporting (silently where another line is to blame)."""
    if stage.is_broken(line.target.text):
        return None
    return _FINDERS[line.action](line, stage, reporter)


# ------------------------------------------------------- set, press, release


def _set(line: tree.At, stage: Stage, reporter: Reporter) -> Knob | None:
    name = line.target.text
    knob = stage.knobs.get(name)
    if knob is not None and knob.kind in ("tag", "operator", "disturbance"):
        return knob
    if knob is not None and knob.kind == "free output" and stage.outputs_free:
        return knob
    if _tag_refused(line, stage, reporter):
        return None
    part = stage.part(name.partition(".")[0])
    if part is not None:
        own = [k.key for k in stage.knobs.values() if k.key.startswith(f"{part.name}.") and k.kind != "fault"]
        choice = f"of {part.name} can be set: {', '.join(own)}" if own else f"nothing of {part.name} can be set"
        reporter.report("not-settable", line.target.span, name=name, choice=choice)
        return None
    _unknown(line.target, line.action, stage, reporter, ("tag", "operator", "disturbance"))
    return None


def _press(line: tree.At, stage: Stage, reporter: Reporter) -> Knob | None:
    name = line.target.text
    knob = stage.knobs.get(name) or stage.knobs.get(f"{name}.pressed")
    if knob is None:
        own = [k for k in stage.knobs.values() if k.kind == "operator" and k.key.startswith(f"{name}.")]
        knob = own[0] if len(own) == 1 else None
    if knob is not None and knob.kind in ("tag", "operator") and knob.type == "bool":
        return knob
    if knob is not None and knob.kind in ("tag", "operator"):
        reporter.report("not-pressable", line.target.span, name=name, what="it is a number; use `set`")
        return None
    if _tag_refused(line, stage, reporter):
        return None
    part = stage.part(name.partition(".")[0])
    if part is not None:
        reporter.report("not-pressable", line.target.span, name=name, what=f"a {part.kind} has nothing to press")
        return None
    _unknown(line.target, line.action, stage, reporter, ("tag", "operator"))
    return None


def _tag_refused(line: tree.At, stage: Stage, reporter: Reporter) -> bool:
    """Tags that a story cannot set: wired ones, and those that are the program's own."""
    tag = stage.tags.get(line.target.text)
    if tag is None:
        return False
    span, name = line.target.span, tag.name
    if tag.role == "parameter":
        reporter.report("parameter-in-story", span, name=name)
    elif tag.role != "input":
        reporter.report("sets-own-doing", span, name=name, role=tag.role)
    else:
        source = stage.wires.get(name)
        mend = f"It is wired from {source}: act on that part instead." if source else None
        reporter.report("sets-wired-input", span, name=name, mend=mend)
    return True


# --------------------------------------------------------------- fault, clear


def _fault(line: tree.At, stage: Stage, reporter: Reporter) -> Knob | None:
    assert isinstance(line.argument, tree.Word | tree.Name), "the grammar gives a fault a name"
    return fault_knob(line.target, line.argument, line.action, stage, reporter)


def fault_knob(
    name: tree.Name, fault: tree.Word | tree.Name, action: str, stage: Stage, reporter: Reporter
) -> Knob | None:
    """The knob of a fault of a part, a contact, a terminal or the controller; None after reporting."""
    target, word = name.text, fault.text
    knob = stage.knobs.get(f"{target}!{word}")
    if knob is None and word in {fault.name for fault in CONTACT_FAULTS}:
        knob = _sole_contact(target, word, stage)
    if knob is not None and knob.kind in ("fault", "power", "stop"):
        return knob
    known = [k.key.partition("!")[2] for k in stage.knobs.values() if k.key.startswith(f"{target}!")]
    if not known:
        _unknown(name, action, stage, reporter, ("fault", "power"))
        return None
    span = fault.span
    part = stage.part(target)
    if part is not None and part.contacts and word in {fault.name for fault in CONTACT_FAULTS}:
        choice = ", ".join(f"`{target}.{c.name} {word}`" for c in part.contacts)
        reporter.report("fault-of-contact", span, name=target, fault=word, choice=choice)
        return None
    mend = did_you_mean(word, known)
    reporter.report("fault-unknown", span, name=target, fault=word, known=", ".join(known), mend=mend)
    return None


def _sole_contact(target: str, word: str, stage: Stage) -> Knob | None:
    part = stage.part(target)
    if part is None or len(part.contacts) != 1:
        return None
    return stage.knobs.get(f"{target}.{part.contacts[0].name}!{word}")


# ------------------------------------------------ cut, restore, stop, resume


def _cut(line: tree.At, stage: Stage, reporter: Reporter) -> Knob | None:
    target = line.target.text
    if target == "controller":
        return _controller(line, "controller!cut", stage, reporter)
    knob = stage.knobs.get(f"{target}!lost")
    if knob is not None and knob.kind == "power":
        return knob
    part = stage.part(target)
    if part is not None:
        reporter.report("cut-no-supply", line.target.span, name=target, kind=part.kind)
        return None
    _unknown(line.target, line.action, stage, reporter, ("power",))
    return None


def _stop(line: tree.At, stage: Stage, reporter: Reporter) -> Knob | None:
    return _controller(line, "controller!stopped", stage, reporter)


def _controller(line: tree.At, key: str, stage: Stage, reporter: Reporter) -> Knob | None:
    if key in stage.knobs:
        return stage.knobs[key]
    if not stage.has_controller:
        reporter.report("story-without-controller", line.target.span, action=line.action)
    return None


def _unknown(target: tree.Name, action: str, stage: Stage, reporter: Reporter, kinds: tuple[str, ...]) -> None:
    name = target.text
    known: dict[str, None] = {}
    for knob in stage.knobs.values():
        if knob.kind in kinds:
            owner = knob.key.partition("!")[0]
            known[owner if action != "press" else owner.removesuffix(".pressed")] = None
    mend = did_you_mean(name, known)
    reporter.report("story-target-unknown", target.span, name=name, action=action, mend=mend)


_FINDERS: dict[str, Callable[[tree.At, Stage, Reporter], Knob | None]] = {
    "set": _set,
    "press": _press,
    "release": _press,
    "fault": _fault,
    "clear": _fault,
    "cut": _cut,
    "restore": _cut,
    "stop": _stop,
    "resume": _stop,
}


# ------------------------------------------------------------------- values


def literal_for(node: tree.Expression, knob: Knob, reporter: Reporter) -> Scalar | None:
    """A value as written, in the knob's unit and within its range."""
    while isinstance(node, tree.Group):
        node = node.inner
    if knob.type == "bool" or isinstance(node, tree.Truth):
        if isinstance(node, tree.Truth) and knob.type == "bool":
            return node.value
        wants = "on or off" if knob.type == "bool" else "a number"
        reporter.report("value-kind", node.span, name=knob.key, wants=wants)
        return None
    context = Context(Scope({}), reporter, Slots(""))
    unit = knob.unit.symbol if knob.unit else "no unit"
    value = literal_in(node, context, knob.unit, f"`{knob.key}` is in {unit}")
    if value is None:
        return None
    if knob.type == "int" and value.denominator != 1:
        reporter.report("value-kind", node.span, name=knob.key, wants="a whole number")
        return None
    if not knob.low <= value <= knob.high:
        symbol = f" {knob.unit.symbol}" if knob.unit else ""
        allowed = f"{knob.low:.15g}..{knob.high:.15g}{symbol}"
        reporter.report("value-out-of-range", node.span, name=knob.key, allowed=allowed)
        return None
    return int(value) if knob.type == "int" else float(value)
