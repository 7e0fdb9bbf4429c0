"""`rungproof explain`: a diagnosis at length, a line in words, or why a tag has its value."""

from __future__ import annotations

import re
from argparse import Namespace
from typing import Any

from rungproof.logic.commands.errors import FINE, CommandError
from rungproof.logic.commands.explain_codes import explain_codes
from rungproof.logic.commands.explain_line import explain_line
from rungproof.logic.commands.explain_why import explain_why
from rungproof.logic.commands.json_output import JsonOutput
from rungproof.logic.commands.screen import Screen

_PLACE = re.compile(r"(?P<path>.+):(?P<line>[0-9]{1,9})$")


def execute(arguments: Namespace) -> int:
    with JsonOutput.of(arguments) as output:
        screen = Screen.standard(quiet=output.takes_screen)
        output.write(arguments, FINE, **_explained(arguments, screen))
    return FINE


def _explained(arguments: Namespace, screen: Screen) -> dict[str, Any]:
    what: str | None = arguments.what
    if arguments.why is not None:
        if what is None:
            raise CommandError("--why wants a project.", "Write `rungproof explain PATH --why TAG`.")
        return {"entries": [], "why": explain_why(screen, what, arguments)}
    for option, value in (("--at", arguments.at_ms), ("--scenario", arguments.scenario), ("--story", arguments.story)):
        if value is not None:
            raise CommandError(f"{option} goes with --why.", "Write `rungproof explain PATH --why TAG` before it.")
    place = _PLACE.fullmatch(what) if what is not None else None
    if place is not None:
        return {"entries": [], "line": explain_line(screen, place["path"], int(place["line"]))}
    return {"entries": explain_codes(screen, what)}
