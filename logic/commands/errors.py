"""What a command can end with besides an answer."""

from __future__ import annotations

#: Exit codes, as `rungproof --help` lists them. 0 to 3 are those of a check.
FINE, VIOLATED, FILES_WRONG, OPEN = 0, 1, 2, 3
INTERNAL_ERROR = 70
INTERRUPTED = 130
PIPE_CLOSED = 141


class CommandError(Exception):
    """Something outside the files keeps a command from its work: exit code 2, one clear message.

    `mend` says what to do about it, where that is known.
    """

    def __init__(self, message: str, mend: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.mend = mend


def reason_of(error: OSError) -> str:
    """The system's words for a failure, small first letter: `permission denied`."""
    words = error.strerror or str(error) or type(error).__name__
    return words[:1].lower() + words[1:]
