"""A rung in words, made from its tree alone: every element, stage, output and expression.

The words say what `semantics` says and nothing that the author meant: read beside the author's
remark, they show where the two part.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import get_args

from rungproof.grammar import tree
from rungproof.logic.meaning.restate import Lexicon, Restater

_RETAINED = ", and a power cut does not make it forget"


@dataclass(frozen=True, slots=True)
class Told:
    """One line in words: where it stands, what it says in the file, what it does."""

    line: int
    text: str
    words: str


class RungWords:
    """Says rungs in words. `manner` tells how each name reads: a tag is on, a contact is closed."""

    def __init__(self, manner: Lexicon) -> None:
        self.restater = WordyRestater(manner)

    # ------------------------------------------------------------------- rungs

    def rung(self, rung: tree.Rung) -> tuple[str, ...]:
        """What the rung does, one sentence an output."""
        condition = self.path(rung.elements)
        return tuple(self.output(output, condition) for output in rung.outputs)

    def path(self, elements: tuple[tree.Condition | tree.Stage, ...]) -> str | None:
        """When power reaches the end of the path; None where nothing stands in its way."""
        said: str | None = None
        series: list[tree.Expression] = []
        for element in elements:
            if isinstance(element, tree.Condition):
                series.append(element.expression)
                continue
            said = self.through(element, self._joined(said, series))
            series = []
        return self._joined(said, series)

    def _joined(self, before: str | None, series: list[tree.Expression]) -> str | None:
        if not series:
            return before
        whole = series[0] if len(series) == 1 else tree.Series(series[0].span, tuple(series))
        text = self.restater.statement(whole)
        return text if before is None else f"{before}; and besides {text}"

    def through(self, stage: tree.Stage, before: str | None) -> str:
        """When power leaves a stage that stands below `before`."""
        met = "always" if before is None else before
        preset = "" if stage.preset is None else self.restater.amount(stage.preset)
        by = "" if stage.by is None else stage.by.text
        match stage.kind:
            case "on-delay":
                text = f"it has been so for {preset} without a break that {met}"
            case "off-delay":
                text = f"it is so, or was so less than {preset} ago, that {met}"
            case "pulse":
                text = f"less than {preset} have passed since it came to be so that {met}"
            case "accumulating on-delay":
                text = f"it has been so for {preset} in all, since {by} was last on, that {met}"
            case "count-up":
                text = f"it has come to be so {preset} times or more, since {by} was last on, that {met}"
            case "count-down":
                text = f"its count is at 0 or below ({by} loads {preset}, and it goes down each time that {met})"
            case "rising":
                text = f"it has come to be so in this very scan that {met}"
        return f"({stage.name}) {text}"

    def output(self, output: tree.Output, condition: str | None) -> str:
        """What an output does with the power that reaches it."""
        when = condition
        if output.when is not None:
            also = self.restater.statement(output.when)
            when = also if condition is None else f"{condition}; and, at this output, {also}"
        name = f"`{output.target.text}`"
        match output.kind:
            case "coil":
                return f"Powers {name} " + ("always." if when is None else f"when {when}. Otherwise {name} is off.")
            case "negated":
                ever = f"Holds {name} off always."
                return ever if when is None else f"Takes {name} off when {when}. Otherwise {name} is on."
            case "set":
                does = f"Switches {name} on " + ("always" if when is None else f"when {when}")
                return f"{does}. It stays on until something resets it."
            case "reset":
                does = f"Switches {name} off " + ("always" if when is None else f"when {when}")
                return f"{does}. At other times this line leaves {name} as it is."
            case "assign":
                assert output.value is not None, "an assignment has a value"
                does = f"Gives {name} the value: {self.restater.amount(output.value)}"
                return f"{does}, in every scan." if when is None else f"{does}, when {when}. Otherwise it is kept."

    # ------------------------------------------------------------------- lines

    def element(self, element: tree.Condition | tree.Stage) -> str:
        """What one line of a path does to the power that comes from above."""
        if isinstance(element, tree.Condition):
            inner = element.expression
            moment = "in the one scan in which" if isinstance(inner, tree.Edge) else "while"
            return f"lets power pass {moment} {self.restater.statement(inner)}"
        return self._stage(element)

    def _stage(self, stage: tree.Stage) -> str:
        preset = "" if stage.preset is None else self.restater.amount(stage.preset)
        by = "" if stage.by is None else stage.by.text
        name = f"`{stage.name}`"
        kept = _RETAINED if stage.retained else ""
        match stage.kind:
            case "on-delay":
                words = (
                    f"lets power pass once it has stood above this line for {preset} without a break; "
                    f"a gap of one scan starts {name} anew"
                )
            case "off-delay":
                words = f"lets power pass at once, and for {preset} after it has gone from above ({name})"
            case "pulse":
                words = (
                    f"lets power pass for {preset} from when it comes from above, however short or long it "
                    f"stands there; {name} is not started anew meanwhile"
                )
            case "accumulating on-delay":
                words = (
                    f"adds up how long power has stood above this line, and lets it pass from {preset} on; "
                    f"gaps do not clear {name}, `{by}` does"
                )
            case "count-up":
                words = (
                    f"counts how often power comes from above, and lets it pass from {preset} on; `{by}` clears {name}"
                )
            case "count-down":
                words = (
                    f"counts down from {preset} each time power comes from above, and lets it pass from 0 down; "
                    f"`{by}` loads {name} anew"
                )
            case "rising":
                words = f"lets power pass for the one scan in which it comes from above ({name})"
        return words + kept

    def lines(self, rung: tree.Rung, text_of: dict[int, str]) -> tuple[Told, ...]:
        """Every line of the rung in words; `text_of` gives the file's own text of a line."""
        told = [Told(e.span.line, text_of.get(e.span.line, ""), self.element(e)) for e in rung.elements]
        for output in rung.outputs:
            short = self.output(output, "power reaches this line")
            told.append(Told(output.span.line, text_of.get(output.span.line, ""), _small(short).rstrip(".")))
        return tuple(told)


