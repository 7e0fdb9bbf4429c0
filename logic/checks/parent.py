"""Worker processes that end when the process that started them is killed."""

from __future__ import annotations

import os
import threading
import time


def end_with_parent(parent: int) -> None:
    """A worker whose parent was killed would wait for ever."""

    def watch() -> None:
        while os.getppid() == parent:
            time.sleep(0.5)
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()
