"""In the process of the screens: end when the server is gone, even when it was killed and could not say so."""

from __future__ import annotations

import os
import signal
import threading
import time

__all__ = ["end_with_parent"]

_EVERY_S = 2.0


def end_with_parent() -> None:
    """Watch the parent aside; once it is gone, ask this process to end as a terminal would."""
    parent = os.getppid()

    def watch() -> None:
        while os.getppid() == parent:
            time.sleep(_EVERY_S)
        os.kill(os.getpid(), signal.SIGTERM)

    threading.Thread(target=watch, name="parent-watch", daemon=True).start()
