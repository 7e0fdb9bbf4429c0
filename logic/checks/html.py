"""A plain table for a notebook. Everything a file says is escaped."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape


def table(heads: Sequence[str], rows: Iterable[Sequence[str]], *, note: str = "") -> str:
    """An HTML table with a head row; `note` stands below it as a paragraph."""
    head = "".join(f"<th>{escape(text)}</th>" for text in heads)
    body = "".join("<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in row) + "</tr>" for row in rows)
    foot = f"<p>{escape(note)}</p>" if note else ""
    return f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>{foot}"
