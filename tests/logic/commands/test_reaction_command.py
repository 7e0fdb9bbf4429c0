"""`rungproof reaction`: the longest time from a cause to its effect, proved from above and seen from below."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from rungproof.logic import reaction
from rungproof.logic.commands.main import main

Validated = Callable[[Path], dict[str, Any]]


FAN = """\
controller "Fan" every 10 ms

tags
    run_ok  input   bool
    lamp    output  bool  on stop off

rung lamp
    not run_ok
    on-delay 50 ms as gone
    => lamp

requirement R1 "The lamp tells it within 100 ms"
    whenever not run_ok and scanning has stood for 100 ms then lamp
"""


@pytest.fixture
def fan(tmp_path: Path) -> Path:
    path = tmp_path / "fan.rung"
    path.write_text(FAN, encoding="utf-8")
    return path


def test_the_longest_time_is_proved_and_seen(
    fan: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], validated: Validated
) -> None:
    """The stage's 50 ms to the millisecond: a story shows one less, and replays as a violation of that."""
    out, stories = tmp_path / "out.json", tmp_path / "stories"
    assert main(["reaction", str(fan), "--json", str(out), "--stories", str(stories)]) == 0
    result = validated(out)
    (chain,) = result["chains"]
    assert (chain["allowed_ms"], chain["proved_ms"], chain["margin_ms"]) == (100, 50, 50)
    assert chain["seen_ms"] is not None
    assert chain["seen_ms"] < 50
    assert chain["through"] == ["gone"]
    tighter = FAN.replace("stood for 100 ms", f"stood for {chain['seen_ms']} ms")
    fan.write_text(tighter, encoding="utf-8")
    assert main(["replay", str(fan), str(stories / "R1.rung")]) == 1
    assert "not a safety-rated tool" in capsys.readouterr().out


def test_a_chain_that_is_too_slow_is_not_proved(fan: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit code 3, and the reason."""
    fan.write_text(FAN.replace("stood for 100 ms", "stood for 30 ms"), encoding="utf-8")
    assert main(["reaction", str(fan)]) == 3
    assert "the requirement itself is violated" in capsys.readouterr().out


def test_without_times_there_is_no_chain(good: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit code 3, and what to write."""
    assert main(["reaction", str(good)]) == 3
    assert "has stood for T" in capsys.readouterr().out
    assert main(["reaction", str(good.parent / "nowhere")]) == 2


def test_a_chain_through_relays_is_proved() -> None:
    """The press's emergency stop by wire: a tick of the stop module, the relays' drop-out, to a tick more."""
    result = reaction(Path(__file__).parents[3] / "examples" / "press_guard")
    chains = {each.requirement: each for each in result.chains}
    assert (chains["R6"].proved, chains["R6"].seen) == (35, 30)
    assert "K1" in chains["R6"].through
    assert "any one thing failed" in chains["R8"].why
    assert "nothing was measured on a machine" in result._repr_html_()
