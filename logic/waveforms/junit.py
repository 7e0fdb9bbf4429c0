"""A check's result as JUnit XML, which build servers show. No formal standard; the form of the published
schema `junit-10.xsd`.

A requirement, a scenario and a finding of grade error are each a test case. Violated and not as
expected are failures, internal errors are errors. What is undecided or vacuous is skipped: it is
neither good nor bad news, and the exit code 3 says so too. What is simulated counts as run
without failure, and its output says that this is no proof.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from xml.sax.saxutils import escape, quoteattr

from rungproof.grammar.diagnosis import Diagnosis
from rungproof.logic.checks.verdict import IN_THE_MODEL, CheckResult, ScenarioResult, Verdict
from rungproof.logic.versions import versions

#: What XML 1.0 cannot hold, escaped or not.
_FORBIDDEN = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


@dataclass(frozen=True, slots=True)
class _Case:
    """`outcome` is the element's name, None for a case that ran without failure."""

    kind: str
    name: str
    outcome: str | None
    message: str
    text: str
    said: str


def junit_text(result: CheckResult, name: str) -> str:
    """The file; `name` is what the suite is called. No times and no date stand in it."""
    cases = list(_cases(result))
    counts = {word: sum(case.outcome == word for case in cases) for word in ("failure", "error", "skipped")}
    totals = f'tests="{len(cases)}" failures="{counts["failure"]}" errors="{counts["error"]}"'
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<testsuites name="rungproof" {totals}>',
        f'  <testsuite name={_attribute(name)} {totals} skipped="{counts["skipped"]}">',
        "    <properties>",
        f'      <property name="note" value={_attribute(IN_THE_MODEL)}/>',
        f'      <property name="seed" value="{result.searched.seed}"/>',
        f'      <property name="exit code" value="{result.exit_code}"/>',
        *(f"      <property name={_attribute(k)} value={_attribute(v)}/>" for k, v in versions().items()),
        "    </properties>",
    ]
    for case in cases:
        lines += _case_lines(case)
    return "\n".join([*lines, "  </testsuite>", "</testsuites>"]) + "\n"


def _cases(result: CheckResult) -> Iterator[_Case]:
    yield from (_verdict(each) for each in result.verdicts)
    yield from (_scenario(each) for each in result.scenarios)
    yield from (_finding(each) for each in result.diagnoses if each.grade == "error")
    for each in result.disagreements:
        yield _Case("internal error", each.requirement, "error", each.words, each.words, "")


def _verdict(verdict: Verdict) -> _Case:
    outcome = {"violated": "failure", "undecided": "skipped", "vacuous": "skipped"}.get(verdict.word)
    story = f"\n\n{verdict.story_text}" if verdict.story_text else ""
    said = (
        f"{verdict.word}: {verdict.reason}\nsentence: {verdict.sentence}\nrestated: {verdict.restatement}\n"
        f"looked at: {verdict.looked_at}; {verdict.scope}"
    )
    message = f"{verdict.word}: {verdict.reason}"
    return _Case("requirement", f"{verdict.requirement}: {verdict.sentence}", outcome, message, message + story, said)


def _scenario(scenario: ScenarioResult) -> _Case:
    told = [
        f"{each.words}: {each.restatement}" + (f" Seen: {each.seen}." if each.seen else "")
        for each in scenario.expectations
    ]
    told += [f"{each.requirement} is violated; {each.words}" for each in scenario.mentions]
    if scenario.cut:
        told.append(scenario.cut)
    outcome = "failure" if scenario.violated else "skipped" if scenario.word == "undecided" else None
    return _Case("scenario", scenario.name, outcome, scenario.word, "\n".join(told), "\n".join([scenario.word, *told]))


def _finding(found: Diagnosis) -> _Case:
    place = f"{found.span.file}:{found.span.line}:{found.span.column}"
    text = "\n".join(each for each in (place, found.message, found.expected, found.mend) if each)
    return _Case("finding", f"{found.code} at {place}", "failure", found.message, text, "")


def _case_lines(case: _Case) -> Iterator[str]:
    yield f"    <testcase classname={_attribute(case.kind)} name={_attribute(case.name)}>"
    if case.outcome is not None:
        kind = case.message.partition(":")[0] if case.kind == "requirement" else case.kind
        yield f"      <{case.outcome} type={_attribute(kind)} message={_attribute(case.message)}>"
        yield f"{_text(case.text)}</{case.outcome}>"
    if case.said:
        yield f"      <system-out>{_text(case.said)}</system-out>"
    yield "    </testcase>"


def _attribute(text: str) -> str:
    return quoteattr(_clean(text))


def _text(text: str) -> str:
    return escape(_clean(text))


def _clean(text: str) -> str:
    return _FORBIDDEN.sub("\ufffd", text)
