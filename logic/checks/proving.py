"""Proof before search: what holds for every input needs no run, and what cannot hold gets the shortest story.

The prover leaves the inputs of the program free. With a plant that covers more than the
plant can do, so its `breakable` is no violation: the search has the last word there.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from rungproof.logic.checks.words import many, span_words
from rungproof.logic.meaning.program import Program, Requirement, Story

if TYPE_CHECKING:
    from rungproof.logic.proofs.certificate import Certificate
    from rungproof.logic.proofs.envelope import Fact
    from rungproof.logic.proofs.prove import ProofResult

#: Called with requirements decided, requirements there are, and what is being done.
Progress = Callable[[int, int, str], None]


@dataclass(frozen=True, slots=True)
class Proof:
    """What a proof says of one requirement.

    `word` None leaves the verdict to the search, and `reason` (which may be empty) is added to
    its own. `certificate` belongs to `proved` and `vacuous`. `story` violates it at `at` ms, and
    the search's shrinking and confirmation are still to come. `facts` are what the plant must keep to for
    it to count. `least`: in words that no story is shorter, where that was shown, of any that ends at `at`.
    """

    word: Literal["proved", "exhausted", "vacuous"] | None
    reason: str
    certificate: Certificate | None = None
    story: Story | None = None
    at: int = 0
    trouble: str | None = None
    facts: tuple[Fact, ...] = ()
    least: str = ""


#: Stands in a proof's reason for the numbers of its assumptions, until those are known.
ASSUMING = "its assumptions"

#: What a proof about the machine itself covers.
PLANT_LEFT_FREE = (
    "holds whatever people, power and the world do; every level, flow and other amount, and every output of the "
    "program, were left free at every tick, and no part fails"
)


def prove_all(
    program: Program,
    names: Collection[str],
    time_s: float,
    progress: Progress | None = None,
    *,
    rationed: bool = False,
) -> dict[str, Proof]:
    """Try to decide `names` for every input, each within `time_s` seconds. Loads the solvers only now."""
    from rungproof.logic.proofs.prove import prove_program

    def told(name: str, done: int, there: int) -> None:
        if progress is not None:
            progress(done, there, f"proving: {name} is decided")

    found = prove_program(program, time_s=time_s, only=names, progress=told, rationed=rationed, further=True)
    wanted = {each.name: each for each in program.requirements}
    return {name: _proof(program, wanted[name], result) for name, result in found.items()}


def _proof(program: Program, requirement: Requirement, result: ProofResult) -> Proof:
    if result.word in ("proved", "vacuous") and result.invariant is not None:
        return _held(program, requirement, result)
    if result.word == "exhausted" and result.tried is not None:
        counted = f"{many(result.tried.states, 'state')} and {many(result.tried.transitions, 'transition')}"
        again = ", and counted again one by one" if result.tried.again else ""
        reason = f"{_for_every(program, requirement, result)}; all {counted} were tried{again}"
        return Proof("exhausted", reason, facts=result.facts)
    if result.word == "violated" and result.story is not None and result.violated_at is not None:
        least = _least(program, requirement, result)
        return Proof(None, "", story=result.story, at=result.violated_at, least=least)
    if result.word == "breakable":
        if requirement.instants == "tick":
            free = "the amounts" if result.way == "loop" else "the amounts or of the program's outputs"
            return Proof(None, f"not proved: some course of {free} would break it, with each free at every tick")
        return Proof(None, "some course of the inputs would break it, so it rests on the plant")
    if result.word == "undecided":
        # a run that breaks it was found, and only the story of it is missing: no search may call that simulated
        trouble = result.why if result.run is not None else None
        return Proof(None, f"not proved: {result.why}" if result.why else "not proved", trouble=trouble)
    return Proof(None, f"not proved: {result.why}" if result.word == "declined" else "")


def _least(program: Program, requirement: Requirement, result: ProofResult) -> str:
    """That no story is shorter, in words; empty where that was not shown, or where time is no measure of it."""
    controller, story = program.controller, result.story
    if not result.shortest or controller is None or story is None:
        return ""
    if requirement.instants == "tick":
        return "no shorter story violates it: bounded checking of the machine with its program has shown that"
    interrupted = any(program.knobs[event.key].kind in ("power", "stop") for event in story.events)
    steady = controller.scan_low == controller.scan_high and not interrupted
    if not steady or result.violated_at != result.depth * controller.scan_low:
        return ""
    return f"no story of fewer than {many(result.depth, 'scan')} violates it: bounded checking has shown that"


def _held(program: Program, requirement: Requirement, result: ProofResult) -> Proof:
    from rungproof.logic.proofs.certificate import certify
    from rungproof.logic.versions import versions

    assert result.invariant is not None
    certificate = certify(program, requirement, result.invariant, result.engine, versions(), way=result.way)
    checked = f"found by {result.engine}, checked again by another solver"
    if result.word == "vacuous":
        reason = f"its trigger can never come, whatever the inputs do ({checked})"
        return Proof("vacuous", reason, certificate, facts=result.facts)
    return Proof("proved", f"{_for_every(program, requirement, result)}; {checked}", certificate, facts=result.facts)


#: What a proof within an envelope covers.
IN_ITS_ENVELOPE = (
    "holds whatever people, power, the world and the outputs of the program do, as long as the plant keeps to "
    "{}; every other amount was left free at every tick, and no part fails"
)


#: What a proof with the program in the loop covers.
IN_THE_LOOP = (
    "holds of the machine with its program whatever people, power and the world do{}; every level, flow and other "
    "amount was left free at every tick"
)
ONE_FAULT = (
    ", with any one of all the faults that could matter and are not left out of account, at any time, lasting or "
    "coming and going"
)


def loop_words(requirement: Requirement) -> str:
    """What a proof of a requirement with the program in the loop covers."""
    return IN_THE_LOOP.format(ONE_FAULT if requirement.any_one_fault else ", and no part fails")


def _for_every(program: Program, requirement: Requirement, result: ProofResult) -> str:
    if result.way == "loop":
        return loop_words(requirement)
    if result.facts:
        return IN_ITS_ENVELOPE.format(ASSUMING)
    if requirement.instants == "tick":
        return PLANT_LEFT_FREE
    controller = program.controller
    scans = ""
    if controller is not None and controller.scan_low != controller.scan_high:
        scans = f", every scan time from {span_words(controller.scan_low)} to {span_words(controller.scan_high)}"
    parameters = " and every parameter" if any(knob.kind == "parameter" for knob in program.knobs.values()) else ""
    stops = ", every stop of the controller" if requirement.any_one_fault else ""
    plant = "; the inputs were left free, whatever feeds them" if program.plant is not None else ""
    return f"holds for every course of the inputs{scans}, every power cut between scans{stops}{parameters}{plant}"
