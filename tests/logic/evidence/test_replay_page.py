"""The replay page, read as text: its frames are what the reference engine did, and a user's text stays text."""

from __future__ import annotations

import json
import re
from html.parser import HTMLParser
from pathlib import Path
from random import Random
from typing import Any

import pytest
from generated_plants import plant_text
from generated_programs import controller_text, story_for
from rungproof.grammar import tree
from rungproof.logic.api import understand
from rungproof.logic.checks.engine_choice import reference_engine
from rungproof.logic.engines.contract import Trace
from rungproof.logic.evidence.replay import frames
from rungproof.logic.evidence.replay.frames import Recording, recording_of
from rungproof.logic.evidence.replay.page import replay_page
from rungproof.logic.meaning.program import Event, Program, Story
from rungproof.logic.meaning.understand import understand_texts

EXAMPLES = Path(__file__).parents[3] / "examples"


def generated(seed: int) -> tuple[Program, Story]:
    random = Random(seed)
    text = plant_text(random) if seed % 2 else controller_text(random)
    understood = understand_texts({"generated.rung": text})
    assert understood.program is not None, understood.diagnoses
    return understood.program, story_for(random, understood.program, 700)


def trace_of(program: Program, story: Story) -> Trace:
    trace = reference_engine().run(program, story, watch=frozenset(), record=True).trace
    assert trace is not None
    return trace


@pytest.mark.parametrize("seed", range(12))
def test_wires_of_a_frame_are_what_the_reference_engine_recorded(seed: int) -> None:
    """Behind every line and at every output of every rung, in every frame: the power of the scan that ended last."""
    program, story = generated(seed)
    trace = trace_of(program, story)
    recording = recording_of(program, story, "generated")
    compared = 0
    for t, state in zip(recording.times, recording.states, strict=True):
        scans = [n for n, start in enumerate(trace.scan_starts) if start < t]
        place = 0
        for shown in recording.shown:
            part = state[place : place + shown.size]
            place += shown.size
            if shown.supply is not None or not scans or not any(part):
                continue
            ends = shown.drawing.nets.line_ends
            assert [bool(part[net]) for net in ends] == list(trace.conducting[scans[-1]][shown.rung.name])
            compared += 1
    assert compared > 0 or len(trace.scan_starts) < 3


def test_wires_of_a_circuit_are_what_drives_the_plant() -> None:
    """In the header tank the coil K1 has power one tick before its relay begins to pull in, and so on."""
    program = understand(EXAMPLES / "header_tank").program
    assert program is not None
    story = Story(
        600, (Event(100, "S3.pressed", True), Event(300, "S3.pressed", False), Event(400, "S0.pressed", True))
    )
    recording = recording_of(program, story, "reset, then stop")
    powered: dict[str, list[int]] = {}
    place = 0
    for shown in recording.shown:
        if shown.supply is not None:
            net = place + shown.drawing.nets.line_ends[-1]
            times = [t for t, state in zip(recording.times, recording.states, strict=True) if state[net]]
            powered[shown.rung.name] = times
        place += shown.size
    # S3 makes at 100 ms, one tick later its contact is closed; S0 breaks at 400 ms.
    assert powered["supply_cut"] == list(range(120, 401, 20))
    assert powered["motor"] == []


def test_frames_stand_at_ends_of_scans_and_at_violations() -> None:
    """One frame a scan; while nobody scans, one for as long as a scan would take; one at each violation."""
    program, _ = generated(0)
    story = Story(500, (Event(200, "controller!cut", True), Event(400, "controller!cut", False)))
    recording = recording_of(program, story, "a cut")
    assert program.controller is not None
    trace = trace_of(program, story)
    ends = {start for start in trace.scan_starts[1:] if start in trace.times}
    assert ends <= set(recording.times)
    assert recording.all_frames == len(recording.times)
    dead = [state for t, state in zip(recording.times, recording.states, strict=True) if 240 < t <= 400]
    assert dead and not any(any(state) for state in dead)
    for violation in recording.strip.violations:
        assert violation.at_ms in recording.times


def test_a_long_run_keeps_the_frames_at_which_something_changes(monkeypatch: pytest.MonkeyPatch) -> None:
    """With fewer frames than scans, every change of a wire keeps its frame, and the page says how many it left out."""
    program, story = generated(1)
    whole = recording_of(program, story, "whole")
    changes = {t for t, a, b in zip(whole.times[1:], whole.states, whole.states[1:], strict=False) if a != b}
    monkeypatch.setattr(frames, "MOST_FRAMES", max(2 * len(changes) + 60, 80))
    if whole.all_frames > frames.MOST_FRAMES:
        thinned = recording_of(program, story, "thinned")
        assert len(thinned.times) <= frames.MOST_FRAMES
        assert changes <= set(thinned.times)
    monkeypatch.setattr(frames, "MOST_FRAMES", 12)
    few = recording_of(program, story, "few")
    assert len(few.times) <= 14
    assert f"of {few.all_frames:,} frames" in replay_page(few)


