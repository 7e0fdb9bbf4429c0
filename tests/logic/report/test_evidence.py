"""The evidence report: all that a reviewer needs, the same bytes again, stale when a file changes, harmless."""

from __future__ import annotations

import re
from dataclasses import replace
from html import escape
from html.parser import HTMLParser
from pathlib import Path

import pytest
from rungproof.logic import api
from rungproof.logic.commands.main import main
from rungproof.logic.evidence.chart.strip import Number
from rungproof.logic.report import selftest
from rungproof.logic.report.evidence import Evidence, _wide, named_in
from rungproof.logic.report.order import by_name, in_order
from rungproof.logic.report.report_page import SECTIONS, report_page
from rungproof.logic.report.selftest import KnownAnswer, self_test
from rungproof.logic.verbs.papers import read_to_draw


class Reader(HTMLParser):
    """Elements opened and closed in turn; tags, attributes and places pointed to."""

    void = frozenset({"meta", "br"})

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: set[str] = set()
        self.ids: list[str] = []
        self.links: set[str] = set()
        self.attributes: set[str] = set()
        self.headings: list[int] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        given = dict(attrs)
        self.attributes |= set(given)
        self.ids += [str(given["id"])] if given.get("id") else []
        self.links |= {str(given["href"])} if given.get("href") else set()
        self.headings += [int(tag[1])] if re.fullmatch("h[1-6]", tag) else []
        if tag not in self.void:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


def read(page: str) -> Reader:
    reader = Reader()
    reader.feed(page)
    return reader


# --------------------------------------------------------------------- content


def test_the_sections_come_in_the_order_of_a_review(page: str) -> None:
    """Cautions before all, then assumptions, hazards, verdicts, ..., and the place to sign last."""
    body = page[page.index("</nav>") :]
    assert page.index("Cautions") < page.index("<nav")
    places = [body.index(f'id="{anchor}"') for anchor, _, _ in SECTIONS]
    assert places == sorted(places)
    assert body.index('id="sign"') > places[-1]


def test_runs_that_never_met_what_a_proof_is_about_are_no_evidence_for_it(evidence: Evidence) -> None:
    """A trigger that came 0 times is not counted beside the word: it rests on the proof alone, and the page says so."""
    result = evidence.result
    verdicts = tuple(replace(each, triggers=0, outputs_free=True) for each in result.verdicts)
    page = report_page(replace(evidence, result=replace(result, verdicts=verdicts)), "Made on a day.")
    assert "while its trigger came in no run of its scope: " in page
    assert "There the word rests on the proof alone." in page
    tried = page[page.index("How each was tried") : page.index('id="r-R1"')]
    assert ">never<" in tried
    assert ">0 " not in tried


def test_a_requirement_is_told_whole(page: str) -> None:
    """Sentence, restatement, word, where it looked and against what; what the proof rests on stands in a table."""
    whole = page[page.index('id="r-R1"') : page.index('id="r-R2"')]
    for said in (
        "The stop button ends the run",
        "At no instant may pump be on",
        ">proved<",
    ):
        assert said in whole
    for head in ("Restated", "Why", "Looked at"):
        assert f"<dt>{head}</dt>" in whole
    assert "against <a" in whole
    rests = page[page.index("What the proofs rest on") : page.index('id="r-R1"')]
    assert "R1" in rests
    assert "rungs run; tags start_pb, stop_ok, pump; the author&#x27;s assumptions Somebody" in rests


def test_requirements_stand_in_the_order_of_their_names(evidence: Evidence) -> None:
    """R10 after R9, wherever the file has them; a name without figures is no trouble."""
    assert sorted(("R10", "R2", "Q", "R2a", "R"), key=by_name) == ["Q", "R", "R2", "R2a", "R10"]
    renamed = {"R1": "R10", "R2": "R9"}
    program = replace(
        evidence.program,
        requirements=tuple(replace(each, name=renamed[each.name]) for each in evidence.program.requirements),
    )
    verdicts = tuple(replace(each, requirement=renamed[each.requirement]) for each in evidence.result.verdicts)
    ordered, told = in_order(program, replace(evidence.result, verdicts=verdicts))
    assert [each.name for each in ordered.requirements] == ["R9", "R10"]
    page = report_page(replace(evidence, program=ordered, result=told, charts={}), "Made on a day.")
    assert page.index('id="r-R9"') < page.index('id="r-R10"')
    assert "2 requirements, in the order of their names" in page


def test_what_proofs_have_in_common_is_told_once(machine: Evidence) -> None:
    """How several requirements were proved stands in one table, by a letter; each requirement names its letter."""
    reasons = [each.reason for each in machine.result.verdicts if each.word == "proved"]
    shared = next(each for each in reasons if reasons.count(each) > 1)
    page = report_page(machine, "Made on a day.")
    assert page.count(escape(shared)) == 1
    assert page.count("(way A)") == reasons.count(shared)


def test_only_those_limits_of_the_model_are_named_that_the_plant_meets(machine: Evidence, page: str) -> None:
    """A lifting table is told of circuits, not of tanks and pumps; without a plant, of none of them."""
    told = report_page(machine, "Made on a day.")
    assert "Circuits are contacts and coils" in told
    for words in ("Tanks are well mixed", "Pumps have no head curve"):
        assert words not in told
    assert "Circuits are contacts and coils" not in page


def test_every_name_in_the_drawings_stands_once_in_a_table(machine: Evidence) -> None:
    """Where it is written and read, requirements in the order of their names; below each drawing only remarks."""
    names = {each.name: each for each in machine.names}
    assert len(names) == len(machine.names)
    assert {"up_pb", "lift", "M1"} <= set(names)
    for each in machine.names:
        read = [name for name in each.read if name[:1] == "R" and name[1:].isdecimal()]
        assert read == sorted(read, key=by_name)
    page = report_page(machine, "Made on a day.")
    drawings = page[page.index('id="drawings"') : page.index('id="run"')]
    assert drawings.count("Names in the drawings") == 2  # the caption, and the name of the region
    assert "; read in " not in drawings


