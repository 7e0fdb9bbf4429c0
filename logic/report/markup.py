"""HTML made of text that nobody has to trust: whatever a file says, it comes out as letters.

`Html` is text that is markup already; everything else goes through `text` first, and the type
checker sees to it.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from html import escape
from typing import NewType

Html = NewType("Html", str)

NOTHING = Html("")

#: A figure and its unit, which no narrow cell may part.
_UNIT = re.compile(r"(?<=\d) (?=(?:%|\N{DEGREE SIGN}C|(?:ms|s|min|h|mm|cm|m|V|mA|L|kW|kg|g|K|Hz|counts)\b))")

#: A text of a file is shown up to here; the file holds the rest.
MOST_SHOWN = 800


def text(said: str, most: int = MOST_SHOWN) -> Html:
    """Plain text as markup, on one line or several.

    Signs that steer the direction of writing, and others that cannot be seen, are shown by
    their number instead of being obeyed; what is longer than `most` signs is cut, and says so.
    """
    cut = len(said) > most
    shown = escape("".join(_visible(sign) for sign in said[:most]), quote=True)
    if cut:
        shown += f"\N{HORIZONTAL ELLIPSIS} [cut here; the file has {len(said):,} characters]"
    return Html(shown)


def prose(said: str) -> Html:
    """Words of the page's own, whole however long; what stands between backticks comes out as code."""
    parts = said.split("`")
    if len(parts) % 2 == 0:
        return text(said, len(said))
    return Html(
        "".join(code(part, len(part)) if place % 2 else text(part, len(part)) for place, part in enumerate(parts))
    )


def own(said: str, most: int = MOST_SHOWN) -> Html:
    """Words of the files, kept apart from the page's own in their direction of writing."""
    return Html(f"<bdi>{text(said, most)}</bdi>")


def saying(said: str) -> Html:
    """A sentence about the files, theirs and the page's words mixed: what stands between backticks is code."""
    return element("bdi", prose(said)) if len(said) <= MOST_SHOWN else own(said)


def code(said: str, most: int = MOST_SHOWN) -> Html:
    """A name or a line of the files, as it is typed."""
    return Html(f"<code><bdi>{text(said, most)}</bdi></code>")


def _visible(sign: str) -> str:
    if sign == "\n" or unicodedata.category(sign) not in ("Cc", "Cf", "Cs", "Co", "Zl", "Zp"):
        return sign
    return " " if sign in "\t\r" else f"[U+{ord(sign):04X}]"


# -------------------------------------------------------------------- elements


def element(name: str, inner: Html | Iterable[Html], **attributes: str) -> Html:
    """One element. Attributes are escaped; `class_` gives `class`, `aria_label` gives `aria-label`."""
    content = inner if isinstance(inner, str) else "".join(inner)
    said = "".join(f' {key.rstrip("_").replace("_", "-")}="{escape(each)}"' for key, each in attributes.items())
    return Html(f"<{name}{said}>{content}</{name}>")


def joined(parts: Iterable[Html], between: str = "") -> Html:
    return Html(between.join(parts))


def paragraph(said: str | Html, class_: str = "") -> Html:
    """A paragraph of the page's own words; words of the files go through `own` before."""
    return element("p", Html(said), **({"class_": class_} if class_ else {}))


def items(parts: Iterable[Html], ordered: bool = False, class_: str = "") -> Html:
    """A list; nothing where there is nothing to list."""
    rows = [element("li", part) for part in parts]
    attributes = {"class_": class_} if class_ else {}
    return element("ol" if ordered else "ul", rows, **attributes) if rows else NOTHING


def table(
    heads: Sequence[Html],
    rows: Iterable[Sequence[Html]],
    caption: str,
    class_: str = "",
    row_heads: int = 1,
) -> Html:
    """A table with a caption; the first `row_heads` cells of a row name it. Scrolls where it is too wide.

    A figure stays on one line with its unit.
    """
    head = element("tr", [element("th", each, scope="col") for each in heads])
    body = [
        element(
            "tr",
            [
                element("th", cell, scope="row") if place < row_heads else element("td", cell)
                for place, cell in enumerate(Html(_UNIT.sub("\N{NO-BREAK SPACE}", each)) for each in row)
            ],
        )
        for row in rows
    ]
    inner = [element("caption", prose(caption)), element("thead", head), element("tbody", body)]
    whole = element("table", inner, **({"class_": class_} if class_ else {}))
    return element("div", whole, class_="wide", role="region", tabindex="0", aria_label=caption)


def section(anchor: str, title: str, inner: Iterable[Html], class_: str = "") -> Html:
    """A section of a page with its heading; `anchor` is what the list of contents points to.

    A paragraph that comes first stays with the heading on paper.
    """
    attributes = {"class_": class_} if class_ else {}
    heading = element("h2", text(title), id=f"{anchor}-title")
    parts = [*inner]
    if parts and parts[0].startswith("<p"):
        parts[:1] = [element("div", [heading, parts[0]], class_="start")]
    else:
        parts.insert(0, heading)
    return element("section", parts, id=anchor, aria_labelledby=f"{anchor}-title", **attributes)


def blank(width: str = "8rem") -> Html:
    """A line to write on."""
    return Html(f'<span class="blank" style="min-width:{width}"></span>')