def test_a_run_too_long_for_a_page_is_refused() -> None:
    """Before anything is run."""
    program, _ = generated(1)
    with pytest.raises(ValueError, match="too long for a page"):
        recording_of(program, Story(10**11), "for ever")


# ------------------------------------------------------------------------- the page


class Elements(HTMLParser):
    """All start tags with their attributes, and the text of scripts."""

    def __init__(self, page: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.scripts: list[str] = []
        self._in_script = False
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        self._in_script = tag == "script"

    def handle_endtag(self, tag: str) -> None:
        self._in_script = False

    def handle_data(self, data: str) -> None:
        if self._in_script:
            self.scripts.append(data)


def data_of(page: str) -> dict[str, Any]:
    found = re.search(r'<script type="application/json" id="run">(.*?)</script>', page, re.DOTALL)
    assert found is not None
    data: dict[str, Any] = json.loads(found[1])
    return data


def decoded(data: dict[str, Any]) -> list[bytes]:
    """The states that the page's script goes through."""
    size = sum(rung["nets"] + rung["elements"] for rung in data["rungs"])
    state = bytearray(size)
    found = []
    for flips in data["flips"]:
        for place in flips:
            state[place] ^= 1
        found.append(bytes(state))
    return found


@pytest.mark.parametrize("seed", range(4))
def test_the_data_of_a_page_decode_to_its_frames(seed: int) -> None:
    """Flips from frame to frame, changes of tags and values of numbers lose nothing."""
    program, story = generated(seed)
    recording = recording_of(program, story, "generated")
    data = data_of(replay_page(recording))
    assert tuple(data["times"]) == recording.times
    assert tuple(decoded(data)) == recording.states
    assert len(data["bands"]) == len(recording.strip.bands)
    for shown, rung in zip(recording.shown, data["rungs"], strict=True):
        receives = [n for n, node in enumerate(shown.drawing.elements) if isinstance(node, tree.Output)]
        assert rung["receive"] == receives


def test_the_same_run_gives_the_same_bytes() -> None:
    """Nothing of the moment or the machine gets into a page."""
    program, story = generated(3)
    assert replay_page(recording_of(program, story, "a")) == replay_page(recording_of(program, story, "a"))


def hostile(remark: str) -> Recording:
    text = (
        f'controller "{remark}" every 10 ms\n\n'
        f'tags\n    a  input  bool  "{remark}"\n    x  output bool  on stop off\n\n'
        f'rung x "{remark}"\n    a    # {remark}\n    => x\n\nrequirement R1 "{remark}"\n    never x\n'
    )
    understood = understand_texts({"hostile.rung": text})
    assert understood.program is not None, understood.diagnoses
    return recording_of(understood.program, Story(100, (Event(20, "a", True),)), remark)


@pytest.mark.parametrize(
    "remark",
    [
        "<script>window.hurt = 1</script>",
        "</script><script>window.hurt = 1</script>",
        "</style></svg><img src=x onerror=window.hurt=1>",
        "' onmouseover='window.hurt = 1",
        "<!-- <script>",
        "\N{ARABIC LETTER ALEF}" * 40,
        "z" * 10_000,
        "wide words " * 900,
    ],
)
def test_a_users_text_stays_text_on_the_page(remark: str) -> None:
    """Two scripts, ours, and no attribute that runs anything, whatever a remark says."""
    page = replay_page(hostile(remark), remark)
    elements = Elements(page)
    scripts = [attrs for tag, attrs in elements.tags if tag == "script"]
    assert scripts == [{"type": "application/json", "id": "run"}, {}]
    assert not [attrs for tag, attrs in elements.tags if any(name.startswith("on") for name in attrs)]
    assert {tag for tag, _ in elements.tags}.isdisjoint({"img", "iframe", "object", "embed", "form", "link", "base"})
    assert not [attrs for _, attrs in elements.tags if "style" in attrs]


def test_the_page_forbids_whatever_it_does_not_hold_itself() -> None:
    """A strict policy: nothing by default, the style and the script by their hashes, no inline anything."""
    page = replay_page(hostile("plain"))
    policy = re.search(r'http-equiv="Content-Security-Policy" content="([^"]*)"', page)
    assert policy is not None
    rules = dict(rule.strip().split(" ", 1) for rule in policy[1].split(";"))
    assert rules["default-src"] == "'none'"
    assert re.fullmatch(r"'sha256-[A-Za-z0-9+/=]+'", rules["script-src"])
    assert re.fullmatch(r"'sha256-[A-Za-z0-9+/=]+'", rules["style-src"])
    assert "unsafe" not in policy[1]
    assert not re.findall(r"(?:src|href)=", page)


def test_the_page_carries_the_cautions_and_says_that_it_is_a_model() -> None:
    """Above the chart in one sentence, below it in full."""
    page = replay_page(hostile("plain"))
    assert page.index("not a safety-rated tool") < page.index("<main>")
    assert "local codes and licensed practice decide" in page
    assert "nothing was measured on a machine" in page
