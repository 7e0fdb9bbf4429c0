"""The command `rungproof`: reads the arguments, lets one command do its work, and ends in order.

Whatever happens, the user gets a sentence and an exit code, never a traceback. Set
RUNGPROOF_DEBUG to see one all the same.
"""

from __future__ import annotations

import importlib
import io
import os
import sys
from argparse import Namespace
from collections.abc import Sequence
from typing import Any

from rungproof.logic.commands.arguments import build_parser
from rungproof.logic.commands.errors import FILES_WRONG, FINE, INTERNAL_ERROR, INTERRUPTED, PIPE_CLOSED, CommandError
from rungproof.logic.commands.interrupt import never_lost


def entry() -> None:
    sys.exit(main())


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; the exit code. `argv` None takes the process's own arguments."""
    _print_whatever_comes()
    try:
        with never_lost():
            code = _command(argv)
        sys.stdout.flush()
    except KeyboardInterrupt:
        print("\nrungproof: stopped.", file=sys.stderr)
        return INTERRUPTED
    except BrokenPipeError:
        _swallow_output()
        return PIPE_CLOSED
    except CommandError as error:
        print(f"rungproof: {error.message}", file=sys.stderr)
        if error.mend:
            print(f"    {error.mend}", file=sys.stderr)
        return FILES_WRONG
    except Exception as error:
        if os.environ.get("RUNGPROOF_DEBUG"):
            raise
        return _internal_error(error, sys.argv[1:] if argv is None else argv)
    return code


def _print_whatever_comes() -> None:
    """A stream that knows fewer signs than a file holds, or a file name in another encoding, is no reason to stop."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


def _command(argv: Sequence[str] | None) -> int:
    parser = build_parser()
    arguments = parser.parse_args(argv)
    if arguments.version:
        return _version()
    if arguments.command is None:
        parser.print_help()
        return FINE
    return _execute(arguments)


def _execute(arguments: Namespace) -> int:
    code: int = _late(f"{arguments.command}_command").execute(arguments)
    return code


def _late(module: str) -> Any:
    """A module of this package, imported only now: `--help` waits for none of them."""
    return importlib.import_module(f"rungproof.logic.commands.{module}")


def _version() -> int:
    print(f"rungproof {_late('versions').version()}")
    return FINE


def _swallow_output() -> None:
    """Whoever read us has gone: the interpreter's last flush must not complain about it."""
    null = os.open(os.devnull, os.O_WRONLY)
    os.dup2(null, sys.stdout.fileno())


def _internal_error(error: Exception, argv: Sequence[str]) -> int:
    print(
        "rungproof: internal error. That is a mistake of ours, whatever your files say.\n"
        "    Please send the lines between the marks to those who look after rungproof.\n"
        "    They hold no text of your files.",
        file=sys.stderr,
    )
    print(_late("bundle").bundle_text(error, argv), file=sys.stderr)
    return INTERNAL_ERROR
