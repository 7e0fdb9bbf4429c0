"""Boolean slices over bits give in every lane what the plain interpreter gives it."""

from __future__ import annotations

from random import Random

import agreement
import generated_programs as programs
import pytest
from rungproof.logic.engines.bits import BitStep, NotBooleanError
from rungproof.logic.steps.closed_loop import closed_loop
from rungproof.logic.steps.interpret import advance, start
from rungproof.logic.steps.lowered import lower_program
from rungproof.logic.steps.node import apply, select, variable
from rungproof.logic.steps.step import InputVariable, StateVariable, Step

LANES, SCANS = 70, 30


def _assert_agree(step: Step, random: Random) -> None:
    """Walk `LANES` lanes over bits, and each of them alone."""
    bits = BitStep(step, LANES)
    words = bits.start()
    alone = [start(step) for _ in range(LANES)]
    for _ in range(SCANS):
        inputs = {name: random.getrandbits(LANES) for name in step.inputs}
        words, shown = bits.advance(words, inputs)
        for lane in range(LANES):
            given = {name: bool(word >> lane & 1) for name, word in inputs.items()}
            alone[lane], outputs = advance(step, alone[lane], given)
            assert outputs == {name: bool(word >> lane & 1) for name, word in shown.items()}


def test_boolean_slices_of_generated_programs_agree() -> None:
    """Every boolean output of a generated controller whose cone holds no number; there are many."""
    tried = 0
    for seed in range(40):
        random = Random(seed)
        program = agreement.program_of(programs.controller_text(random))
        if program is None:
            continue
        loop = closed_loop(lower_program(program))
        for name in loop.outputs:
            cone = loop.slice([name])
            if cone.states and all(node.type == "bool" for node in cone.nodes) and tried < 60:
                tried += 1
                _assert_agree(cone, random)
    assert tried > 20


@pytest.mark.parametrize("seed", range(20))
def test_every_boolean_operator_agrees(seed: int) -> None:
    """Random expressions over all operators that booleans have."""
    random = Random(seed)
    nodes = [variable(f"v{i}", "bool") for i in range(4)]
    for _ in range(25):
        a, b, c = (random.choice(nodes) for _ in range(3))
        nodes.append(
            random.choice([apply("and", a, b), apply("or", a, b), apply("not", a), apply("eq", a, b), select(a, b, c)])
        )
    states = {"v0": StateVariable("v0", "bool", True), "v1": StateVariable("v1", "bool", False)}
    inputs = {f"v{i}": InputVariable(f"v{i}", "bool") for i in (2, 3)}
    _assert_agree(Step(states, inputs, {"v0": nodes[-1], "v1": nodes[-2]}, {"out": nodes[-3]}), random)


def test_numbers_are_refused() -> None:
    """A Step with a number in it is no work for bits, and the number is named."""
    step = Step({}, {"n": InputVariable("n", "int", 0, 9)}, {}, {"n": variable("n", "int")})
    with pytest.raises(NotBooleanError, match="`n` is a number"):
        BitStep(step, 8)
