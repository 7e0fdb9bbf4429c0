"""The formatter on chosen texts; its laws stand in `test_round_trip`."""

from __future__ import annotations

import pytest
from rungproof.grammar import CATALOGUE, FormatterError, Reporter, format_text
from rungproof.grammar import formatter as formatter_module

UNTIDY = """\


# The yard's controller
controller   "Yard"   every 20ms   # fast enough
tags
  start_pb input bool "Start"
  speed output real V 0..10 on stop 0V   # to the drive

  # kept through a cut
  trip memory bool retained



rung   run   "Seals in"
        ( rising start_pb )or   run_lamp# both
        #  why not
        =>run_lamp
        => a:=1
        => bcd   :=2
        # last words
#left
use "plant.rung"
hazard H1 "Flood" safe state not pump
hazard H2 "The pump moves when it must not"    safe state not pump
circuit "Motor" from P24
  rung m
     S1
     => K1
  # between
  rung n
     S2
     => K2
scenario "x"
  at 5min press S1 for 200ms
  expect lamp
"""

TIDY = """\
# The yard's controller
controller "Yard" every 20 ms                    # fast enough
tags
    start_pb  input   bool   "Start"
    speed     output  real V 0..10   on stop 0 V    # to the drive

    # kept through a cut
    trip      memory  bool           retained

rung run "Seals in"
    (rising start_pb) or run_lamp                # both
    #  why not
    => run_lamp
    => a   := 1
    => bcd := 2
    # last words
#left
use "plant.rung"
hazard H1 "Flood"                                safe state not pump
hazard H2 "The pump moves when it must not"      safe state not pump
circuit "Motor" from P24
    rung m
        S1
        => K1
    # between
    rung n
        S2
        => K2
scenario "x"
    at 5 min    press S1 for 200 ms
    expect      lamp
"""


def test_an_untidy_file_becomes_tidy() -> None:
    """Columns, depth, blanks, comments: all in one text to look at."""
    reporter = Reporter(dict(CATALOGUE))
    assert format_text(UNTIDY, "x.rung", reporter) == TIDY


@pytest.mark.parametrize(
    "text",
    ["rung r\n    a and\n    => b\n", "rung r\n    a\n", 'requirement R1 "x"\n', "", "tags\n    x memory\n"],
)
def test_a_half_finished_file_is_refused_with_its_diagnosis(text: str) -> None:
    """Nothing is laid out that could not be read whole."""
    reporter = Reporter(dict(CATALOGUE))
    assert format_text(text, "x.rung", reporter) is None
    assert reporter.has_errors


def test_a_formatter_that_would_change_the_meaning_raises(monkeypatch: pytest.MonkeyPatch) -> None:
    """The check on itself works: spoiled output is never handed out."""
    lay_out = formatter_module.lay_out
    monkeypatch.setattr(formatter_module, "lay_out", lambda rows: lay_out(rows).replace("not a", "a"))
    with pytest.raises(FormatterError, match="would change what it says"):
        format_text("rung r\n    not a\n    => b\n", "x.rung", Reporter(dict(CATALOGUE)))
