"""The command line's arguments. Light: `--help` must not wait for anything."""

from __future__ import annotations

import argparse
import contextlib

from rungproof.logic.commands.command_arguments import COMMANDS

DESCRIPTION = """\
Write rungs, run them against a plant model, attack the requirements, read the answer.
PATH is a folder (one project: all its .rung files) or one .rung file with what it uses."""

EPILOG = """\
exit codes:
  0    nothing is violated, and no finding of grade error
  1    something is violated
  2    the files cannot be run, or hold a finding of grade error; or a path cannot be used
  3    nothing is violated, but something is undecided or vacuous
  70   internal error: a mistake of ours      130   stopped by Ctrl-C

All of it happens in the model; nothing is measured on a machine. A design aid, not a
safety-rated tool: emergency stop, guarding, two-hand control and overfill protection belong
in hardwired, rated equipment. Verify on the real machine; local codes and licensed practice
decide."""


def build_parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="rungproof",
        description=DESCRIPTION,
        epilog=EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="store_true", help="print the version and end")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND")
    common = _common()
    for name, words, codes, add in COMMANDS:
        command = commands.add_parser(
            name,
            help=words,
            description=words[:1].upper() + words[1:] + ".",
            parents=[common],
            epilog=f"Exit codes: {codes}.",
        )
        add(command)
        _refuse_others(command)
    return parser


def _common() -> argparse.ArgumentParser:
    common = argparse.ArgumentParser(add_help=False)
    common.add_argument(
        "--json", metavar="FILE", help="write the result as JSON too; `-` is standard output, without text"
    )
    return common


class _Refused(argparse.Action):
    """An option that other commands have: here it would be taken and mean nothing."""

    def __call__(self, parser: argparse.ArgumentParser, *_: object, **__: object) -> None:
        command = parser.prog.rpartition(" ")[2]
        parser.error(f"`{command}` has no {self.option_strings[0]}: {_WITHOUT[self.option_strings[0]]}")


_WITHOUT = {"--seed": "nothing in it is drawn by chance", "--time": "it takes the time that it takes"}


def _refuse_others(command: argparse.ArgumentParser) -> None:
    for option in _WITHOUT:
        # A command that has the option keeps it.
        with contextlib.suppress(argparse.ArgumentError):
            hidden = argparse.SUPPRESS
            command.add_argument(option, dest=hidden, default=hidden, help=hidden, action=_Refused)
