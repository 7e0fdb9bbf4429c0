"""Two channels that are one: a contact that opens both, or a channel that nothing opens.

A device with two channels stops although one of them has failed, as long as no single failure
takes both. One contact in both is such a failure: welded, or bridged, it holds both closed, and the
device sees two channels that agree. Source: two channels and the failure of a common cause,
ISO 13849-1 6.2.6 and 6.2.7 (from memory). Channels are inputs called `channel_1`, `channel_2`
and so on, also of a part of one's own.
"""

from __future__ import annotations

import re

from rungproof.grammar.diagnosis import Reporter
from rungproof.grammar.tree import Span
from rungproof.logic.meaning.findings.reach import Cone, Reach
from rungproof.logic.meaning.program import Plant
from rungproof.plant.part import Part

_CHANNEL = re.compile(r"channel_[0-9]+")


def find_in_channels(plant: Plant, reach: Reach, reporter: Reporter) -> None:
    """Every part with channels, at the first shared contact of the later channel, or at what drives it."""
    parts = {part.name: channels for part in plant.assembly.parts if len(channels := _channels(part)) > 1}
    # A device with channels of its own stands for both: what opens its second contact has come over either.
    through = frozenset(parts)
    for name, channels in parts.items():
        driven = [key for key in channels if reach.driven_at(f"{name}.{key}") is not None]
        cones = {key: reach.cone(f"{name}.{key}", not_through=through) for key in driven}
        _find_unopened(name, cones, reach, reporter)
        _find_shared(name, cones, reporter)


def _channels(part: Part) -> tuple[str, ...]:
    return tuple(each.name for each in part.inputs if each.source == "driven" and _CHANNEL.fullmatch(each.name))


def _find_unopened(name: str, cones: dict[str, Cone], reach: Reach, reporter: Reporter) -> None:
    for key, cone in cones.items():
        if not cone.contacts and not cone.terminals:
            span = reach.driven_at(f"{name}.{key}")
            if span is not None:
                reporter.report("channel-never-opens", span, part=name, channel=key)


def _find_shared(name: str, cones: dict[str, Cone], reporter: Reporter) -> None:
    """One finding for two channels, naming all that both lead through."""
    keys = list(cones)
    for at, key in enumerate(keys):
        for other in keys[:at]:
            here, there = _opened_by(cones[key]), _opened_by(cones[other])
            shared = [each for each in here if each in there]
            if shared:
                reporter.report(
                    "channels-share-contact",
                    here[shared[0]],
                    part=name,
                    channels=f"{other} and {key}",
                    shared=" and ".join(f"`{each}`" for each in shared),
                    related=() if there[shared[0]] == here[shared[0]] else ((there[shared[0]], f"in {other}"),),
                )


def _opened_by(cone: Cone) -> dict[str, Span]:
    return {**cone.contacts, **cone.terminals}
