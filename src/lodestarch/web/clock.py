"""The present moment, given by whoever runs the workbench."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

__all__ = ["Clock", "local_now"]

Clock = Callable[[], datetime]


def local_now() -> datetime:
    """The present with this place's time zone, so that a day at the bench is the day of the place."""
    return datetime.now().astimezone()
