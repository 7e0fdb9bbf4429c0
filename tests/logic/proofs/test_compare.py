"""Two versions of a controller: proved equal, or told apart by a story that both replay."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from pathlib import Path
from random import Random
from unittest.mock import patch

import pytest
from rungproof.logic.api import understand
from rungproof.logic.meaning.program import Program
from rungproof.logic.meaning.understand import understand_texts
from rungproof.logic.proofs import compare, explicit, joined
from rungproof.logic.proofs.chance import Drawn
from rungproof.logic.proofs.compare import Comparison, compare_programs
from rungproof.logic.proofs.explicit import TooLargeError, explore
from rungproof.logic.proofs.joined import DIFFERS, join
from rungproof.logic.proofs.recheck import Unknown
from rungproof.logic.proofs.sides import IncomparableError, sides_of
from rungproof.logic.proofs.system import OUTAGE_TICKS
from small_changes import changed
from small_controllers import small_text

EXAMPLES = Path(__file__).parents[3] / "examples"

FAN = """\
controller "Fan" every 10 ms

tags
    start_pb  input   bool
    stop_ok   input   bool
    fan       output  bool  on stop off
    lamp      output  bool  on stop off

rung fan
    start_pb or fan
    stop_ok
    => fan

rung lamp
    fan
    on-delay 50 ms as settled
    => lamp
"""

NUMBERS = """\
controller "Numbers" every 10 ms

tags
    x  input   real  0..10
    y  output  real  0..10  on stop 0

rung y
    => y := x * 0.5
