"""The compiled model, made ready beside other work: nobody waits for it who does not ask for it."""

from __future__ import annotations

import logging
import threading
from typing import Final

__all__ = ["Readiness"]

_LOG: Final = logging.getLogger(__name__)


class Readiness:
    """Whether the model answers at once; the first question starts a thread that makes it so.

    Compiling takes a good half minute the first time on a computer, and about a second from then on. The
    compiler lets other threads work meanwhile.
    """

    def __init__(self) -> None:
        self._thread: threading.Thread | None = None
        self._lock = threading.Lock()
        self._ready = threading.Event()

    @property
    def ready(self) -> bool:
        """True where a tube is answered in milliseconds."""
        return self._ready.is_set()

    def wait(self, seconds: float) -> bool:
        """Start making ready where nobody has, wait a little, and say whether it is."""
        with self._lock:
            if self._thread is None or not (self._thread.is_alive() or self.ready):
                self._thread = threading.Thread(target=self._make, name="tube-ready", daemon=True)
                self._thread.start()
        return self._ready.wait(seconds)

    def _make(self) -> None:
        from lodestarch.work.tube.asked import TubeAsked  # noqa: PLC0415  # the compiler comes with it
        from lodestarch.work.tube.run import run_tube  # noqa: PLC0415

        try:
            run_tube(TubeAsked(ln=24.0))
        except Exception:  # noqa: BLE001  # told in the log; the next question tries again
            _LOG.exception("the tube model could not be made ready")
        else:
            self._ready.set()
