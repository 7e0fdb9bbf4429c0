"""How wide a text may come out, said in advance and rather too wide than too narrow.

Two faces: `mono` for what stands in the file, `sans` for what people say about it. Nobody knows
which fonts a reader has, so a width here is the greater one of two free families that are common
(DejaVu and Liberation, their published advance widths), and what lies outside ASCII counts as
wide as its class can be. A browser test measures real renderings against it.
"""

from __future__ import annotations

import unicodedata
from typing import Literal

from rungproof.logic.evidence.wrapping import KEPT, with_units

Face = Literal["mono", "sans"]

#: Advance of one character of the mono face, in em.
MONO = 0.605

#: Advances of the characters 32..126 of the sans face, in thousandths of an em: the greater of
#: DejaVu Sans and Liberation Sans, read from the fonts' own tables.
_SANS = (
    318, 401, 460, 838, 636, 950, 780, 275, 390, 390, 500, 838, 318, 361, 318, 337, 636, 636, 636, 636, 636, 636,
    636, 636, 636, 636, 337, 337, 838, 838, 838, 556, 1015, 684, 686, 722, 770, 667, 611, 778, 752, 295, 500, 667,
    557, 863, 748, 787, 667, 787, 722, 667, 611, 732, 684, 989, 685, 667, 685, 390, 337, 390, 838, 556, 500, 613,
    635, 550, 635, 615, 352, 635, 634, 278, 278, 579, 278, 974, 634, 612, 635, 635, 411, 521, 392, 634, 592, 818,
    592, 592, 525, 636, 337, 636, 838,
)  # fmt: skip

#: Beyond ASCII, in em: letters of alphabets, what East Asian typography calls wide, all else.
_LETTER, _WIDE, _OTHER = 1.2, 1.45, 1.45


def text_width(text: str, size: float, face: Face) -> float:
    """The most that `text` takes at font size `size`, in the same unit as `size`."""
    return size * sum(_advance(char, face) for char in text)


def _advance(char: str, face: Face) -> float:
    code = ord(" " if char == KEPT else char)
    if 32 <= code < 127:
        return MONO if face == "mono" else _SANS[code - 32] / 1000
    if unicodedata.east_asian_width(char) in "WF":
        return _WIDE
    return _LETTER if unicodedata.category(char)[0] == "L" and code < 0x530 else _OTHER


#: What is shown of a character that would not show itself, or would turn the text round.
_UNSEEN = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})


def visible(text: str) -> str:
    """`text` with every control, format and direction mark spelt out as `<U+202E>`: nothing hides, nothing turns.

    Combining marks stay up to two in a row; a tower of them would climb over the line above.
    """
    shown: list[str] = []
    tower = 0
    for char in text:
        tower = tower + 1 if unicodedata.combining(char) else 0
        if tower > 2:
            continue
        shown.append(f"<U+{ord(char):04X}>" if unicodedata.category(char) in _UNSEEN else char)
    return "".join(shown)


#: How much of one remark a drawing shows.
MOST_SHOWN = 900


def shortened(text: str, most: int = MOST_SHOWN) -> str:
    """`text`, or its beginning with a word on how much more the file says."""
    if len(text) <= most:
        return text
    return f"{text[:most].rstrip()} ... (and {len(text) - most:,} characters more in the file)"


def rows_of(text: str, width: float, size: float, face: Face) -> list[str]:
    """`text` as rows that each take at most `width`; never empty.

    Breaks between words where it can, else behind `_`, `.` or `,`, else anywhere, so that no row
    is ever too wide (a single character may be).
    """
    rows: list[str] = []
    row = ""
    for word in with_units(text).split(" "):
        if not word:
            continue
        trial = f"{row} {word}" if row else word
        if text_width(trial, size, face) <= width:
            row = trial
            continue
        if row:
            rows.append(row)
        *full, row = _pieces(word, width, size, face)
        rows += full
    if row or not rows:
        rows.append(row)
    return [row.replace(KEPT, " ") for row in rows]


def _pieces(word: str, width: float, size: float, face: Face) -> list[str]:
    pieces: list[str] = []
    while word:
        end = _fitting(word, width, size, face)
        if end < len(word):
            soft = max(word.rfind(sign, 0, end) for sign in "_.,")
            end = soft + 1 if soft > end // 3 else end
        pieces.append(word[:end])
        word = word[end:]
    return pieces


def _fitting(word: str, width: float, size: float, face: Face) -> int:
    """How many characters of `word` fit; at least one."""
    taken = 0.0
    for place, char in enumerate(word):
        taken += size * _advance(char, face)
        if taken > width and place:
            return place
    return len(word)
