"""A folder of drawings: every rung as an SVG file of its own, and a page that shows them all."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from rungproof.logic.evidence.drawing_text import CAUTION, CIRCUIT_NOTE, Sheet
from rungproof.logic.evidence.drawn.ink import STYLE
from rungproof.logic.evidence.drawn.metrics import shortened, visible
from rungproof.logic.evidence.drawn.rung_svg import WIDTH, Context, draw_rung, sheet_context
from rungproof.logic.evidence.html_page import html_page

INDEX = "index.html"

#: How the symbols are to be read, for those who do not know them.
KEY = (
    "Power goes from the left rail to the right one. Two bars are a contact that lets power pass while its tag is on; "
    "with a slash, while it is off; with P, in the one scan in which the tag comes on; with N, in which it goes off. "
    "Two arcs are a coil: the tag is on while power reaches it; with a slash, off; with S it is set, with R reset. "
    "A wire that ends at the right of a row goes on at the left of the next one. "
    "The small figure below an element is its line in the file."
)

_STYLE = """\
.drawing{overflow-x:auto;margin:.6rem 0 1.4rem;break-inside:avoid}
.drawing svg{max-width:none}
nav ul{columns:16rem;padding-left:1.2rem;margin:.3rem 0}
@media print{.drawing{overflow:visible}.drawing svg{max-width:100%}nav,.file{display:none}body{font-size:10pt}}
@page{size:A4 landscape;margin:12mm}
"""


def drawn_files(sheets: Iterable[Sheet], context: Context, title: str, *, width: float = WIDTH) -> dict[str, str]:
    """File names to texts: `index.html`, and for each rung an SVG."""
    files: dict[str, str] = {}
    links: list[str] = []
    parts: list[str] = []
    for number, sheet in enumerate(sheets):
        parts.append(f"<h2>{escape(visible(sheet.title))}</h2>")
        if sheet.contacts is not None:
            parts.append(f'<p class="muted">{escape(CIRCUIT_NOTE)}</p>')
        for rung in sheet.rungs:
            drawing = draw_rung(rung, sheet_context(context, sheet), width=width)
            name = _fresh(files, f"{'circuit' if sheet.contacts is not None else 'rung'}-{rung.name}")
            files[name] = drawing.svg(alone=True)
            anchor = f"d{number}-{len(links)}"
            links.append(f'<li><a href="#{anchor}">{escape(visible(rung.name))}</a></li>')
            parts.append(
                f'<div class="drawing" id="{anchor}" tabindex="0" role="group" '
                f'aria-label="rung {escape(visible(rung.name))}">{drawing.svg()}'
                f'<p class="muted file"><a href="{escape(name)}">this drawing as a file</a></p></div>'
            )
    head = f"<header><h1>{escape(shortened(visible(title)))}</h1><p>{escape(CAUTION)}</p></header>"
    nav = f'<nav aria-label="Rungs"><ul>{"".join(links)}</ul></nav>'
    body = f'{head}<main><p class="muted">{escape(KEY)}</p>{nav}{"".join(parts)}</main>'
    return {INDEX: html_page(visible(title), body, style=STYLE + _STYLE), **files}


def _fresh(files: dict[str, str], stem: str) -> str:
    """A file name that no other bears, whatever the file system thinks of capitals."""
    taken = {name.lower() for name in files}
    safe = "".join(sign if sign.isascii() and (sign.isalnum() or sign in "_-") else "_" for sign in stem)[:80]
    name, count = f"{safe}.svg", 1
    while name.lower() in taken:
        count += 1
        name = f"{safe}-{count}.svg"
    return name
