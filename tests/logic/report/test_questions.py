"""Questions for the reviewer: one weakness put into a small machine, one question about it; none without it."""

from __future__ import annotations

from pathlib import Path

import pytest
from rungproof.logic.checks.check import check_program
from rungproof.logic.checks.verdict import AssumptionResult, CheckResult, SearchFigures
from rungproof.logic.faults.table import fault_table
from rungproof.logic.meaning.program import Program
from rungproof.logic.meaning.understand import understand_texts
from rungproof.logic.report.questions.every import questions_of
from rungproof.logic.report.questions.spoken import Spoken
from rungproof.logic.report.questions.times import presets_of

SOUND = (Path(__file__).parent / "lift_table.txt").read_text(encoding="utf-8")


def program_of(text: str) -> Program:
    understood = understand_texts({"table.rung": text})
    assert understood.program is not None, [each.message for each in understood.diagnoses]
    return understood.program


def asked(text: str) -> list[str]:
    """All questions about a text that was not run: nothing was found, no fault was tried."""
    empty = CheckResult((), (), (), SearchFigures(0, "compiled", 0, 0, 0, 0))
    return [each.asked for _, group in questions_of(program_of(text), empty, None) for each in group]


def changed(*edits: tuple[str, str]) -> str:
    text = SOUND
    for before, after in edits:
        assert before in text, before
        text = text.replace(before, after)
    return text


#: Lines of the sound file that several weaknesses change.
POWER, NO_POWER = "after power_up never lift until not S1.pressed or k1_ok", "never lift and not up_pb and k1_ok"
R5 = "    whenever up_pb has stood for 200 ms then up_pb"
EITHER, OPEN = "(not up_pb or not guard_ok)", "whenever not G1.operated has stood"
ARMED, INPUT = "    armed     memory  bool\n", "    up_pb     input   bool\n"
WIRE, BUTTON = "    lift      at X2:1\n", "    push_button S1   make contact\n"


def two_hands(contacts: str, source: str) -> list[tuple[str, str]]:
    """A second button in series with the first: its contacts, and the one that is wired."""
    return [
        (INPUT, INPUT + "    two_pb    input   bool\n"),
        ("    guard_ok\n    armed or lift\n", "    guard_ok\n    two_pb\n    armed or lift\n"),
        (BUTTON, BUTTON + f"    push_button S2   {contacts}\n"),
        (WIRE, WIRE + f"    two_pb    at X1:4   from {source}\n"),
    ]


TWO, WIRED = (BUTTON, BUTTON.replace("contact", "contacts 2")), ("from S1\n", "from S1.1\n")

