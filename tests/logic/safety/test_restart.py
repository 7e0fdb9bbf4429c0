"""Nothing starts without a fresh, deliberate action: what is found where that is not so, and that each story replays.

Source: prevention of unexpected start-up, ISO 14118 and IEC 60204-1 7.5; Directive 2006/42/EC Annex I 1.2.4.3.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from rungproof.logic.checks.replay import replay_story
from rungproof.logic.meaning.program import Program
from rungproof.logic.meaning.understand import understand, understand_texts
from rungproof.logic.safety.restart import RestartResult, restart_of
from rungproof.logic.safety.restart_bases import bases_of
from rungproof.logic.safety.restart_watch import moving_of

Copy = Callable[..., Program]
MISTAKES = Path(__file__).parents[3] / "examples" / "mistakes"


def mistake(name: str) -> Program:
    program = understand(MISTAKES / f"{name}.rung").program
    assert program is not None
    return program


def restarting(result: RestartResult) -> set[tuple[str, str]]:
    return {(row.moving, row.group) for row in result.rows if row.word == "restarts"}


@pytest.mark.parametrize(
    ("name", "moving", "group"),
    [
        ("estop_release_restarts", "saw", "emergency stop release"),
        ("run_survives_power_cut", "", "power return"),
        ("start_button_taped_down", "", "power return"),
    ],
)
def test_the_mistakes_restart_and_their_corrections_do_not(name: str, moving: str, group: str) -> None:
    """Each wrong file restarts after its cause, its corrected one after none."""
    found = restarting(restart_of(mistake(name)))
    assert group in {each for _, each in found}
    assert not moving or moving in {each for each, _ in found}
    assert restarting(restart_of(mistake(f"{name}_corrected"))) == set()


def test_what_is_proved_after_a_power_return() -> None:
    """The corrected file is proved to stay off until a fresh press; the one that runs on through a cut is not."""
    assert restart_of(mistake("run_survives_power_cut_corrected")).proved != ()
    assert restart_of(mistake("run_survives_power_cut")).proved == ()


def test_a_story_shows_the_restart_again() -> None:
    """The story expects no restart; replayed in the reference engine it ends otherwise, and it starts nothing in the
    corrected file."""
    result = restart_of(mistake("estop_release_restarts"))
    [story] = [r.story_text for row in result.rows for r in row.restarts if r.story_text]
    replayed = replay_story(mistake("estop_release_restarts"), story)
    assert [scenario.word for scenario in replayed.scenarios] == ["not as expected"]
    corrected = replay_story(mistake("estop_release_restarts_corrected"), story)
    assert [scenario.word for scenario in corrected.scenarios] == ["as expected"]


def test_the_press_does_not_restart(copy: Copy) -> None:
    """Two-hand control with fresh hands: no cause restarts the ram, hands let go, held or put on meanwhile."""
    result = restart_of(copy("press_guard"))
    assert restarting(result) == set()
    assert dict(result.starts) == {"ram_down": ("S1.pressed", "S2.pressed"), "PR1": ("S1.pressed", "S2.pressed")}
    assert not result.cut


def test_what_a_short_at_an_output_feeds_is_no_restart(copy: Copy) -> None:
    """After a stroke a short brings the ram down by itself: said as such, for the table of faults to judge."""
    [row] = [row for row in restart_of(copy("press_guard")).rows if row.moving == "PR1" and row.restarts]
    assert (row.group, row.word) == ("fault clearing", "driven by the fault")
    assert {restart.after for restart in row.restarts} == {"while it stood"}
    assert {restart.cause for restart in row.restarts} == {"X2:1 shorted_to_supply", "X2:1 stays_on"}


def test_a_trip_reset_that_starts_the_motor(copy: Copy) -> None:
    """Without its answer from the contactors the chipper goes on asking: an overload reset by hand starts the motor."""
    result = restart_of(copy("branch_chipper", ("    not unanswered\n", "")))
    [row] = [row for row in result.rows if row.moving == "M1" and row.word == "restarts"]
    assert ("F2 trips_early", "on a reset") in {(each.cause, each.after) for each in row.restarts}
    assert restarting(restart_of(copy("branch_chipper"))) == set()


LATCHED = """controller "Fan" every 10 ms

tags
    start_pb  input      bool
    stop_ok   input      bool
    speed     parameter  int 1..9 = 5
    fan       output     bool  on stop off

rung fan
    (rising start_pb and speed > 3) or fan {or_more}
    stop_ok
    => fan
"""


def test_a_parameter_that_starts(copy: Copy) -> None:
    """A fan that a parameter alone can start is found on the rungs, with the inputs held as they were."""
    for more, restarts in (("or speed > 8", {("fan", "parameter change")}), ("", set())):
        program = understand_texts({"fan.rung": LATCHED.replace("{or_more}", more)}).program
        assert program is not None
        result = restart_of(program)
        assert ("parameter change" in {row.group for row in result.rows}) or more
        assert restarts <= restarting(result)
        assert bool(restarting(result)) is bool(more)


def test_what_never_starts_is_said() -> None:
    """A thing that no story starts is named, and the result is no clean one."""
    text = LATCHED.replace("{or_more}", "").replace("    stop_ok\n    =>", "    stop_ok\n    not stop_ok\n    =>")
    program = understand_texts({"fan.rung": text}).program
    assert program is not None
    result = restart_of(program)
    assert (result.never_started, result.exit_code) == (("fan",), 3)


def test_time_that_runs_out_is_said(copy: Copy) -> None:
    """What was not tried is no `none found` for the whole."""
    result = restart_of(copy("branch_chipper"), time_s=0.01)
    assert result.cut
    assert result.exit_code == 3
    assert result.runs <= result.planned


def test_looking_for_starts_ends_in_time(copy: Copy) -> None:
    """A plant with many dials and keys has more ways to start than there is time; that they were cut is said."""
    program = copy("branch_chipper")
    found = bases_of(program, moving_of(program), until=0)
    assert (found.bases, found.cut) == ((), True)
    assert not bases_of(program, moving_of(program)).cut
