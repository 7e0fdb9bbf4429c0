"""Files, encoding, indentation, blocks and their headers."""

from __future__ import annotations

from rungproof.grammar.diagnosis import Entry, Sample


def _sample(text: str) -> Sample:
    return Sample({"sample.rung": text})


ENTRIES: tuple[Entry, ...] = (
    Entry(
        "file-unreadable",
        "error",
        "The file cannot be read: {reason}.",
        (),
        mend="{mend}",
    ),
    Entry(
        "line-outside-block",
        "error",
        "An indented line stands before the first block.",
        (_sample("    start_pb\n    => running\n"),),
        expected="a line at the left edge that opens a block, such as `rung NAME`",
        mend="put `rung NAME` above it, or move it into the block it belongs to",
    ),
    Entry(
        "empty-block",
        "error",
        "The block `{word}` has no lines.",
        (_sample("tags\n"),),
        expected="indented lines below it, such as `{example}`",
    ),
)