WEAK = {
    "no hazard at all": (
        [('hazard H1 "The table crushes" safe state not M1.energised\n', ""), (" against H1", "")],
        "Which hazards",
    ),
    "no safe state": ([(" safe state not M1.energised", "")], "safe state against H1"),
    "nothing against a hazard": ([(" against H1", "")], "keeps H1 from happening"),
    "nothing with a fault": ([("    even with any one fault\n", "")], "What may fail before H1"),
    "sentence says that something fails": (
        [("    even with any one fault\n", "")],
        "R1: was it meant to hold with something failed",
    ),
    "sentence says whatever the program does": ([("    with outputs free\n", "")], "R2: was it meant to hold whatever"),
    "another time than the sentence's": (
        [(f"with outputs free\n    {OPEN} for 100 ms", f"with outputs free\n    {OPEN} for 1 s")],
        "R2: which time is meant, 100 ms or 1 s?",
    ),
    "a time that no sentence says": (
        [("100 ms after the guard has opened the motor is dead, whatever", "Dead, whatever")],
        "Are these times soon enough",
    ),
    "and where the sentence says or": ([(EITHER, "not up_pb and not guard_ok")], "R3: must one of them suffice"),
    "a guard that rests on a memory": (
        [(f"never lift and {EITHER}", "never lift and not armed")],
        "while the program has it wrong: R3: armed",
    ),
    "a branch beside the guard": (
        [("    k1_ok\n    guard_ok\n", "    k1_ok\n    guard_ok or up_pb\n")],
        "When may up_pb stand in for G1",
    ),
    "a branch beside the guard's wire": (
        [
            ("        G1.1\n", "        G1.1 or S1.1\n"),
            ("S1   make contact", "S1   make contacts 2"),
            ("from S1\n", "from S1.2\n"),
        ],
        "When may S1 stand in for G1",
    ),
    "an input that nobody speaks of": (
        [
            (f"never lift and {EITHER}", "never lift and not guard_ok"),
            ("not S1.pressed or ", ""),
            (R5, "    never lift and not guard_ok"),
        ],
        "follow from up_pb",
    ),
    "an output that nobody speaks of": (
        [
            (ARMED, ARMED + "    lamp      output  bool\n"),
            ("    => armed\n", "    => armed\n    => lamp\n"),
            (WIRE, WIRE + "    lamp      at X2:2\n"),
        ],
        "What may lamp do",
    ),
    "an output that holds while stopped": (
        [("on stop off", "on stop hold")],
        "Is the machine safe while the controller is stopped",
    ),
    "a relay that nobody hears": (
        [("    k1_ok     at X1:3   from K1.2", "    k1_ok     at X1:3   from S1")],
        "a contact of K1 has welded",
    ),
    "a preset that nobody asks for": (
        [("up_pb has stood for 200 ms", "up_pb has stood for 2 s")],
        "where does 200 ms come from",
    ),
    "two hands without a time": (
        two_hands("make contact", "S2"),
        "Within what time of each other must up_pb and two_pb come",
    ),
    "two hands, and nothing about the next stroke": (
        two_hands("make contact", "S2"),
        "Once lift has ended, what must be let go before it comes again",
    ),
    "and where a button has another contact": (
        two_hands("make contact, break contact", "S2.1"),
        "Once lift has ended, what must be let go before it comes again",
    ),
    "a requirement that is gone": ([("requirement R4 ", "requirement R8 ")], "R4, R6, R7: what did they ask for"),
    "a timer that nothing reads": (
        [
            ("    on-delay 200 ms as deliberate\n", ""),
            ("rung lift\n", "rung early\n    up_pb\n    on-delay 200 ms as deliberate\n\nrung lift\n"),
        ],
        "What is deliberate in rung early there for",
    ),
    "a remark that says another time": (
        [("rung lift\n", 'rung lift "A press of half a second is deliberate"\n')],
        "Which time is meant in rung lift, 500 ms or 200 ms",
    ),
    "a guard that the program alone hears": (
        [("        G1.1\n", "        S1.2\n"), TWO, WIRED],
        "if the program or its output fails: G1 (guard switch)",
    ),
    "a reset that rests closed": (
        [
            ("        G1.1\n", "        G1.1\n        S2 or K1.1\n"),
            (BUTTON, BUTTON + "    push_button S2   break contact\n"),
        ],
        "What is S2 to do in circuit Supply, rung supply_cut, if nobody presses it",
    ),
    "nothing about power": ([(POWER, NO_POWER)], "come on when power comes back"),
    "retained, and nothing about power": (
        [(POWER, NO_POWER), (ARMED, ARMED.replace("\n", "  retained\n"))],
        "What may armed bring about when power comes back",
    ),
    "an excluded fault": (
        [('hazard H1 "', 'exclude "It has never happened"\n    fault G1 sticks\n\nhazard H1 "')],
        "Would you sign this reason",
    ),
}


@pytest.mark.parametrize("weakness", WEAK)
def test_a_weakness_raises_its_question(weakness: str) -> None:
    """The question is put for the weak file, and not for the sound one."""
    edits, words = WEAK[weakness]
    assert [each for each in asked(changed(*edits)) if words in each], asked(changed(*edits))
    assert not [each for each in asked(SOUND) if words in each]


def test_the_sound_file_raises_no_question() -> None:
    """Questions that stand in every report are read by nobody."""
    assert asked(SOUND) == []


def test_a_preset_stands_beside_the_times_of_requirements() -> None:
    """What says a time of its size of what leads to it is listed beside it."""
    presets = list(presets_of(Spoken(program_of(SOUND))))
    assert [(each.stage, each.preset, each.bounded_by) for each in presets] == [
        ("deliberate", "200 ms", ("R5 (200 ms)",))
    ]


def test_an_excluded_fault_is_tried_all_the_same() -> None:
    """The reason is printed beside what the fault would do; what is counted and judged leaves it out."""
    edits, _ = WEAK["an excluded fault"]
    scenario = 'scenario "Up"\n    at 100 ms press S1 for 2 s\n    ends at 3 s\n'
    program = program_of(changed(*edits) + "\n" + scenario)
    table = fault_table(program, workers=1, long_ticks=1000)
    assert {each.fault for each in table.excluded} == {"sticks"}
    assert not any(row.name == "G1 sticks" for row in table.rows)
    harmful = [each for each in table.excluded if each.outcome in ("hazard open", "late", "requirement broken")]
    assert harmful
    result = check_program(program, runs=1)
    told = [each.why for _, group in questions_of(program, result, table) for each in group]
    assert any("Tried all the same" in why and harmful[0].part in why for why in told)


def test_an_assumption_asks_what_makes_sure_of_it() -> None:
    """What was taken for granted is asked back."""
    assumed = AssumptionResult("Nobody climbs over", "restated", 3, 10)
    result = CheckResult((), (), (assumed,), SearchFigures(0, "compiled", 0, 0, 0, 0))
    told = [each for _, group in questions_of(program_of(SOUND), result, None) for each in group]
    assert "Nobody climbs over" in told[0].asked
    assert "cut 3 of 10 runs" in told[0].why
