"""Two versions that part only after minutes are told apart by the stories of a search."""

from __future__ import annotations

from rungproof.logic.checks.check import check_program
from rungproof.logic.compare_results import compare_understood
from rungproof.logic.compare_runs import side_by_side
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
STORY = """
scenario "A start after the rest, and a high float"
    at 0 s      set float_ok on
    at 250 s    set start_pb on
    at 251 s    set start_pb off
    at 252 s    set float_ok off
    expect      not pump within 1 s
"""


def program(text: str) -> Program:
    found = understand_texts({"pump.rung": text}).program
    assert found is not None
    return found


def test_a_difference_after_minutes_is_found_and_replays() -> None:
    """12,000 scans are too many for a solver; the old version's scenarios and the search run that far."""
    changed = PUMP.replace("    float_ok\n    => pump", "    float_ok or pump\n    => pump")
    old, new = program(PUMP + STORY), program(changed)
    result = compare_understood(old, new, time_s=3, certificates={})
    parting = result.comparison.parting
    assert result.word == "different" and parting is not None and parting.in_plant
    values = [ReferenceEngine().run(each, parting.old_story, record=True).final[parting.tag] for each in (old, new)]
    assert values == [parting.old, parting.new] and parting.old != parting.new
    assert result.stories is not None and result.exit_code == 1


def test_versions_side_by_side_keep_their_names_apart() -> None:
    """Each has its own tags and stages; inputs and parameters are shared; a version never parts from itself."""
    both = side_by_side(program(PUMP), program(PUMP), ("pump",))
    assert both.controller is not None
    assert set(both.controller.tags) == {"start_pb", "float_ok", "pump", "rested", "pump of new", "rested of new"}
    assert set(both.controller.stages) == {"rest_time", "rest_time of new"}
    assert check_program(both, time_s=1, unhurried=True).verdicts[0].word == "simulated"
