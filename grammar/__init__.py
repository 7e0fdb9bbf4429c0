"""Folder `grammar` is the package `rungproof.grammar`: text to tree, and back.

In reading order: `tree` says what a file can say; the `.lark` files say how it is
written, one grammar per kind of line; `parser` reads text into a `SourceFile`; `files`
reads it from disk; `catalogue` holds every diagnosis and `excerpt` prints one;
`unparse` writes a tree as text; `formatter` lays a text out anew. What a text means is
no business of this package.
"""

from rungproof.grammar.catalogue import CATALOGUE
from rungproof.grammar.diagnosis import Diagnosis, Entry, Reporter, Sample
from rungproof.grammar.excerpt import render
from rungproof.grammar.files import read_file, read_file_text
from rungproof.grammar.formatter import FormatterError, format_text
from rungproof.grammar.parser import parse_text
from rungproof.grammar.reserved import BLOCK_WORDS, FUNCTIONS, RESERVED
from rungproof.grammar.tree import SourceFile, Span
from rungproof.grammar.unparse import to_text

__all__ = [
    "BLOCK_WORDS",
    "CATALOGUE",
    "FUNCTIONS",
    "RESERVED",
    "Diagnosis",
    "Entry",
    "FormatterError",
    "Reporter",
    "Sample",
    "SourceFile",
    "Span",
    "format_text",
    "parse_text",
    "read_file",
    "read_file_text",
    "render",
    "to_text",
]