def test_a_word_of_the_language_is_no_name_in_the_drawings() -> None:
    """`direction = reverse` names nothing that could be written or read."""
    names = {each.name for each in named_in(read_to_draw(Path(__file__).parents[3] / "examples" / "header_tank"))}
    assert {"level_counts", "pump_speed", "target", "feed_pump"} <= names
    assert "reverse" not in names


def test_the_noise_of_a_reading_that_stands_still_does_not_fill_its_axis() -> None:
    """An axis spans a twentieth of the value at least, about the middle of what was seen; a wide one stays."""
    number = Number("LT1.signal", "plant", ((0, 8.86), (10, 8.9)), 8.86, 8.9, "V", False)
    wide = _wide(number)
    assert wide.high - wide.low == pytest.approx(0.05 * 8.9)
    assert (wide.high + wide.low) / 2 == pytest.approx((8.86 + 8.9) / 2)
    assert _wide(replace(number, low=0.0)) == replace(number, low=0.0)
    assert _wide(replace(number, low=8.9)) == replace(number, low=8.9)


def test_words_of_the_page_itself_are_never_cut(machine: Evidence) -> None:
    """Long notes stand whole, and what is typed stands as code, not between backticks."""
    page = report_page(machine, "Made on a day.")
    assert "cut here" not in page
    assert "the inputs held as they were." in page
    assert "<code><bdi>None found</bdi></code>" in page


def test_a_violated_requirement_shows_its_story_and_its_chart(page: str) -> None:
    """The story stands there as text that can be replayed, and as a chart in time."""
    whole = page[page.index('id="r-R2"') : page.index('id="scenarios"')]
    assert "set start_pb on" in whole
    assert "<svg" in whole
    assert ">violated<" in whole


def test_rungs_files_hashes_and_versions_are_in_it(page: str, evidence: Evidence) -> None:
    """Each rung is drawn, each file printed with its hash, each version named."""
    assert page.count("<svg") >= 3
    for name, digest, _ in evidence.files:
        assert name in page
        assert digest in page
    for name in ("lark", "z3-solver", "python"):
        assert f">{name}<" in page


def test_the_self_test_was_run_and_agrees() -> None:
    """Every known answer comes out on this machine; the answers are of engines, provers and search."""
    answers = self_test()
    assert len(answers) >= 8
    assert [each for each in answers if not each.agrees] == []
    asked = " ".join(each.question for each in answers)
    assert all(word in asked for word in ("reference engine", "compiled engine", "prover", "search"))


def test_a_self_test_that_fails_is_told_and_ends_the_command(
    file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], evidence: Evidence
) -> None:
    """A wrong answer stands in the report, which may then not be relied on, and the exit code is 2."""
    wrong = KnownAnswer("1 + 1", "arithmetic", "2", "3")
    told = report_page(replace(evidence, answers=(wrong,)), "Made on a day.")
    assert "nothing in this report may be relied on" in told
    monkeypatch.setattr("rungproof.logic.report.evidence.self_test", lambda: (wrong,))
    assert main(["evidence", str(file), "-o", str(tmp_path / "out")]) == 2
    assert "self-test" in capsys.readouterr().err


def test_a_question_that_ends_in_an_error_is_no_agreement(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where an engine fails, the answer says so, and does not agree."""

    def broken() -> str:
        raise RuntimeError("no solver")

    monkeypatch.setattr(selftest, "_drained", broken)
    assert [each.found for each in self_test() if not each.agrees] == ["no answer: RuntimeError"]


# ------------------------------------------------------------------- same, safe


def test_the_same_files_give_the_same_bytes_apart_from_the_date_line(file: Path, page: str) -> None:
    """A second check, with its proofs in fresh processes, gives the same report; one line differs."""
    again = report_page(api.evidence(file), "Made on another day.")
    differing = [(a, b) for a, b in zip(page.splitlines(), again.splitlines(), strict=True) if a != b]
    assert differing == [
        ('<p class="note" id="date">Made on a day.</p>', '<p class="note" id="date">Made on another day.</p>')
    ]


def test_nothing_in_a_file_becomes_markup(page: str) -> None:
    """Markup in remarks, names and sentences comes out as letters; 10,000 characters are cut and counted."""
    reader = read(page)
    assert reader.open == []
    assert not reader.tags & {"script", "b", "i", "u", "em", "img", "iframe", "link", "object"}
    assert not any(name.startswith("on") for name in reader.attributes)
    assert "cut here; the file has" in page
    assert "long " * 300 not in page


def test_nothing_is_fetched(page: str) -> None:
    """No address of anything stands in the page, and its policy lets a browser load nothing."""
    assert "default-src 'none'" in page
    assert read(page).links <= {link for link in read(page).links if link.startswith("#")}
    assert "url(" not in page
    assert not re.search(r'(src|href)="(?!#)', page)


def test_the_page_is_built_for_screen_readers(page: str) -> None:
    """One first heading, no level skipped, every link in the contents leads somewhere, ids stand once."""
    reader = read(page)
    assert reader.headings.count(1) == 1
    assert all(b <= a + 1 for a, b in zip(reader.headings, reader.headings[1:], strict=False))
    assert reader.links
    assert {link.removeprefix("#") for link in reader.links} <= set(reader.ids)
    assert len(reader.ids) == len(set(reader.ids))
    assert '<html lang="en">' in page
