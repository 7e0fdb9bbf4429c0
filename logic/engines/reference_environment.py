"""What a story may set in a program, and how it stands at every moment."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from typing import Any

from rungproof.logic.engines.chance import stream_of, uniform
from rungproof.logic.engines.reference_numbers import of_type
from rungproof.logic.engines.reference_plant import kinds_of
from rungproof.logic.engines.reference_scan import start_value
from rungproof.logic.meaning.knobs import CONTROLLER_FAULTS, OVERRUN
from rungproof.logic.meaning.program import Controller, Plant, Program, Story
from rungproof.logic.meaning.typed import Scalar, Type


def nearest(name: str, names: Iterable[str]) -> str:
    """` (did you mean X?)`, or nothing."""
    close = difflib.get_close_matches(name, list(names), 1)
    return f" (did you mean `{close[0]}`?)" if close else ""


def _controller_keys(controller: Controller, has_plant: bool) -> dict[str, tuple[Type, Any]]:
    keys: dict[str, tuple[Type, Any]] = {"controller!cut": ("bool", False), "controller!stopped": ("bool", False)}
    keys.update({f"controller!{fault.name}": ("bool", False) for fault in CONTROLLER_FAULTS})
    if not has_plant:
        keys.update({t.name: (t.type, start_value(t)) for t in controller.tags.values() if t.role == "input"})
    return keys


def _plant_keys(plant: Plant) -> dict[str, tuple[Type, Any]]:
    starts = {key: each.start for key, each in plant.assembly.environment.items()}
    return {key: (type_, starts.get(key, False)) for key, type_ in kinds_of(plant).items()}


class Environment:
    """The environment of one run: `values` by key, moved by the story's events and by noise.

    Free outputs stand in `free` from their first event on. Raises `ValueError` for a story
    that is none of this program: unknown keys or parameters, scans it cannot have.
    """

    def __init__(self, program: Program, story: Story) -> None:
        self._tick = program.plant.tick if program.plant is not None else 1
        keys = _controller_keys(program.controller, program.plant is not None) if program.controller else {}
        if program.plant is not None:
            keys.update(_plant_keys(program.plant))
        tags = program.controller.tags.values() if program.controller is not None else ()
        self._kinds: dict[str, Type] = {key: kind for key, (kind, _) in keys.items()}
        self._free_kinds: dict[str, Type] = {tag.name: tag.type for tag in tags if tag.role == "output"}
        self.values: dict[str, Any] = {key: of_type(kind, start) for key, (kind, start) in keys.items()}
        self.free: dict[str, Scalar] = {}
        self._check(story, [tag.name for tag in tags if tag.role == "parameter"])
        self._events = sorted(story.events, key=lambda event: event.at_ms)
        self._next = 0
        self._story = story
        self._noise = [] if program.plant is None else self._noise_streams(program.plant)
        self._scans = self._checked_scans(program.controller, story) if program.controller is not None else ()

    def _check(self, story: Story, parameters: list[str]) -> None:
        known = [*self._kinds, *self._free_kinds]
        for event in story.events:
            if event.key not in self._kinds and event.key not in self._free_kinds:
                raise ValueError(f"a story sets `{event.key}`, which nothing here is called{nearest(event.key, known)}")
        for name, _ in story.parameters:
            if name not in parameters:
                raise ValueError(f"a story sets `{name}`, which is no parameter{nearest(name, parameters)}")

    def _checked_scans(self, controller: Controller, story: Story) -> tuple[int, ...]:
        scans = story.scans or (controller.scan_low,)
        for length in scans:
            if not controller.scan_low <= length <= controller.scan_high or length % self._tick:
                raise ValueError(
                    f"a story has a scan of {length} ms; this controller scans every {controller.scan_low}.."
                    f"{controller.scan_high} ms, in steps of {self._tick} ms"
                )
        return scans

    def _noise_streams(self, plant: Plant) -> list[tuple[str, int, int]]:
        return [
            (key, stream_of(key), max(each.every_ms, plant.tick))
            for key, each in plant.assembly.environment.items()
            if each.source == "noise"
        ]

    def advance(self, t: int) -> None:
        """Apply the events up to `t` (ms), and draw what is drawn for `t`."""
        while self._next < len(self._events) and self._events[self._next].at_ms <= t:
            event = self._events[self._next]
            if event.key in self._kinds:
                self.values[event.key] = of_type(self._kinds[event.key], event.value)
            else:
                self.free[event.key] = of_type(self._free_kinds[event.key], event.value)
            self._next += 1
        for key, stream, every in self._noise:
            if t % every == 0:
                self.values[key] = uniform(self._story.seed, self._story.lane, stream, t // every)

    def go_on_with(self, story: Story) -> None:
        """What is still to come is that of `story`, which has been the same up to now."""
        self._events, self._story = sorted(story.events, key=lambda event: event.at_ms), story

    def scan_length(self, k: int) -> int:
        """The length of scan `k` (ms) that begins now, counted from 0; the last one named goes on."""
        return self.length_of(k, overrun=bool(self.values["controller!overrun"]))

    def length_of(self, k: int, *, overrun: bool) -> int:
        """The same for a scan that began, or will, while the program overran or not."""
        length = self._scans[min(k, len(self._scans) - 1)]
        return OVERRUN * length if overrun else length
