"""What to send when rungproof itself went wrong: enough to find the place, none of the user's text."""

from __future__ import annotations

import json
import platform
import traceback
from collections.abc import Sequence
from pathlib import Path

from rungproof.logic.versions import versions

MARK = "----- bundle -----"


def bundle_text(error: Exception, argv: Sequence[str]) -> str:
    """The bundle between two marks. Of paths only the last part is told."""
    places = [
        f"{Path(frame.filename).name}:{frame.lineno} {frame.name}"
        for frame in traceback.extract_tb(error.__traceback__)
    ]
    bundle = {
        "command": [Path(argument).name or argument for argument in argv],
        "error": type(error).__name__,
        "places": places[-12:],
        "system": platform.system(),
        "versions": versions(),
    }
    return f"{MARK}\n{json.dumps(bundle, indent=1)}\n{MARK}"
