"""Restatements: plain sentences made from the formula alone."""

from __future__ import annotations

import pytest
from rungproof.logic.meaning.understand import understand_texts

HEAD = """controller "Test" every 10 ms

tags
    a       input      bool
    b       input      bool
    c       input      bool
    level   input      real cm 0..100
    run     output     bool
    target  parameter  real cm 10..60 = 50
    wait    parameter  int s 1..9 = 5

rung run
    rising a or run
    b
    c
    level < target
    on-delay wait as hold
    => run

"""
PLANT = """plant "Test" every 10 ms
    reservoir r      holds 2000 L, starts at 1500 L
    tank header      upright cylinder, diameter 60 cm, height 110 cm, starts at 60 L
    pump feed_pump   from r into header, 0..12 L/min, fixed speed
    push_button S0   make contacts 2
    supply P24       24 V

circuit "C" from P24
    rung motor
        S0.1
        => feed_pump.supply

"""


def _restated(head: str, form: str) -> str:
    understood = understand_texts({"test.rung": f'{head}requirement R1 "As signed"\n    {form}\n'})
    assert understood.program is not None, [d.message for d in understood.diagnoses]
    return understood.program.requirements[0].restatement


@pytest.mark.parametrize(
    ("form", "sentence"),
    [
        ("never run and (not a or not b)", "At no instant may run be on while a is off or b is off."),
        ("never run and not b", "At no instant may run be on while b is off."),
        ("never (a or b)", "At no instant may it be so that a is on or b is on."),
        (
            "never a and (b or c) and run",
            "At no instant may a be on while (b is on or c is on, or both), and run is on.",
        ),
        ("never not (a or b) and run", "At no instant may it be so that both a is off and b is off, and run is on."),
        ("never falling run and not rising b", "At no instant may run go off unless b comes on at that same instant."),
        ("never run and not falling b", "At no instant may run be on unless b goes off at that same instant."),
        (
            "never run and not rising b and c",
            "At no instant may run be on while b does not come on and c is on.",
        ),
        (
            "after not b or not c never run until rising a",
            "From every instant at which b is off or c is off, run must be off until a comes on.",
        ),
        ("always level < target", "At every instant level must be below target."),
        ("always not run", "At every instant run must be off."),
        ("always not (level < 5 cm)", "At every instant level must be at least 5 cm."),
        (
            "always level between target - 5 cm and 60 cm",
            "At every instant level must be between target - 5 cm and 60 cm.",
        ),
        ("always a = b or c", "At every instant it must be so that a is equal to b or c is on."),
        ("whenever a then run", "Whenever a is on, run must be on at that same instant."),
        (
            "whenever a then run within 2 s",
            "Whenever a is on, run must be on then or at some instant no more than 2 s later.",
        ),
        (
            "whenever a then not run for wait",
            "Whenever a is on, run must be off then and at every instant until wait later.",
        ),
        (
            "whenever a has stood for 100 ms then run",
            "Whenever a is on and this has stood for 100 ms without a break, run must be on.",
        ),
        (
            "after rising a never run until rising b",
            "From every instant at which a comes on, run must be off until b comes on.",
        ),
        (
            "after power_up never run until rising a",
            "From the first scan after power comes, run must be off until a comes on.",
        ),
        (
            "whenever a and scanning has stood for 1 s then run",
            "Whenever a is on and the controller is scanning and this has stood for 1 s without a break, "
            "run must be on.",
        ),
        ("never run and not scanning", "At no instant may run be on while the controller is without power or stopped."),
        (
            "never rising scanning and run",
            "At no instant may the controller begin to scan while run is on.",
        ),
        ("at most 15 rising run in any 1 h", "In any stretch of 1 h, run may come on at most 15 times."),
        ("at most 1 rising run in any 1 h", "In any stretch of 1 h, run may come on at most once."),
        ("a before run", "At no instant may run be on unless, then or earlier in the run, a is on."),
        ("from 5 s always run", "Counting from 5 s after the start: at every instant run must be on."),
        ("always hold.elapsed <= 9 s", "At every instant the elapsed time of hold must be at most 9 s."),
    ],
)
def test_a_form_on_tags_reads_as_a_sentence(form: str, sentence: str) -> None:
    """Each form of the language, and how conditions read inside it."""
    assert _restated(HEAD, form) == sentence


@pytest.mark.parametrize(
    ("form", "sentence"),
    [
        ("always header.level < 105 cm", "At every instant the level of header must be below 105 cm."),
        ("always not feed_pump.energised", "At every instant feed_pump must not be energised."),
        ("never S0.1 and not S0.pressed", "At no instant may contact S0.1 be closed while S0 is not pressed."),
        ("never rising S0.1", "At no instant may contact S0.1 close."),
        ("never falling S0.pressed", "At no instant may S0 cease to be pressed."),
        (
            "with outputs free\n    never S0.1",
            "Whatever the controller's outputs do: at no instant may contact S0.1 be closed.",
        ),
        (
            "even with any one fault\n    never S0.1",
            "Even with any one of the faults that the model knows: at no instant may contact S0.1 be closed.",
        ),
    ],
)
def test_a_form_on_the_plant_reads_as_a_sentence(form: str, sentence: str) -> None:
    """Contacts are closed or open, truths are words, quantities belong to their part."""
    assert _restated(PLANT, form) == sentence


def test_expectations_and_assumptions_are_restated_too() -> None:
    """`expect` counts from the last event; an assumption says that it is taken for granted."""
    text = (
        HEAD
        + 'assume "A"\n    level <= 90 cm\n\nscenario "S"\n    at 1 s press a\n'
        + "    expect run within 3 s\n    expect not run for 1 s\n    expect run\n"
    )
    program = understand_texts({"test.rung": text}).program
    assert program is not None
    assert program.assumptions[0].restatement == "It is taken for granted that at every instant level is at most 90 cm."
    assert [e.restatement for e in program.scenarios[0].expectations] == [
        "At some instant no more than 3 s after the last event, run must be on.",
        "From the last event until 1 s later, run must be off.",
        "When the story ends, run must be on.",
    ]
