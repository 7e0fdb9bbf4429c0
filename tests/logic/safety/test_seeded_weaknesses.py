"""Weaknesses put into copies of the examples: each gives the finding that a safety reviewer would write.

The unspoilt example never gives it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import pytest
from rungproof.grammar.catalogue import CATALOGUE
from rungproof.grammar.diagnosis import Reporter
from rungproof.logic.meaning.findings.every import report_findings
from rungproof.logic.meaning.program import Program
from rungproof.logic.safety.independence import independence_of
from rungproof.logic.safety.restart import restart_of

Copy = Callable[..., Program]


@dataclass(frozen=True)
class Weakness:
    """A weakness: the example, the changes, who must find it, and what it is called; `about` must be named in it."""

    name: str
    example: str
    changes: tuple[tuple[str, str], ...]
    finder: Literal["findings", "independence", "restart"]
    code: str
    about: str

    def __str__(self) -> str:
        return self.name


FLOAT_RELAY = (
    ("    relay K1 ", "    relay K2            make contacts 2\n    relay K1 "),
    ("        S0.1\n        LS2\n", "        S0.1\n        K2.1\n"),
    (
        'circuit "Pump supply',
        'circuit "Float" from P24\n    rung float\n        LS2\n        => K2\n\ncircuit "Pump supply',
    ),
    ("float_ok      at X1:4   from LS1", "float_ok      at X1:4   from K2.2"),
)

READ_BACK = """    rung read_back "Both contactors have dropped out"
        Q1.1
        Q2.1
        => K9.read_back
"""

MODULE_RESET = """    rung reset "Acts when it is let go"
        S3.1
        => K9.reset
"""

FED_BOTH = """        S0.1                                     # feeds both rungs
        LS1
        water_on"""

FAN_RESET = """rung failure_reset
    rising reset_pb
    => reset failed