class WordyRestater(Restater):
    """A restater that says functions in words too."""

    def amount(self, expression: tree.Expression | tree.Interval | tree.Point | tree.Argument) -> str:
        if isinstance(expression, tree.Call):
            return self._call(expression)
        return Restater.amount(self, expression)

    def _call(self, call: tree.Call) -> str:
        plain = [self.amount(a.value) for a in call.arguments if a.keyword is None]
        named = {a.keyword: self.amount(a.value) for a in call.arguments if a.keyword is not None}
        first = plain[0] if plain else ""
        match call.function:
            case "min" | "max":
                which = "smallest" if call.function == "min" else "greatest"
                return f"the {which} of {', '.join(plain)}"
            case "abs":
                return f"{first} without its sign"
            case "sqrt":
                return f"the square root of {first}"
            case "round":
                return f"{first}, rounded to a whole number"
            case "trunc":
                return f"{first}, without what stands behind the point"
            case "select":
                return f"{plain[1]} while {self._truth(call)}, else {plain[2]}"
            case "scale":
                return f"{first}, on the straight line that takes {plain[1]} to {plain[2]} and goes on beyond both ends"
            case "table":
                return (
                    f"{first}, read off the table {', '.join(plain[1:])} (straight lines between and beyond its rows)"
                )
            case "filter":
                return f"{first}, smoothed with a time constant of {plain[1]}"
            case "rate":
                return f"how fast {first} changes, per second"
            case "ramp":
                return f"{first}, followed no faster than {plain[1]}"
            case "pi":
                return self._pi(plain, named)
        return Restater.amount(self, call)

    def _truth(self, call: tree.Call) -> str:
        condition = call.arguments[0].value
        assert not isinstance(condition, tree.Interval | tree.Point), "a choice is made by a truth"
        return self.statement(condition)

    def _pi(self, plain: list[str], named: dict[str, str]) -> str:
        way = "below" if named.get("direction") == "reverse" else "above"
        start = f", beginning at {named['starts from']}" if "starts from" in named else ""
        return (
            f"what brings {plain[0]} to {plain[1]}: {named.get('gain', '')} times how far it is {way}, and a "
            f"part that grows meanwhile (integral time {named.get('integral', '')}), held in the tag's range{start}"
        )


def _small(text: str) -> str:
    return text[:1].lower() + text[1:]


assert set(get_args(tree.StageKind)) == {
    "on-delay", "off-delay", "pulse", "accumulating on-delay", "count-up", "count-down", "rising",
}, "the words must know every stage"  # fmt: skip
