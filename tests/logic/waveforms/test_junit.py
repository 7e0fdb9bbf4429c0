"""JUnit XML: valid against the published schema, and never greener than the verdicts.

The schema `junit-10.xsd` (MIT licence, its notice in the file) comes from the source archive of pytest 9.2.0.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
import xmlschema
from hypothesis import given
from hypothesis import strategies as st
from junitparser import Error, Failure, JUnitXml, Skipped, TestCase, TestSuite
from rungproof.logic.checks.verdict import (
    CheckResult,
    Disagreement,
    ExpectationResult,
    ScenarioResult,
    SearchFigures,
    Verdict,
    Word,
)
from rungproof.logic.commands.main import main
from rungproof.logic.waveforms.junit import junit_text

SCHEMA = xmlschema.XMLSchema(str(Path(__file__).with_name("junit-10.xsd")))

FIGURES = SearchFigures(0, "compiled", planned_runs=1, runs=1, simulated_ms=1, longest_run_ms=1)


def verdict(name: str, word: Word, sentence: str = "It holds") -> Verdict:
    return Verdict(
        name, sentence, "At no instant ...", word, "in the program", "no fault", False, "a reason", 1, 1, 1000
    )


def result(*words: Word) -> CheckResult:
    return CheckResult(tuple(verdict(f"R{k}", word) for k, word in enumerate(words)), (), (), FIGURES)


def suite_of(text: str) -> TestSuite:
    """The one suite, as junitparser reads it."""
    (suite,) = list(JUnitXml.fromstring(text.encode("utf-8")))
    assert isinstance(suite, TestSuite)
    return suite


def test_the_schema_itself_refuses_what_is_wrong() -> None:
    """Neither an unknown element nor a missing count passes the schema: it can say no."""
    good = junit_text(result("proved"), "a")
    assert SCHEMA.is_valid(good)
    assert not SCHEMA.is_valid(good.replace("<properties>", "<unknown/><properties>"))
    assert not SCHEMA.is_valid(good.replace(' errors="0" skipped', " skipped"))


def test_each_word_lands_where_a_build_server_shows_it() -> None:
    """Violated fails; undecided and vacuous are skipped, not passed; the others ran without failure."""
    text = junit_text(result("proved", "exhausted", "simulated", "violated", "vacuous", "undecided"), "six words")
    SCHEMA.validate(text)
    suite = suite_of(text)
    assert (suite.tests, suite.failures, suite.errors, suite.skipped) == (6, 1, 0, 2)
    outcomes = [[type(each) for each in case.result] for case in suite if isinstance(case, TestCase)]
    assert outcomes == [[], [], [], [Failure], [Skipped], [Skipped]]


def test_a_simulated_case_says_what_it_is() -> None:
    """The output of a case carries the word, the sentence, the restatement and where it looked."""
    case = next(iter(suite_of(junit_text(result("simulated"), "a"))))
    assert case.system_out.startswith("simulated: a reason")
    assert "restated: At no instant" in case.system_out
    assert "looked at: in the program; no fault" in case.system_out


def test_a_scenario_that_is_not_as_expected_fails_and_an_internal_error_is_an_error() -> None:
    """Scenarios count like requirements, and a difference between engines is no pass."""
    scenarios = (
        ScenarioResult("good", (ExpectationResult("the pump runs", True),), (), 10),
        ScenarioResult("bad", (ExpectationResult("the pump runs", False),), (), 10),
        ScenarioResult("open", (ExpectationResult("the pump runs", None),), (), 10),
    )
    both = replace(result("proved"), scenarios=scenarios, disagreements=(Disagreement("R9", "they differ", {}),))
    text = junit_text(both, "a")
    SCHEMA.validate(text)
    found = {case.name: [type(each) for each in case.result] for case in suite_of(text)}
    assert found == {"R0: It holds": [], "good": [], "bad": [Failure], "open": [Skipped], "R9": [Error]}


@given(st.text(max_size=40), st.text(max_size=20))
def test_no_text_of_a_file_can_break_the_xml(sentence: str, name: str) -> None:
    """Markup, control characters and lone surrogates in a sentence leave valid XML with the same text."""
    one = CheckResult((verdict("R1", "violated", sentence),), (), (), FIGURES)
    SCHEMA.validate(junit_text(one, name))


WRONG = """\
controller "Pump" every 10 ms

tags
    start_pb  input   bool
    pump      output  bool   on stop off

rung run
    start_pb
    => pump

requirement R1 "<script>alert(1)</script> & 'quotes'"
    never pump
"""


@pytest.mark.usefixtures("unhurried")
def test_check_writes_it_beside_its_text(tmp_path: Path) -> None:
    """`check --junit FILE` writes the violated requirement with its story."""
    file = tmp_path / "wrong.rung"
    file.write_text(WRONG, encoding="utf-8")
    to = tmp_path / "junit.xml"
    assert main(["check", str(file), "--time", "1", "--junit", str(to)]) == 1
    text = to.read_text(encoding="utf-8")
    SCHEMA.validate(text)
    (case,) = list(suite_of(text))
    assert case.name.startswith("R1: <script>alert(1)</script> &")
    assert "scenario " in (case.result[0].text or "")


def test_files_that_cannot_be_run_are_failures_too(tmp_path: Path) -> None:
    """A build server that only reads the XML sees the mistake, with its place."""
    file = tmp_path / "mistake.rung"
    file.write_text(WRONG.replace("    start_pb\n    =>", "    stat_pb\n    =>"), encoding="utf-8")
    to = tmp_path / "junit.xml"
    assert main(["check", str(file), "--junit", str(to)]) == 2
    suite = suite_of(to.read_text(encoding="utf-8"))
    assert suite.failures >= 1
    assert any(case.name.startswith("unknown-name at ") for case in suite)
