"""Folder `grammar` is the package `rungproof.grammar`: text to tree.

`parse_text` and `read_file` turn a `.rung` text into a `SourceFile` (see `tree`), and
say every mistake to a `Reporter`. What the text means is no business of this package.
"""

from rungproof.grammar.catalogue import CATALOGUE
from rungproof.grammar.diagnosis import Diagnosis, Entry, Reporter, Sample
from rungproof.grammar.parser import parse_text
from rungproof.grammar.reserved import BLOCK_WORDS, FUNCTIONS, RESERVED

__all__ = [
    "BLOCK_WORDS",
    "CATALOGUE",
    "FUNCTIONS",
    "RESERVED",
    "Diagnosis",
    "Entry",
    "Reporter",
    "Sample",
    "parse_text",
]
