"""The files as they were: whoever holds the paper can read what was checked."""

from __future__ import annotations

from collections.abc import Iterator

from rungproof.logic.report.evidence import Evidence
from rungproof.logic.report.markup import Html, element, joined, section, text

#: Lines of one file that are printed, and signs of one line.
MOST_LINES, MOST_SIGNS = 1500, 400


def files_section(evidence: Evidence) -> Html:
    """Every file with its lines numbered."""
    parts = [part for name, _, content in evidence.files for part in _file(name, content)]
    return section("files", "The files", parts, "fresh listing")


def _file(name: str, content: str) -> Iterator[Html]:
    yield element("h3", element("bdi", text(name)))
    lines = content.splitlines()
    rows = [
        element(
            "span",
            [element("span", text(str(number)), class_="n"), element("bdi", text(line, MOST_SIGNS)), Html("\n")],
            class_="row",
        )
        for number, line in enumerate(lines[:MOST_LINES], start=1)
    ]
    if len(lines) > MOST_LINES:
        rows.append(text(f"and {len(lines) - MOST_LINES:,} more lines, which stand in the file"))
    yield element("pre", joined(rows))