"""


def program(text: str) -> Program:
    found = understand_texts({"it.rung": text}).program
    assert found is not None
    return found


def compared(old: str, new: str, time_s: float = 60.0) -> Comparison:
    return compare_programs(program(old), program(new), time_s=time_s)


def test_a_program_is_equal_to_itself_without_a_solver() -> None:
    """Its expressions are one and the same."""
    found = compared(FAN, FAN)
    assert (found.word, found.engine, found.outputs) == ("equal", "one and the same expressions", ("fan", "lamp"))


def test_contacts_in_another_order_are_proved_equal() -> None:
    """Another expression for the same thing takes a proof, which the second solver checks."""
    found = compared(FAN, FAN.replace("start_pb or fan\n    stop_ok", "stop_ok\n    fan or start_pb"))
    assert found.word == "equal"
    assert found.engine.startswith("reachability")


def test_memory_under_another_name_is_proved_equal() -> None:
    """A helper tag of another name has no counterpart; what it remembers is found out."""
    held = FAN.replace("fan       output", "kept      memory  bool\n    fan       output").replace(
        "start_pb or fan\n    stop_ok\n    => fan", "start_pb or kept\n    stop_ok\n    => kept\n    => fan"
    )
    found = compared(FAN, held)
    assert found.word == "equal"


def test_a_forgotten_contact_is_told_in_the_fewest_scans() -> None:
    """The story names the first tag and the first instant at which the two part, and no less does."""
    found = compared(FAN, FAN.replace("    stop_ok\n    => fan", "    => fan"))
    parting = found.parting
    assert found.word == "different"
    assert parting is not None
    assert (parting.at, parting.tag, parting.old, parting.new) == (10, "fan", False, True)
    assert (parting.scans, parting.shortest) == (1, True)
    assert [(each.key, each.value) for each in parting.new_story.events] == [("start_pb", True)]


def test_a_longer_time_is_told_by_the_scan_in_which_it_shows() -> None:
    """The lamp comes one scan later: a story of seven scans, none shorter."""
    found = compared(FAN, FAN.replace("on-delay 50 ms", "on-delay 60 ms"))
    assert found.parting is not None
    assert (found.parting.tag, found.parting.scans, found.parting.shortest) == ("lamp", 6, True)


def test_what_a_stop_leaves_is_compared_too() -> None:
    """An output that holds where the other goes off differs once the controller is stopped."""
    found = compared(FAN, FAN.replace("fan       output  bool  on stop off", "fan       output  bool  on stop hold"))
    assert found.parting is not None
    assert "controller!stopped" in {each.key for each in found.parting.new_story.events}


def test_what_a_power_cut_loses_is_compared_too() -> None:
    """Retained against lost: the story cuts the power."""
    old = (
        FAN.replace("fan       output", "kept      memory  bool\n    fan       output")
        .replace("=> fan\n\nrung lamp", "=> kept\n\nrung copy\n    kept\n    => fan\n\nrung lamp")
        .replace("start_pb or fan", "start_pb or kept")
    )
    found = compared(old, old.replace("kept      memory  bool", "kept      memory  bool  retained"))
    assert found.parting is not None
    assert "controller!cut" in {each.key for each in found.parting.old_story.events}


def test_numbers_are_compared_to_the_last_bit() -> None:
    """`x * 0.5` is `x / 2`, which no proof here says; `x * 0.5 + 0.1` is told apart."""
    text = NUMBERS
    assert compared(text, text).word == "equal"
    assert compared(text, text.replace("x * 0.5", "x * 0.5 + 0.1")).word == "different"
    unsure = compared(text, text.replace("x * 0.5", "x / 2"))
    assert (unsure.word, unsure.parting) == ("undecided", None)
    assert "exact form" in unsure.why


def test_what_one_alone_has_is_named() -> None:
    """An input and an output of one version are no reason to stop, and are not passed over."""
    tags = "    door_ok   input   bool\n    horn      output  bool  on stop off\n    lamp      output"
    more = FAN.replace("    lamp      output", tags)
    found = compared(FAN, more.replace("    stop_ok\n    => fan", "    stop_ok\n    door_ok\n    => fan"))
    assert set(found.only) == {("new", "input `door_ok`"), ("new", "output `horn`")}
    assert found.word == "different"


def test_scan_times_that_never_meet_cannot_be_compared() -> None:
    """Nothing is said of two versions that never scan alike; ranges that meet are compared where they do."""
    assert compared(FAN, FAN.replace("every 10 ms", "every 20 ms")).word == "undecided"
    found = compared(FAN, FAN.replace("every 10 ms", "every 5..20 ms"))
    assert found.word == "equal"
    assert found.remarks == ("old scans every 10 ms, new every 5 ms to 20 ms: compared at 10 ms, which both can do",)


def test_numbers_of_the_examples_are_equal_to_themselves() -> None:
    """Every example, plant and all, with no solver."""
    for name in ("header_tank", "dosing", "sump_pair", "press_guard", "ventilation_fan"):
        found = understand(EXAMPLES / name).program
        assert found is not None
        assert compare_programs(found, found, time_s=60).word == "equal"


# ------------------------------------------------------------------ differential


def truth_of(old: Program, new: Program) -> int | None:
    """The fewest scans after which an output differs, by trying everything; None if none does."""
    sides = sides_of(old, new)
    # a parameter that both have is one and the same in both: only what a scan changes is kept apart
    apart = join(sides, sides.old.shared & sides.old.parameters & sides.new.parameters)
    step = apart.system.step
    step = replace(step, outputs={DIFFERS: step.outputs[DIFFERS]}).slice([DIFFERS])
    pauses = {OUTAGE_TICKS: [1, 2, 3, 4, 5]}
    with patch.object(explicit, "MOST_WORK", 1_000_000):
        return explore(step, DIFFERS, choices=pauses, free_starts=apart.system.free_starts, most_layers=60).depth


def decided_both_ways(seeds: range) -> tuple[Counter[str], list[str]]:
    """Random programs against a change of theirs; what was found, and what was wrong."""
    counts: Counter[str] = Counter()
    wrong: list[str] = []
    for seed in seeds:
        random = Random(seed)
        text = small_text(random).replace("memory bool", "output bool on stop off")
        both = [understand_texts({"small.rung": each}).program for each in (text, changed(text, random))]
        if both[0] is None or both[1] is None:
            counts["not run"] += 1
            continue
        try:
            depth = truth_of(both[0], both[1])
        except (TooLargeError, IncomparableError):
            counts["too large"] += 1
            continue
        found = compare_programs(both[0], both[1], time_s=60.0)
        counts[f"{found.word}, {'same' if depth is None else 'not the same'}"] += 1
        if found.word == "undecided":
            continue
        if (found.word == "equal") != (depth is None):
            wrong.append(f"seed {seed}: {found.word} ({found.why}), and the truth is {depth}")
        elif found.parting is not None and found.parting.shortest and found.depth != (depth or 0) + 1:
            wrong.append(f"seed {seed}: {found.depth} transitions for the fewest, {depth} + 1 do")
    return counts, wrong


def test_comparisons_agree_with_trying_everything() -> None:
    """Sixty small programs and a change of each: the same word, and as few scans."""
    counts, wrong = decided_both_ways(range(60))
    assert wrong == []
    assert counts["undecided, same"] + counts["undecided, not the same"] < 6
    assert counts["equal, same"] > 15
    assert counts["different, not the same"] > 15


@pytest.mark.slow
def test_many_comparisons_agree_with_trying_everything() -> None:
    """Six hundred more."""
    counts, wrong = decided_both_ways(range(1000, 1600))
    assert wrong == []
    assert counts["equal, same"] > 200
    assert counts["different, not the same"] > 100


@pytest.fixture
def no_luck(monkeypatch: pytest.MonkeyPatch) -> pytest.MonkeyPatch:
    """Lanes by chance see nothing, so that all rests on what is joined."""
    monkeypatch.setattr(compare, "draw", lambda *_, **__: Drawn(None, frozenset(), 0))
    return monkeypatch


def test_joined_states_that_are_not_shown_to_stay_equal_are_caught(no_luck: pytest.MonkeyPatch) -> None:
    """A seeded mistake: states joined without asking whether they become the same again."""
    paths = ("count_lost_in_power_cut.rung", "count_lost_in_power_cut_corrected.rung")
    old, new = (understand(EXAMPLES / "mistakes" / each).program for each in paths)
    assert old is not None
    assert new is not None
    assert compare_programs(old, new, time_s=60).word == "different"
    no_luck.setattr(joined._Joiner, "_needed", lambda self: ())
    assert compare_programs(old, new, time_s=60).word == "equal"


def test_joined_states_that_start_apart_are_caught(no_luck: pytest.MonkeyPatch) -> None:
    """A seeded mistake: start values are not looked at."""
    new = FAN.replace("fan       output  bool  on stop off", "fan       output  bool  on stop off  retained")
    old = new.replace("on stop off  retained", "on stop off = on  retained")
    assert compared(old, new).word == "different"
    for module in (joined, compare):
        no_luck.setattr(module, "counterparts", lambda sides: frozenset(sides.old.step.states))
    assert compared(old, new).word == "equal"


def test_a_proof_that_the_second_solver_refuses_is_not_told(no_luck: pytest.MonkeyPatch) -> None:
    """Nothing is called equal on the word of one solver."""
    no_luck.setattr(compare, "recheck", lambda *_: Unknown("it was told to"))
    found = compared(FAN, FAN.replace("start_pb or fan\n    stop_ok", "stop_ok\n    fan or start_pb"))
    assert (found.word, "did not agree" in found.why) == ("undecided", True)
