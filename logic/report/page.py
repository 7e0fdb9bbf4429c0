"""A whole page: one file, nothing fetched, laid out for A4 first and for a screen after that."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import cache
from importlib import resources

from rungproof.logic.checks.words import rounded
from rungproof.logic.report.markup import Html, blank, element, items, joined, table, text

#: What stands at the head of every page that people may sign.
CAUTIONS = (
    "A design aid, not a safety-rated tool, and it can be wrong. What stands here is about a model: of the program, "
    "the wiring and the plant as the files describe them. Nothing was measured on a machine.",
    "Emergency stop, guarding, two-hand control and overfill protection belong in hardwired, rated equipment that "
    "works without the program.",
    "Verify on the real machine, with the real wires. Local codes and licensed practice decide.",
)

#: Scripts, frames, pictures from elsewhere: the page may have none of them, and a browser is told so.
_POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"


@cache
def style() -> str:
    """The style sheet of all pages."""
    return resources.files("rungproof.logic.report").joinpath("page.css").read_text(encoding="utf-8")


def page(
    title: str,
    subtitle: str,
    lead: Iterable[Html],
    contents: Sequence[tuple[str, str]],
    body: Iterable[Html],
    *,
    more_style: str = "",
) -> str:
    """The file. `contents` are (anchor, title) of the sections in `body`; `lead` stands before them."""
    links = [element("a", text(name), href=f"#{anchor}") for anchor, name in contents]
    head = joined(
        (
            Html('<meta charset="utf-8">'),
            Html('<meta name="viewport" content="width=device-width, initial-scale=1">'),
            Html(f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">'),
            element("title", text(f"{title}: {subtitle}")),
            element("style", Html("\n" + style() + more_style)),
        ),
        "\n",
    )
    header = element("header", [element("h1", text(title)), element("p", element("bdi", text(subtitle)), class_="of")])
    navigation = element("nav", items(links, ordered=True), aria_label="Contents")
    main = element("main", joined([*lead, navigation, *body], "\n"))
    html = element(
        "html", [element("head", head), Html("\n"), element("body", joined((header, main), "\n"))], lang="en"
    )
    return f"<!DOCTYPE html>\n{html}\n"


def cautions() -> Html:
    """The cautions, boxed: they come first on every page."""
    inner = [element("h2", text("Cautions"), id="cautions-title"), items(text(each) for each in CAUTIONS)]
    return element("section", inner, class_="cautions", aria_labelledby="cautions-title")


def signatures(roles: Sequence[str]) -> Html:
    """A table to sign."""
    heads = [text(each) for each in ("Role", "Name in capitals", "Signature", "Date")]
    rows = [[text(role), blank(), blank(), blank("5rem")] for role in roles]
    return table(heads, rows, "Names, signatures and dates", class_="signatures")


def figure_words(value: float, unit: str = "") -> str:
    """Five figures and the unit: `98.946 L`, `100000 L`; what is next to nothing is 0."""
    shown = "0" if abs(value) < 1e-9 else rounded(value, 5)
    return f"{shown} {unit}".rstrip()
