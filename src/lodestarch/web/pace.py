"""How fast one place may ask: a bucket a sender that fills again by itself."""

from __future__ import annotations

import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from typing import Final

__all__ = ["ASKING", "WRONG_TOKENS", "Pace"]

ASKING: Final = (600, 100.0)
"""Requests that one sender may make at once, and how many come back in a second. Fifty clients of one machine
with an entry each three seconds, and a browser that draws its pages anew, need about a third. A setting."""

WRONG_TOKENS: Final = (10, 0.1)
"""Tokens that do not hold, from one place: ten at once, then one in ten seconds. A setting of ours."""

_MOST_SENDERS: Final = 4096


class Pace:
    """Counts senders apart and forgets those that asked longest ago.

    Parameters
    ----------
    at_once : int
        Requests that a rested sender has.
    a_second : float
        How many come back in a second. [1/s]
    clock : callable
        Seconds that only go forward.

    Examples
    --------
    >>> now = [0.0]
    >>> pace = Pace(2, 0.5, clock=lambda: now[0])
    >>> [pace.wait_s("a") for _ in range(3)]
    [0.0, 0.0, 2.0]
    >>> now[0] = 2.0
    >>> pace.wait_s("a"), pace.wait_s("b")
    (0.0, 0.0)
    """

    def __init__(self, at_once: int, a_second: float, *, clock: Callable[[], float] = time.monotonic) -> None:
        self._at_once, self._a_second, self._clock = float(at_once), a_second, clock
        self._senders: OrderedDict[str, tuple[float, float]] = OrderedDict()
        self._one_at_a_time = threading.Lock()

    def _left(self, sender: str, now: float) -> float:
        left, since = self._senders.get(sender, (self._at_once, now))
        return min(self._at_once, left + (now - since) * self._a_second)

    def wait_s(self, sender: str) -> float:
        """Take one request of a sender; returns how long it has to wait where none is left. [s]"""
        with self._one_at_a_time:
            now = self._clock()
            left = self._left(sender, now)
            if left < 1.0:
                return (1.0 - left) / self._a_second
            self._senders[sender] = (left - 1.0, now)
            self._senders.move_to_end(sender)
            while len(self._senders) > _MOST_SENDERS:
                self._senders.popitem(last=False)
            return 0.0
