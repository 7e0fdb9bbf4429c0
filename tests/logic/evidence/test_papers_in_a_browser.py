"""The evidence report and the bench sheets in a real browser: readable by everybody, asking nobody, fit for A4."""

from __future__ import annotations

import base64
from collections.abc import Iterator
from pathlib import Path

import pytest
from browser import Page, axe_source, browser_pages
from rungproof.logic import api
from rungproof.logic.report.report_page import report_page
from rungproof.logic.sheets.sheets_page import sheets_page

pytestmark = [pytest.mark.browser, pytest.mark.xdist_group("browser")]

EXAMPLES = Path(__file__).parents[3] / "examples"

TABLE = Path(__file__).parents[1] / "report" / "lift_table.txt"
SCENARIO = """
scenario "Up"
    at 100 ms   press S1 for 2 s
    expect      not M1.energised within 1 s
    ends        at 5 s
"""

WIDTHS = (390, 900, 1400)


@pytest.fixture(scope="module")
def browser() -> Iterator[Page]:
    yield from browser_pages()


@pytest.fixture(scope="module")
def papers(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The report of a small machine, with all its parts, and the sheets of the press, as files."""
    folder = tmp_path_factory.mktemp("papers")
    report, sheets = folder / "evidence.html", folder / "sheets.html"
    table = folder / "table.rung"
    table.write_text(TABLE.read_text(encoding="utf-8") + SCENARIO, encoding="utf-8")
    report.write_text(report_page(api.evidence(table), "Made on a day."), encoding="utf-8")
    sheets.write_text(sheets_page(api.sheets(EXAMPLES / "press_guard")), encoding="utf-8")
    return {"report": report, "sheets": sheets}


@pytest.mark.parametrize("name", ["report", "sheets"])
def test_nobody_is_shut_out_and_nobody_is_asked(browser: Page, papers: dict[str, Path], name: str) -> None:
    """axe-core finds nothing at three widths (WCAG 2.2 AA), the console says nothing, nothing is requested."""
    for width in WIDTHS:
        browser.open(papers[name], width=width)
        assert browser.requests() == [papers[name].as_uri()]
        assert browser.complaints() == []
        assert browser.accessibility_violations(axe_source()) == [], width


@pytest.mark.parametrize("name", ["report", "sheets"])
def test_the_page_itself_never_scrolls_sideways(browser: Page, papers: dict[str, Path], name: str) -> None:
    """On a narrow screen wide tables scroll in their own frames; the page stays as wide as the screen."""
    for width in WIDTHS:
        browser.open(papers[name], width=width)
        wide, room = browser.js("const e = document.documentElement; return [e.scrollWidth, e.clientWidth]")
        assert wide <= room, width


@pytest.mark.parametrize("name", ["report", "sheets"])
def test_it_prints_to_a4_with_nothing_cut_off(browser: Page, papers: dict[str, Path], name: str) -> None:
    """The print is a PDF, and at the width of its paper no table is wider than the page."""
    browser.open(papers[name], width=1400)
    printed = browser.driver.execute_cdp_cmd("Page.printToPDF", {"preferCSSPageSize": True})
    assert base64.b64decode(printed["data"]).startswith(b"%PDF")
    browser.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    # A4 less its margins is 180 mm upright and 267 mm across, in CSS pixels of a ninety-sixth of an inch.
    for selector, room in (("section:not(.across) > .wide > table", 680), ("section.across > .wide > table", 1009)):
        browser.driver.set_window_size(room, 1400)
        wide = browser.js(
            "return [...document.querySelectorAll(arguments[0])].filter((t) => t.scrollWidth > arguments[1])"
            ".map((t) => t.caption.textContent + ' ' + t.scrollWidth)",
            selector,
            room,
        )
        assert wide == []
    browser.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})
