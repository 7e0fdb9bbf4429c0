"""Reports that the tests of this folder share, each made once in a process."""

from __future__ import annotations

from pathlib import Path

import pytest
from rungproof.logic import api
from rungproof.logic.report.evidence import Evidence
from rungproof.logic.report.report_page import report_page

REMARK = "<script>alert(1)</script> \u05d0\u05d1 <b>bold</b> " + "long " * 2000

TEXT = f"""\
controller "Pump & <i>valve</i>" every 10 ms

tags
    start_pb  input   bool                "{REMARK}"
    stop_ok   input   bool
    pump      output  bool   on stop off

rung run "{REMARK}"
    rising start_pb or pump
    stop_ok
    => pump

hazard H1 "It runs & <u>runs</u>"

assume "Somebody <em>looks</em>"
    stop_ok or start_pb or not start_pb

requirement R1 "The stop button ends the run" against H1
    never pump and not stop_ok

requirement R2 "It <script>never</script> runs"
    never pump

scenario "A start <script>"
    at 0 s      set stop_ok on
    at 20 ms    set start_pb on
    expect      pump within 50 ms
"""

SCENARIO = """
scenario "Up"
    at 100 ms   press S1 for 2 s
    expect      not M1.energised within 1 s
    ends        at 5 s
"""


@pytest.fixture(scope="session")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("evidence") / "pump.rung"
    path.write_text(TEXT, encoding="utf-8", newline="\n")
    return path


@pytest.fixture(scope="session")
def evidence(file: Path) -> Evidence:
    return api.evidence(file)


@pytest.fixture(scope="session")
def page(evidence: Evidence) -> str:
    return report_page(evidence, "Made on a day.")


@pytest.fixture(scope="session")
def machine(tmp_path_factory: pytest.TempPathFactory) -> Evidence:
    """A small machine with a plant: a table that a button lifts, behind a guard."""
    path = tmp_path_factory.mktemp("table") / "table.rung"
    path.write_text((Path(__file__).parent / "lift_table.txt").read_text(encoding="utf-8") + SCENARIO, encoding="utf-8")
    return api.evidence(path)