"""

FAN_SEALED = "    running or fan_on                            # so that a reset within the run-on starts nothing\n"

ROUND_THE_STOP = "    (rising start_pb and rested and stop_ok) or running\n"

WEAKNESSES = [
    Weakness("one relay for two layers", "header_tank", FLOAT_RELAY, "independence", "layers-share-one", "K2"),
    Weakness(
        "one float for two layers",
        "header_tank",
        (
            ("contact opens on rise at 95 cm, closes on fall at 92 cm", "contact opens on rise at 90 cm"),
            ("float_ok      at X1:4   from LS1", "float_ok      at X1:4   from LS2"),
        ),
        "independence",
        "layers-share-one",
        "LS2",
    ),
    Weakness(
        "the same contact in a circuit and at an input",
        "header_tank",
        (("estop_ok      at X1:3   from S0.2", "estop_ok      at X1:3   from S0.1"),),
        "findings",
        "contact-shared",
        "S0.1",
    ),
    Weakness(
        "emergency stop in the program only",
        "header_tank",
        (("        S0.1\n        LS2\n", "        LS2\n"),),
        "findings",
        "estop-program-only",
        "S0",
    ),
    Weakness(
        "unmonitored contactors",
        "branch_chipper",
        (
            (READ_BACK, ""),
            ("    q1_out        at X1:4   from Q1.2\n", "    q1_out        at X1:4\n"),
            ("    q2_out        at X1:5   from Q2.2\n", "    q2_out        at X1:5\n"),
        ),
        "independence",
        "unmonitored",
        "Q1",
    ),
    Weakness(
        "a float that closes for danger",
        "header_tank",
        (
            ("opens on rise at 95 cm, closes on fall at 92 cm", "closes on rise at 95 cm, opens on fall at 92 cm"),
            ("    estop_ok\n    float_ok\n    supply_ok", "    estop_ok\n    not float_ok\n    supply_ok"),
            ("    not float_ok\n    on-delay", "    float_ok\n    on-delay"),
            ("    rising reset_pb\n    float_ok\n", "    rising reset_pb\n    not float_ok\n"),
        ),
        "independence",
        "not-fail-safe",
        "X1:4",
    ),
    Weakness(
        "a trip relay that needs a supply of its own to act",
        "header_tank",
        (
            ("opens on rise at 100 cm, closes on fall at 97 cm", "closes on rise at 100 cm, opens on fall at 97 cm"),
            ("    relay K1 ", "    supply P25          24 V\n    relay K2            break contact\n    relay K1 "),
            ("        S0.1\n        LS2\n", "        S0.1\n        K2\n"),
            ('circuit "Pump', 'circuit "Trip" from P25\n    rung trip\n        LS2\n        => K2\n\ncircuit "Pump'),
        ),
        "independence",
        "not-fail-safe",
        "P25",
    ),
    Weakness(
        "the program is the only guard",
        "dosing",
        (
            (FED_BOTH, "        water_on"),
        ),
        "independence",
        "program-alone",
        "water_on",
    ),
    Weakness(
        "the loop's own transmitter as its guard",
        "header_tank",
        (
            ("    float_ok\n    supply_ok ", "    volume < 250 L\n    supply_ok "),
            ("    not float_ok\n    on-delay", "    volume > 250 L\n    on-delay"),
            ("    rising reset_pb\n    float_ok\n", "    rising reset_pb\n"),
            ("never pump_enable and (not float_ok or not estop_ok)", "never pump_enable and volume > 260 L"),
        ),
        "independence",
        "cause-is-the-guard",
        "LT1",
    ),
    Weakness(
        "a trip that clears itself",
        "ventilation_fan",
        (("    => set failed", "    => failed"), (FAN_RESET, ""), (FAN_SEALED, "")),
        "restart",
        "fault clearing",
        "fan_on",
    ),
    Weakness(
        "an emergency stop whose release starts again",
        "branch_chipper",
        (("monitored reset", "automatic reset"), (MODULE_RESET, ""),
         ("    not module_off\n", ""), ("    not unanswered\n", "")),
        "restart",
        "emergency stop release",
        "M1",
    ),
    Weakness(
        "a start button that may be taped down",
        "branch_chipper",
        (("    rising start_pb or run\n", "    start_pb or run\n"),),
        "restart",
        "power return",
        "run",
    ),
    Weakness(
        "an overload relay that resets itself",
        "branch_chipper",
        (
            ("cools in 30 s, break", "cools in 30 s, automatic reset, break"),
            ("    not unanswered\n", ""),
            ("    at 60 s     set F2.reset on\n", "    at 60 s     release S1\n"),  # there is none to press any more
        ),
        "restart",
        "fault clearing",
        "M1",
    ),
    Weakness(
        "a seal-in that goes round the stop",
        "header_tank",
        (("    (rising start_pb and rested) or running\n    stop_ok\n", ROUND_THE_STOP),),
        "findings",
        "seal-in-goes-round",
        "stop_ok",
    ),
]  # fmt: skip


def found(weakness: Weakness, program: Program) -> list[str]:
    """What was found under the weakness's code, in words."""
    match weakness.finder:
        case "findings":
            reporter = Reporter(CATALOGUE)
            report_findings(program, reporter)
            return [d.message for d in reporter.found if d.code == weakness.code]
        case "independence":
            findings = independence_of(program).findings
            return [f"{f.message} {f.elements}" for f in findings if f.code == weakness.code and f.grade == "warning"]
        case "restart":
            rows = restart_of(program).rows
            return [row.moving for row in rows if row.word == "restarts" and row.group == weakness.code]


@pytest.mark.parametrize("weakness", WEAKNESSES, ids=str)
def test_a_weakness_is_found(copy: Copy, weakness: Weakness) -> None:
    """In the copy the finding is there and names what is weak; in the example as it stands it is not."""
    there = found(weakness, copy(weakness.example, *weakness.changes))
    assert any(weakness.about in words for words in there), there
    if weakness.finder != "restart":
        assert not any(weakness.about in words for words in found(weakness, copy(weakness.example)))


@pytest.mark.parametrize("name", ["branch_chipper", "ventilation_fan"])
def test_the_examples_as_they_stand_have_none_of_these_restarts(copy: Copy, name: str) -> None:
    """The restarts of the copies come from what was put into them."""
    spoilt = {(w.about, w.code) for w in WEAKNESSES if w.example == name and w.finder == "restart"}
    rows = restart_of(copy(name)).rows
    assert not spoilt & {(row.moving, row.group) for row in rows if row.word == "restarts"}
