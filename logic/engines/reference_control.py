"""A controller in a run: whether it runs, when its scans end, and what others see of it.

It is in one of three modes, sampled at scan boundaries, and at every tick (1 ms without a
plant) while it does not run:

    running   it scans
    off       it has no power: its terminals give nothing, unretained memory is lost
    stopped   it has power but solves no scan: its terminals do what `on stop` says
    hung      a fault: the scan under way does not end, its terminals stand, its memory stays

What a stop leaves behind is our choice (IEC 61131-3 leaves a warm restart to the maker, from
memory): it costs the same memory as a power cut, and a resumed controller begins as after
power-up: no edge, `power_up` true, no time added. So nothing that sealed in before a stop
runs on after it. The scan that a cut or a stop ends is not written to the terminals.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from rungproof.logic.engines.reference_numbers import of_type
from rungproof.logic.engines.reference_plant import Held
from rungproof.logic.engines.reference_scan import Conducting, Scanner, nothing
from rungproof.logic.engines.reference_stages import StageState
from rungproof.logic.engines.trace import stage_values
from rungproof.logic.meaning.program import Controller
from rungproof.logic.meaning.typed import Scalar

Mode = Literal["running", "off", "stopped", "hung"]


@dataclass
class Seen:
    """What monitors see of a controller: tags as visible, stages as the last scan left them."""

    tags: dict[str, Scalar] = field(default_factory=dict)
    stages: dict[str, StageState] = field(default_factory=dict)
    power_up: bool = False
    scanning: bool = False


class Control:
    """The controller in a run: its mode, its scans, its terminals."""

    def __init__(self, controller: Controller, parameters: Mapping[str, Scalar]) -> None:
        self.controller = controller
        self.scanner = Scanner(controller, parameters)
        self.outputs = [tag for tag in controller.tags.values() if tag.role == "output"]
        self.held: dict[str, Held] = {tag.name: None for tag in self.outputs}
        self.mode: Mode = "off"
        self.scanning = False
        self.boundary = 0
        self.scans = 0
        self.last_length = 0
        self.seen = Seen()
        self._show()

    def _show(self) -> None:
        """Make visible what the scanner holds, outputs as the terminals are."""
        tags = dict(self.scanner.tags)
        for tag in self.outputs:
            held = self.held[tag.name]
            tags[tag.name] = nothing(tag) if held is None else held
        self.seen = Seen(tags, dict(self.scanner.stages), self.scanner.power_up, self.mode == "running")

    def enter(self, mode: Mode, free: Mapping[str, Scalar], *, memory_lost: bool = False) -> bool:
        """Step 3, at a boundary. Says whether it is an instant for requirements on tags alone.

        A hung program stays in the mode in which it hung. `memory_lost`: a loss of power takes
        what is retained as well.
        """
        self.scanning = mode == "running"
        if mode == "hung":
            return False
        was, self.mode = self.mode, mode
        if mode == "running":
            if was == "running":
                self.held = {tag.name: free.get(tag.name, self.scanner.tags[tag.name]) for tag in self.outputs}
                self._show()
        elif mode != was:
            self.scanner.lose_power(all_of_it=memory_lost and mode == "off")
            self.held = {tag.name: self._left(tag.name, mode) for tag in self.outputs}
            self._show()
        return was == "running" or mode != was

    def begin_scan(self, t: int, inputs: Mapping[str, Scalar], length: int) -> Conducting:
        """Step 5: read `inputs` and solve the rungs; the scan ends `length` ms later."""
        conducting = self.scanner.scan(inputs, self.last_length)
        self.last_length = length
        self.boundary = t + length
        self.scans += 1
        return conducting

    def wait(self, until: int, now: int) -> None:
        """Step 5, while no scan begins: look again at `until`. A scan that hangs is so much longer."""
        if self.mode == "running":
            self.last_length += until - now
        self.boundary = until

    def visible(self) -> dict[str, Scalar]:
        """Tags and stages as visible, by the names that files use."""
        return {**self.seen.tags, **stage_values(self.controller, self.seen.stages)}

    def _left(self, name: str, mode: Mode) -> Held:
        """What a terminal holds once the controller no longer runs."""
        tag = self.controller.tags[name]
        if mode == "off":
            return None
        return self.held[name] if tag.on_stop is None else of_type(tag.type, tag.on_stop)
