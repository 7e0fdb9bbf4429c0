"""Two versions that part only after minutes are told apart by the stories of a search."""

from __future__ import annotations

import pytest
from rungproof.logic.compare_results import compare_understood
from rungproof.logic.engines.reference import ReferenceEngine
from rungproof.logic.meaning.program import Program
from rungproof.logic.meaning.understand import understand_texts

PUMP = """\
controller "Pump" every 20 ms

tags
    start_pb  input   bool
    float_ok  input   bool
    pump      output  bool  on stop off
    rested    memory  bool

rung rest
    not pump
    on-delay 4 min as rest_time
    => rested

rung pump
    (rising start_pb and rested) or pump
    float_ok
    => pump
"""
ASKED = '\nrequirement R1 "The pump waits for the float"\n    never pump and not float_ok\n'


def program(text: str) -> Program:
    found = understand_texts({"pump.rung": text}).program
    assert found is not None
    return found


@pytest.mark.slow
@pytest.mark.parametrize("more", ["", ASKED], ids=["nothing is asked for", "with a requirement"])
def test_a_difference_after_minutes_is_found_and_replays(more: str) -> None:
    """12,000 scans are too many for a solver; a run reaches them, and the reference engine sees both versions part."""
    changed = PUMP.replace("    float_ok\n    => pump", "    float_ok or pump\n    => pump")
    old, new = program(PUMP + more), program(changed + more)
    result = compare_understood(old, new, time_s=60, certificates={})
    parting = result.comparison.parting
    assert result.word == "different" and parting is not None and parting.in_plant
    values = [ReferenceEngine().run(each, parting.old_story, record=True).final[parting.tag] for each in (old, new)]
    assert values == [parting.old, parting.new] and parting.old != parting.new
    assert result.stories is not None and result.exit_code == 1
