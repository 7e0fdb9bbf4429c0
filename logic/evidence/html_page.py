"""A page that is one file: no request to anywhere, a strict policy, paper by day, by night and in print.

    html_page(title, body, style=..., script=...)

`body` is HTML that has been escaped already (`html.escape` for every text of a user's). The
policy lets nothing run and nothing load but the style and the script that the page was made with,
by their hashes: what a remark might smuggle in stays text.
"""

from __future__ import annotations

import hashlib
from base64 import b64encode
from html import escape

#: Colours by name, and how plain elements look. Contrasts: ink and muted on paper 4.5 or more (WCAG 2.2).
BASE_STYLE = """\
:root{color-scheme:light dark;--paper:#fff;--ink:#16191d;--muted:#4a525b;--line:#b9bfc6;--shade:#eef0f2;
--mark:#8c1d18;--focus:#5b2a86}
@media (prefers-color-scheme:dark){:root{--paper:#14171a;--ink:#e9ebee;--muted:#b3bac2;--line:#4d555e;
--shade:#20252a;--mark:#ff9d90;--focus:#cfa8ff}}
@media print{:root{--paper:#fff;--ink:#000;--muted:#333;--line:#888;--shade:#fff;--mark:#6b0f0b}}
*{box-sizing:border-box}
body{margin:0;background:var(--paper);color:var(--ink);font:16px/1.45 "DejaVu Sans","Liberation Sans",sans-serif}
main,header,footer{max-width:72rem;margin:0 auto;padding:0 1rem}
h1{font-size:1.35rem;margin:1rem 0 .3rem}
h2{font-size:1.1rem;margin:1.6rem 0 .4rem;border-bottom:1px solid var(--line)}
p{margin:.4rem 0;max-width:48rem;overflow-wrap:anywhere}
a{color:inherit}
code{font-family:"DejaVu Sans Mono","Liberation Mono",monospace}
.muted{color:var(--muted)}
:focus-visible{outline:3px solid var(--focus);outline-offset:2px}
@page{size:A4;margin:14mm}
"""


def html_page(title: str, body: str, *, style: str = "", script: str = "") -> str:
    """A whole page. `title` is escaped here; `body`, `style` and `script` stand as they are given."""
    css = BASE_STYLE + style
    policy = f"default-src 'none'; style-src {_hashed(css)}; base-uri 'none'; form-action 'none'"
    if script:
        policy += f"; script-src {_hashed(script)}"
    tail = f"<script>{script}</script>\n" if script else ""
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{policy}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(title)}</title>\n<style>{css}</style>\n</head>\n<body>\n{body}\n{tail}</body>\n</html>\n"
    )


def _hashed(text: str) -> str:
    return f"'sha256-{b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"
