"""A run with the options of the command line."""

from __future__ import annotations

from argparse import Namespace

from rungproof.logic.api_results import RunResult
from rungproof.logic.commands.errors import CommandError
from rungproof.logic.commands.output import named
from rungproof.logic.meaning.program import Program, Scenario
from rungproof.logic.verbs.running import run_program


def told(program: Program, scenario: Scenario, arguments: Namespace) -> RunResult:
    """The run of a scenario, with the options of the command line. Raises `CommandError` for wrong ones."""
    try:
        return run_program(
            program,
            scenario,
            for_ms=getattr(arguments, "for_ms", None),
            every_ms=arguments.every_ms,
            only=named(arguments.only),
            seed=arguments.seed,
        )
    except KeyError as error:
        raise CommandError(f"--only: {error.args[0]}.") from error
    except ValueError as error:
        raise CommandError(f"{str(error)[:1].upper()}{str(error)[1:]}.", "Say a shorter time with --for.") from error
