"""Results for machines. `schema.json` beside this file documents every key; tests hold outputs to it."""

from __future__ import annotations

import json
from argparse import Namespace
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from rungproof.grammar.diagnosis import Diagnosis
from rungproof.grammar.tree import Span
from rungproof.logic.checks.verdict import IN_THE_MODEL
from rungproof.logic.commands.output import Pending
from rungproof.logic.meaning.program import SourceText
from rungproof.logic.versions import versions

#: Grows by one whenever a key changes its meaning or goes.
FORMAT = 2


@dataclass(slots=True)
class JsonOutput:
    """Where `--json` sends the result: a file, standard output, or nowhere."""

    to: str | None
    pending: Pending | None = None

    @classmethod
    def of(cls, arguments: Namespace) -> JsonOutput:
        """Raises `CommandError` at once where the file cannot be written."""
        to: str | None = arguments.json
        return cls(to, None if to in (None, "-") else Pending.at(str(to)))

    @property
    def takes_screen(self) -> bool:
        return self.to == "-"

    def write(self, arguments: Namespace, exit_code: int, **result: Any) -> None:
        """The envelope that every command's result comes in, with the result's own keys."""
        if self.to is None:
            return
        envelope = {
            "format": FORMAT,
            "command": arguments.command,
            "note": IN_THE_MODEL,
            "exit_code": exit_code,
            **({"seed": arguments.seed} if "seed" in arguments else {}),
            "versions": versions(),
            **result,
        }
        if self.pending is None:
            # Whatever the stream's encoding, plain ASCII is JSON in it.
            print(json.dumps(envelope, indent=2, allow_nan=False))
            return
        text = json.dumps(envelope, indent=2, ensure_ascii=False, allow_nan=False) + "\n"
        # A file name that is no UTF-8 comes with lone surrogates; `\\udc..` is how JSON writes those.
        self.pending.write(text.encode("utf-8", "backslashreplace").decode("utf-8"))

    def __enter__(self) -> JsonOutput:
        return self

    def __exit__(self, *_: object) -> None:
        if self.pending is not None:
            self.pending.drop()


def findings_json(diagnoses: Iterable[Diagnosis]) -> list[dict[str, Any]]:
    return [
        {
            "code": diagnosis.code,
            "grade": diagnosis.grade,
            **span_json(diagnosis.span),
            "message": diagnosis.message,
            "expected": diagnosis.expected,
            "mend": diagnosis.mend,
            "related": [{**span_json(span), "words": words} for span, words in diagnosis.related],
        }
        for diagnosis in diagnoses
    ]


def span_json(span: Span) -> dict[str, Any]:
    """A place: file as it was named, line and columns from 1, `end_column` exclusive."""
    return {"file": span.file, "line": span.line, "column": span.column, "end_column": span.end_column}


def sources_json(sources: Iterable[SourceText]) -> list[dict[str, str]]:
    return [{"file": source.path, "sha256": source.digest} for source in sources]
