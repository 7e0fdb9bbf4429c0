"""All cases in one encoding: a proof of one case is taken for another only where it is one."""

from __future__ import annotations

from rungproof.logic.proofs.case_whole import AllCases
from rungproof.logic.proofs.chance import drawn
from rungproof.logic.proofs.contract import Result, run_of
from rungproof.logic.proofs.literals import Clause, Literal
from rungproof.logic.proofs.portfolio import Forms, decide
from rungproof.logic.proofs.run import first_bad
from rungproof.logic.proofs.system import System
from rungproof.logic.steps.node import Node, apply, both, constant, either, variable
from rungproof.logic.steps.step import InputVariable, StateVariable, Step

CASE, PRESSED, KEPT, SOON = (
    variable(name, kind) for name, kind in (("which", "int"), ("pressed", "bool"), ("kept", "bool"), ("soon", "bool"))
)
KEPT_OFF: Clause = (Literal("kept", None, False),)


def is_case(number: int) -> Node:
    return apply("eq", CASE, constant(number))


def three_cases() -> System:
    """`kept` comes on two transitions after a press in case 2, and never in the others; while it is on it is bad."""
    step = Step(
        {
            "which": StateVariable("which", "int", 0, 0, 2),
            "soon": StateVariable("soon", "bool", False),
            "kept": StateVariable("kept", "bool", False),
        },
        {"pressed": InputVariable("pressed", "bool")},
        {"soon": PRESSED, "kept": either(KEPT, both(SOON, is_case(2)))},
        {"bad": KEPT, "triggered": PRESSED},
    )
    return System(step, "R1", 1, free_starts=frozenset({"which"}), case="which")


def all_cases() -> AllCases:
    system = three_cases()
    return AllCases(system, Forms(system, "bad").fine, "bad")


def test_a_proof_serves_the_cases_that_it_holds_in_and_no_other() -> None:
    """What keeps itself in two cases is taken there; in the third, where it breaks, nothing is."""
    cases = all_cases()
    cases.serve((KEPT_OFF,))
    assert [cases.proof(case) is not None for case in (0, 1, 2)] == [True, True, False]


def test_clauses_that_do_not_keep_the_output_off_serve_nobody() -> None:
    """They may follow from themselves; what they are to show they do not."""
    system = three_cases()
    cases = AllCases(system, Forms(system, "bad").fine, "bad")
    cases.serve(((Literal("which", 2),),))
    assert [cases.proof(case) for case in (0, 1, 2)] == [None, None, None]


def test_clauses_that_are_off_at_the_start_are_not_kept() -> None:
    """A clause that begins broken proves nothing, whatever follows from it."""
    system = three_cases()
    cases = AllCases(system, Forms(system, "bad").fine, "bad")
    cases.serve(((Literal("soon"),), KEPT_OFF))
    cases.serve(((Literal("nobody's", None, False),), KEPT_OFF))
    assert cases.served == []


def ended(system: System, output: str) -> Result:
    engine = drawn(system, Forms(system, output).coarse, output)
    try:
        while True:
            next(engine)
    except StopIteration as end:
        result: Result = end.value
        return result


def test_runs_drawn_by_chance_show_what_is_soon_bad_and_never_prove() -> None:
    """The run that is found is bad in its last transition; where nothing is bad, nothing is known."""
    system = three_cases()
    found = ended(system, "bad")
    assert found.word == "refuted"
    assert found.found is not None
    run = run_of(system, Forms(system, "bad").plain, found.found)
    assert first_bad(system, run) == len(run.given) - 1
    never = System(Step({}, system.step.inputs, {}, {"bad": constant(False), "triggered": PRESSED}), "R1", 1)
    assert ended(never, "bad").word == "unknown"


def test_any_run_is_enough_where_it_is_said_so() -> None:
    """The word is the same; only that the run is the shortest is no longer claimed."""
    system = three_cases()
    shortest, some = decide(system, "bad", 10.0), decide(system, "bad", 10.0, any_run=True)
    assert (shortest.word, some.word) == ("refuted", "refuted")
    assert shortest.shortest
    assert shortest.run is not None
    assert some.run is not None
    assert len(shortest.run.given) <= len(some.run.given)
