"""What can be proved of a restart: after the controller's power has come back, nothing until a fresh press."""

from __future__ import annotations

from dataclasses import replace

from rungproof.logic.meaning.program import AfterNever, Program, Requirement
from rungproof.logic.meaning.typed import AnyOf, EdgeOf, Expression, PowerUp, TagValue
from rungproof.logic.safety.restart_bases import Base
from rungproof.logic.safety.restart_watch import NOWHERE

#: Seconds that one proof may take.
PROOF_S = 4.0


def proved_after_power(program: Program, bases: tuple[Base, ...]) -> tuple[str, ...]:
    """Output tags of which it is proved, for every course of the inputs: after `power_up` never on until a start
    button's input rises. Proofs come from the prover, each checked again by another solver."""
    from rungproof.logic.proofs.prove import prove_program

    requirements = []
    for base in bases:
        inputs = _inputs(program, base.starts)
        requirements += [_requirement(each.key, inputs) for each in base.moving if each.is_tag and inputs]
    asked = replace(program, requirements=tuple(requirements), scenarios=(), hazards=())
    results = prove_program(asked, time_s=PROOF_S) if requirements else {}
    return tuple(name for name, result in results.items() if result.word == "proved")


def _inputs(program: Program, starts: tuple[str, ...]) -> tuple[str, ...]:
    """The input tags that the start buttons are wired to."""
    if program.plant is None:
        return starts
    parts = {start.partition(".")[0] for start in starts}
    wires = [wire for wire in program.plant.inputs if (wire.source or "").partition(".")[0] in parts]
    return tuple(wire.tag for wire in wires if wire.channel is None)


def _requirement(tag: str, inputs: tuple[str, ...]) -> Requirement:
    edges: list[Expression] = [
        EdgeOf(
            type="bool",
            span=NOWHERE,
            kind="rising",
            operand=TagValue(type="bool", span=NOWHERE, tag=name),
            slot=f"restart/{tag}/{name}",
        )
        for name in inputs
    ]
    release: Expression = edges[0] if len(edges) == 1 else AnyOf(type="bool", span=NOWHERE, operands=tuple(edges))
    form = AfterNever(PowerUp(type="bool", span=NOWHERE), TagValue(type="bool", span=NOWHERE, tag=tag), release)
    return Requirement(
        name=tag,
        sentence="",
        restatement="",
        against=(),
        form=form,
        from_time=None,
        outputs_free=False,
        any_one_fault=False,
        instants="scan",
        looked_at="at the terminals",
        horizon=0,
        span=NOWHERE,
    )
