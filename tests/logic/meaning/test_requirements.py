"""Requirements, hazards and assumptions: what they mean, where they look, how long they need."""

from __future__ import annotations

import pytest
from rungproof.grammar.catalogue.findings_plant import SOUND
from rungproof.logic.meaning import program
from rungproof.logic.meaning.understand import Understanding, understand_texts


def _understood(text: str) -> Understanding:
    return understand_texts({"sound.rung": SOUND.files["sample.rung"] + "\n" + text})


def _requirement(form: str) -> program.Requirement:
    understood = _understood(f'requirement R1 "As signed"\n    {form}\n')
    assert understood.program is not None, [d.message for d in understood.diagnoses]
    return understood.program.requirements[0]


@pytest.mark.parametrize(
    ("form", "instants", "looked_at"),
    [
        ("never fill and not stop_ok", "scan", "at the terminals"),
        ("always distance < 200 cm", "scan", "in the program"),
        ("never fill and distance > 120 cm", "scan", "in the program"),
        ("never start_pb and not stop_ok", "scan", "in the program"),
        ("never fill and not S2.1", "tick", "at the machine"),
        ("always t.level < 100 cm", "tick", "at the machine"),
        ("never S2.pressed and p.energised", "tick", "at the machine"),
    ],
)
def test_a_requirement_looks_where_what_it_reads_is(form: str, instants: str, looked_at: str) -> None:
    """Tags alone at scan ends; anything of the plant at every tick."""
    requirement = _requirement(form)
    assert (requirement.instants, requirement.looked_at) == (instants, looked_at)


@pytest.mark.parametrize(
    ("form", "kind", "horizon"),
    [
        ("never fill and not stop_ok", program.Never, 0),
        ("always fill or not fill", program.Always, 0),
        ("whenever fill then stop_ok", program.Whenever, 0),
        ("whenever fill then p.turning within 2 s", program.Whenever, 2000),
        ("whenever fill then p.turning for 1 min", program.Whenever, 60_000),
        ("whenever fill has stood for 100 ms then p.turning", program.Stood, 100),
        ("after falling stop_ok never rising fill until rising start_pb", program.AfterNever, 0),
        ("at most 4 rising fill in any 1 h", program.AtMost, 3_600_000),
        ("start_pb before fill", program.Before, 0),
        ("from 10 s whenever fill then p.turning within 2 s", program.Whenever, 12_000),
    ],
)
def test_every_form_has_its_meaning_and_its_horizon(form: str, kind: type, horizon: int) -> None:
    """The horizon is the time before the form looks, plus the times in it."""
    requirement = _requirement(form)
    assert isinstance(requirement.form, kind)
    assert requirement.horizon == horizon


def test_scope_lines_and_hazards_are_kept() -> None:
    """`against`, `with outputs free` and `even with any one fault` reach the program."""
    text = (
        'hazard H1 "It overflows" safe state not p.energised\n\n'
        'requirement R1 "A" against H1\n    with outputs free\n    always t.level < 105 cm\n\n'
        'requirement R2 "B" against H1\n    even with any one fault\n    always t.level < 105 cm\n'
    )
    understood = _understood(text)
    assert understood.program is not None
    first, second = understood.program.requirements
    assert (first.against, first.outputs_free, first.any_one_fault) == (("H1",), True, False)
    assert (second.against, second.outputs_free, second.any_one_fault) == (("H1",), False, True)
    assert understood.program.hazards[0].safe_state is not None


@pytest.mark.parametrize("condition", ["not p.energised", "t.level < 100 cm", "stop_ok", "not S1.pressed", "K1.1"])
def test_an_assumption_speaks_of_inputs_and_plant(condition: str) -> None:
    """All these are of the world."""
    understood = _understood(f'assume "A"\n    {condition}\n')
    assert understood.program is not None
    assert len(understood.program.assumptions) == 1


@pytest.mark.parametrize("condition", ["fill", "distance < 10 cm", "power_up", "t.level < 100 cm and not fill"])
def test_an_assumption_cannot_speak_of_what_the_program_does(condition: str) -> None:
    """Outputs, memory and the program's own moments are what has to be shown."""
    assert [d.code for d in _understood(f'assume "A"\n    {condition}\n').diagnoses] == ["assumes-own-doing"]


@pytest.mark.parametrize(
    ("form", "code"),
    [
        ("never fil and not stop_ok", "unknown-in-project"),
        ("always t.levle < 100 cm", "unknown-reading"),
        ("always t < 100 cm", "cannot-stand-here"),
        ("never p.supply", "cannot-stand-here"),
        ("always t.level < 100 L", "unit-mismatch"),
        ("always t.level", "not-a-contact"),
        ("whenever fill then p.turning within 3 cm", "unit-mismatch"),
        ("never off", "requirement-reads-nothing"),
    ],
)
def test_a_requirement_that_means_nothing_is_refused(form: str, code: str) -> None:
    """One mistake each, one answer each."""
    assert [d.code for d in _understood(f'requirement R1 "A"\n    {form}\n').diagnoses] == [code]


def test_a_hazard_that_is_guarded_is_not_complained_about() -> None:
    """A near miss of `hazard-unguarded`."""
    text = 'hazard H1 "A"\n\nrequirement R1 "B" against H1\n    never fill and not stop_ok\n'
    assert _understood(text).diagnoses == ()
