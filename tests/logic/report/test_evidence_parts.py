"""What a report tries beyond the check: coverage, faults, restarts, and what of it stands open on the first page."""

from __future__ import annotations

from dataclasses import replace
from html import escape
from pathlib import Path

import pytest
from rungproof.logic import api
from rungproof.logic.faults.result import OUTCOMES
from rungproof.logic.proofs.literals import Literal
from rungproof.logic.proofs.sentences import Sayer
from rungproof.logic.report.evidence import Evidence
from rungproof.logic.report.report_page import report_page


def test_coverage_is_in_the_report_unless_it_is_left_out(evidence: Evidence, page: str) -> None:
    """Each condition never seen to decide stands there; left out, the report says so."""
    assert evidence.coverage is not None
    shown = page[page.index('id="coverage"') : page.index('id="findings"')]
    counts = evidence.coverage.counts()
    assert f"{counts['scenarios'] + counts['campaign']} of {sum(counts.values())} condition" in shown
    assert (">never seen<" in shown) == (counts["missing"] > 0)
    assert "Left out: it was not measured" in report_page(replace(evidence, coverage=None), "Made on a day.")


def test_the_table_of_faults_is_in_the_report_unless_it_is_left_out(machine: Evidence) -> None:
    """Every fault stands there, the worst first, counted as `with any one fault` counts; left out, it says so."""
    table = machine.faults
    assert table is not None
    page = report_page(machine, "Made on a day.")
    shown = page[page.index('id="faults"') : page.index('id="restart"')].replace("\xa0", " ")
    for row in table.rows[:20]:
        assert row.fault in shown
    legend = shown.index("What came of the faults")
    captions = [f"{outcome.capitalize()}: {len(table.of(outcome))}<" for outcome in OUTCOMES if table.of(outcome)]
    assert len(captions) > 2
    assert [shown.index(each) for each in captions] == sorted(shown.index(each) for each in captions)
    assert legend < shown.index(captions[0])
    for row in table.rows:
        assert escape(row.words) in shown
    assert f"{len(table.rows)} rows: {table.known} faults" in shown
    knobs = machine.program.knobs.values()
    assert table.known == sum(knob.kind in ("fault", "stop") for knob in knobs)
    without = report_page(replace(machine, faults=None), "Made on a day.")
    assert "Left out: no fault was tried" in without


def test_what_stands_open_comes_before_all_sections(machine: Evidence, evidence: Evidence, page: str) -> None:
    """Verdicts that are no proof, scenarios that went otherwise, warnings, bad faults, questions; each by name."""
    told = report_page(machine, "Made on a day.")
    box = told[told.index('class="open"') : told.index('aria-label="Contents"')]
    assert machine.faults is not None
    bad = machine.faults.of("hazard open")
    assert f"{len(bad)} single faults: hazard open" in box
    assert all(row.name in box for row in bad[:12])
    (up,) = machine.result.scenarios
    assert "scenario" not in box
    missed = replace(up, expectations=tuple(replace(each, met=False) for each in up.expectations))
    told = report_page(replace(machine, result=replace(machine.result, scenarios=(missed,))), "Made on a day.")
    assert "A scenario not as expected</a>: <bdi>Up</bdi>" in told
    first = page[page.index('class="open"') : page.index('aria-label="Contents"')]
    assert "1 requirement violated: there is a story that breaks it</a>: <code><bdi>R2</bdi></code>" in first
    assert 'href="#questions"' in first
    nothing = replace(evidence, result=replace(evidence.result, verdicts=(), diagnoses=()), faults=None)
    assert "nothing was judged" in report_page(nothing, "Made on a day.")


def test_what_starts_again_or_was_never_started_stands_on_the_first_page(machine: Evidence) -> None:
    """A restart that was found is open, and so is whatever never started; a part that was left out is too."""

    def box(evidence: Evidence) -> str:
        told = report_page(evidence, "Made on a day.")
        return told[told.index('class="open"') : told.index('aria-label="Contents"')]

    found = machine.restart
    assert found is not None
    row = found.rows[0]
    again = replace(found, rows=(replace(row, word="restarts"), *found.rows[1:]), never_started=("M9",))
    shown = box(replace(machine, restart=again))
    assert f"Starts again without a fresh press</a>: <code><bdi>{row.moving}</bdi></code>" in shown
    assert "so nothing is known of a restart</a>: <code><bdi>M9</bdi></code>" in shown
    assert "Starts again" not in box(replace(machine, restart=replace(found, rows=(replace(row, word="none found"),))))
    assert "Nothing was tried of what starts again" in box(replace(machine, restart=None))


def test_a_hazard_whose_layers_are_not_known_is_open(evidence: Evidence, page: str) -> None:
    """No safe state, no layers: the first page says so, and the section why, in words for a reader."""
    (row,) = evidence.independence.hazards
    assert row.why_not
    first = page[page.index('class="open"') : page.index('aria-label="Contents"')]
    assert "H1: the layers that guard it could not be worked out" in first
    assert "the file declares no safe state for it" in page


@pytest.mark.slow
def test_faults_restarts_and_coverage_are_the_same_bytes_again(machine: Evidence) -> None:
    """No clock decides how much of them there is: a second report of a machine with a plant is the same."""
    path = Path(machine.program.sources[0].path)
    assert report_page(api.evidence(path), "x") == report_page(machine, "x")


def test_the_report_says_what_starts_again(machine: Evidence) -> None:
    """What moves, by which buttons it starts, and each group of causes with its word; left out, it says so."""
    assert machine.restart is not None
    assert machine.restart.rows
    page = report_page(machine, "Made on a day.")
    shown = page[page.index('id="restart"') : page.index('id="coverage"')]
    for row in machine.restart.rows:
        assert row.group in shown
        assert row.word in shown
    assert "Left out: nothing was tried that comes and goes" in report_page(replace(machine, restart=None), "x")


def test_parts_that_are_left_out_are_not_run(file: Path) -> None:
    """`without` leaves each part out; the others stay."""
    found = api.evidence(file, without=("faults", "restart", "coverage"))
    assert (found.faults, found.restart, found.coverage) == (None, None, None)
    assert found.result.verdicts


def test_a_proof_is_told_in_the_words_of_its_author(machine: Evidence) -> None:
    """Sentences about what only the prover keeps are counted, and stay in the certificate."""
    page = report_page(machine, "Made on a day.")
    assert "edge contact" not in page
    assert "in its certificate" in page
    sayer = Sayer(machine.program)
    assert sayer.plain((Literal("lift"), Literal("deliberate#elapsed", 100), Literal("M1.energised")))
    for name in ("R4/armed", "lift#1#before", "M1.waited_ms", "!first"):
        assert not sayer.plain((Literal("lift"), Literal(name))), name
    assert not sayer.plain((Literal("lift"), Literal("lift", holds=False)))
    assert sayer.clause((Literal("M1.speed", 50),)) == "always: `M1.speed` is at most 50 %"
