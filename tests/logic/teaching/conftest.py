"""Makes the generators of programs importable: pytest's importlib mode puts no folder on the path."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.append(str(Path(__file__).parent))
sys.path.append(str(Path(__file__).parents[1] / "engines"))
