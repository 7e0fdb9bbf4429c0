"""Makes `tables` importable: pytest's importlib mode puts no folder on the path.

And makes the oracle library importable on every Python: the parser runtime it is tied to
asks for `typing.io`, which Python 3.13 no longer has.
"""

from __future__ import annotations

import sys
import typing
from pathlib import Path

sys.path.append(str(Path(__file__).parent))
sys.modules.setdefault("typing.io", typing)
