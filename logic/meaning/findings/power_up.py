"""What can be on in the first scan after power-up.

The three-valued first scan tells what cannot be; where it does not know, the inputs are fixed
one after the other until it does. So an output that wants a button off in one rung and on in
the next is not said to come on.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field

from rungproof.grammar.diagnosis import Reporter
from rungproof.logic.meaning.findings.first_scan import FirstScan, Maybe
from rungproof.logic.meaning.findings.paths import Paths
from rungproof.logic.meaning.program import Condition, Controller, Rung, Stage
from rungproof.logic.meaning.requirements_reading import Readings, readings_of

#: Words of a tag's name or remark that say it only shows something, alone or with an s.
_SHOWS = re.compile(r"(?<![a-z])(?:lamp|horn|beacon|buzzer|sounder|bell|siren|shown|alarm)s?(?![a-z])")

#: Tags set and rungs run in search of what the inputs can do, for all outputs of a controller
#: together (about a second), and scans for one output: every assignment of 12 inputs, and more
#: where most do not matter. What is not settled by then can be: findings never miss.
MOST_STEPS, MOST_SCANS = 300_000, 2**12


def find_at_power_up(paths: Paths, moves: Callable[[str], bool] | None, reporter: Reporter) -> None:
    """Report on every output that can come on at once.

    With a plant, `moves` says which outputs move something: a warning. Without one nothing
    is known of them, and all that are no lamp by name or remark get a note.
    """
    search = PowerUpSearch(paths.controller)
    for tag in paths.controller.tags.values():
        if tag.role != "output" or tag.type != "bool":
            continue
        said = f"{tag.name} {tag.remark or ''}".lower()
        if (moves is not None and not moves(tag.name)) or (moves is None and _SHOWS.search(said)):
            continue
        if not search.can_be_on(tag.name, retained=None):
            continue
        by_inputs = search.can_be_on(tag.name, retained=False)
        writers = paths.outputs.get(tag.name)
        reporter.report(
            "on-at-power-up" if moves is not None else "may-move-at-power-up",
            writers[-1][2].span if writers else tag.span,
            name=tag.name,
            cause="the inputs alone can do it" if by_inputs else "a retained tag can do it",
        )


@dataclass
class PowerUpSearch:
    """Looks for inputs that let an output be on when the first scan is over.

    Exact where what is retained and what is a number does not matter; else it may say yes
    where the answer is no, never the other way round. `left` counts the steps it may still take.
    """

    controller: Controller
    left: int = MOST_STEPS
    _unfixed: dict[Maybe, dict[str, Maybe]] = field(default_factory=dict)
    _reads: dict[str, tuple[list[int], Readings]] = field(default_factory=dict)

    def can_be_on(self, output: str, *, retained: Maybe) -> bool:
        """Whether some assignment of the bool inputs and parameters can give it on."""
        if retained not in self._unfixed:
            self._unfixed[retained] = FirstScan(self.controller, retained).run()
        at_once = self._unfixed[retained][output]
        if at_once is not None or self.left <= 0:
            return at_once is not False
        rungs, inputs = self._cone(output)
        waiting: list[dict[str, bool]] = [{}]
        for _ in range(MOST_SCANS):
            if not waiting:
                return False
            fixed = waiting.pop()
            self.left -= len(rungs) + len(self.controller.tags)
            value = FirstScan(self.controller, retained, fixed, rungs).run()[output]
            if value is True or (value is None and (len(fixed) == len(inputs) or self.left <= 0)):
                return True
            if value is None:
                name = inputs[len(fixed)]
                waiting += [{**fixed, name: False}, {**fixed, name: True}]
        return bool(waiting)

    def _cone(self, output: str) -> tuple[tuple[Rung, ...], list[str]]:
        """The rungs that an output depends on, in their order, and the bool inputs they read, nearest first."""
        chosen: set[int] = set()
        inputs: list[str] = []
        waiting, seen = [output], {output}
        for name in waiting:
            numbers, readings = self._written()[name]
            chosen.update(numbers)
            more = sorted((readings.tags | readings.stages) - seen)
            seen.update(more)
            waiting += more
            tag = self.controller.tags.get(name)
            if tag is not None and tag.role in ("input", "parameter") and tag.type == "bool":
                inputs.append(name)
        return tuple(self.controller.rungs[number] for number in sorted(chosen)), inputs

    def _written(self) -> dict[str, tuple[list[int], Readings]]:
        """For every tag and stage the rungs that write it, and what those read."""
        if not self._reads:
            self._reads = {name: ([], Readings()) for name in (*self.controller.tags, *self.controller.stages)}
            for number, rung in enumerate(self.controller.rungs):
                readings = _readings(rung)
                stages = [element.name for element in rung.elements if isinstance(element, Stage)]
                for name in dict.fromkeys([*stages, *(output.target for output in rung.outputs)]):
                    numbers, known = self._reads[name]
                    numbers.append(number)
                    known.tags |= readings.tags
                    known.stages |= readings.stages
        return self._reads


def _readings(rung: Rung) -> Readings:
    read = [element.expression for element in rung.elements if isinstance(element, Condition)]
    stages = [element for element in rung.elements if isinstance(element, Stage)]
    read += [each for stage in stages for each in (stage.preset, stage.by) if each is not None]
    read += [each for output in rung.outputs for each in (output.when, output.value) if each is not None]
    return readings_of(read)
