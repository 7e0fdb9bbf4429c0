"""Rungs: stages with their presets, conditions, and outputs with their targets."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from rungproof.grammar import tree
from rungproof.logic.meaning.expressions import (
    MILLISECOND,
    is_settable,
    type_any,
    type_contact,
    type_duration,
    type_quantity,
)
from rungproof.logic.meaning.expressions_numbers import is_literal
from rungproof.logic.meaning.functions_memory import is_pi, type_pi
from rungproof.logic.meaning.program import Condition, Output, Rung, Stage, Tag
from rungproof.logic.meaning.scope import Context, Slots
from rungproof.logic.meaning.typed import Expression, StageOutput, StageReading

#: Counting saturates here (IEC 61131-3, type INT).
COUNT_LOW, COUNT_HIGH = -32768, 32767

_TIMERS = ("on-delay", "off-delay", "pulse", "accumulating on-delay")
_COUNTERS = ("count-up", "count-down")


@dataclass
class RungTyper:
    """Types the rungs of one controller.

    `tags` holds None for a tag whose line is wrong; `context` has the tags, then also the
    stages, in scope. `stage_names` are all stages, wrong ones included.
    """

    tags: Mapping[str, Tag | None]
    context: Context
    stage_names: set[str]

    # ------------------------------------------------------------------- stages

    def preset(self, stage: tree.Stage) -> Expression | None:
        """A stage's time in ms or its count, 1 or more; None after reporting, or for `rising as`."""
        if stage.preset is None:
            return None
        if stage.kind in _TIMERS:
            return type_duration(stage.preset, self.context)
        beside = "a count stands here"
        found = type_quantity(stage.preset, self.context, None, "int", beside, real_code="preset-is-real")
        if found is None:
            return None
        if not is_settable(found, self.context):
            self.context.reporter.report("preset-not-constant", stage.preset.span)
        elif found.low < 1:
            self.context.reporter.report("preset-too-small", stage.preset.span, least="1")
        elif found.high > COUNT_HIGH:
            self.context.reporter.report("count-out-of-reach", stage.preset.span, highest=COUNT_HIGH)
        else:
            return found
        return None

    def entries_of(self, stage: tree.Stage, preset: Expression | None) -> dict[str, Expression | None]:
        """What a stage's name and its readings stand for in expressions."""
        output = StageOutput(type="bool", span=stage.span, stage=stage.name)
        if stage.kind == "rising":
            return {stage.name: output}
        reading = f"{stage.name}.{'elapsed' if stage.kind in _TIMERS else 'count'}"
        if preset is None:
            return {stage.name: output, reading: None}
        is_timer = stage.kind in _TIMERS
        inside = StageReading(
            type="int",
            unit=MILLISECOND if is_timer else None,
            low=COUNT_LOW if stage.kind == "count-down" else 0,
            high=preset.high if is_timer else COUNT_HIGH,
            span=stage.span,
            stage=stage.name,
            field="elapsed" if is_timer else "count",
        )
        return {stage.name: output, reading: inside}

    def stage(self, stage: tree.Stage, preset: Expression | None) -> Stage | None:
        by = type_contact(stage.by, self.context) if stage.by is not None else None
        if (stage.by is not None and by is None) or (stage.preset is not None and preset is None):
            return None
        return Stage(name=stage.name, kind=stage.kind, preset=preset, by=by, retained=stage.retained, span=stage.span)

    # -------------------------------------------------------------------- rungs

    def rung(self, rung: tree.Rung, presets: Mapping[str, Expression | None]) -> Rung | None:
        """The typed rung, or None after reporting all its mistakes."""
        self.context.slots = Slots(rung.name)
        elements: list[Condition | Stage | None] = []
        for element in rung.elements:
            if isinstance(element, tree.Stage):
                elements.append(self.stage(element, presets.get(element.name)))
            else:
                elements.append(self._condition(element))
        outputs = [self._output(output) for output in rung.outputs]
        whole = [e for e in elements if e is not None]
        driven = [o for o in outputs if o is not None]
        if len(whole) < len(elements) or len(driven) < len(outputs):
            return None
        return Rung(rung.name, rung.remark, tuple(whole), tuple(driven), rung.span)

    def _condition(self, element: tree.Condition) -> Condition | None:
        expression = type_contact(element.expression, self.context)
        return None if expression is None else Condition(expression, element.span)

    # ------------------------------------------------------------------ outputs

    def _output(self, output: tree.Output) -> Output | None:
        target = self._target(output)
        value = self._value(output, target) if output.value is not None else None
        when = type_contact(output.when, self.context) if output.when is not None else None
        if target is None or (output.value is not None and value is None):
            return None
        if output.when is not None and when is None:
            return None
        return Output(output.kind, target.name, "tag", value, when, output.span)

    def _target(self, output: tree.Output) -> Tag | None:
        name, reporter = output.target, self.context.reporter
        if name.text not in self.tags:
            if name.text in self.stage_names or name.text in ("power_up", "scanning") or "." in name.text:
                reporter.report("not-a-target", name.span, name=name.text)
            else:
                self.context.scope.report_unknown(name, reporter)
            return None
        tag = self.tags[name.text]
        if tag is None:
            return None
        if tag.role not in ("memory", "output"):
            reporter.report(f"writes-{tag.role}", name.span, name=tag.name, related=((tag.span, "its line"),))
        elif output.kind == "assign" and tag.type == "bool":
            reporter.report("assign-to-bool", name.span, name=tag.name)
        elif output.kind != "assign" and tag.type != "bool":
            reporter.report("coil-on-number", name.span, name=tag.name, type=tag.type)
        else:
            return tag
        return None

    def _value(self, output: tree.Output, target: Tag | None) -> Expression | None:
        """The right side of `:=`, typed even where the target is wrong: its mistakes are its own."""
        assert output.value is not None
        context = replace(self.context, may_remember=True)
        call = is_pi(output.value)
        if target is None:
            if call is None and not is_literal(output.value):
                type_any(output.value, context)
            return None
        if call is None:
            in_target = f"`{target.name}` is in {target.unit.symbol}" if target.unit else f"`{target.name}` has no unit"
            return type_quantity(output.value, context, target.unit, target.type, in_target)
        if target.type != "real":
            context.reporter.report("real-to-int", call.span)
            return None
        return type_pi(call, context, target.name, target.unit, (float(target.low), float(target.high)))


def named_calls(rungs: tuple[tree.Rung, ...]) -> Iterator[tree.Call]:
    """The calls that bear a name (`as level_loop`), in the order written."""
    for rung in rungs:
        for output in rung.outputs:
            if output.value is not None:
                yield from _named_within(output.value)


def _named_within(root: tree.Expression) -> Iterator[tree.Call]:
    waiting: list[object] = [root]
    while waiting:
        node = waiting.pop()
        match node:
            case tree.Call():
                if node.name is not None:
                    yield node
                waiting += [argument.value for argument in node.arguments]
            case tree.Group():
                waiting.append(node.inner)
            case tree.Negate() | tree.Not() | tree.Edge():
                waiting.append(node.operand)
            case tree.Arithmetic() | tree.Compare():
                waiting += [node.left, node.right]
            case tree.Between():
                waiting += [node.value, node.low, node.high]
            case tree.Series() | tree.Parallel():
                waiting += node.operands
            case _:
                pass
