"""How long trucks wait when some of them are held for a result, and whether that pays."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from lodestarch.common.errors import OutOfRange

__all__ = ["Queue", "waiting"]

ENDLESS: Final = math.inf


@dataclass(frozen=True, slots=True)
class Queue:
    """Held trucks at the bench.

    Parameters
    ----------
    busy : float
        Share of the bench's time in use; 1 or more: the queue grows without end. [1]
    wait_min : float
        Mean wait before the test begins; infinity: without end. [min]
    held_min : float
        Mean time from probe to result: wait and test. [min]
    cost_a_truck : float
        Of that time, at the stated cost of a truck's hour. [money]
    """

    busy: float
    wait_min: float
    held_min: float
    cost_a_truck: float


def waiting(
    trucks_an_hour: float, test_share: float, test_min: float, lanes: int, cost_an_hour: float = 0.0
) -> Queue:
    """Return how long held trucks wait.

    Parameters
    ----------
    trucks_an_hour : float
        Arrivals, at random. [1/h]  At least 0.
    test_share : float
        Share held for a test. 0 to 1.
    test_min : float
        From probe to result where nobody waits: grinding, moisture, weighing, bath. [min]  Above 0.
    lanes : int
        Samples in work at once. At least 1.
    cost_an_hour : float
        Cost of a truck's hour. [money/h]

    Returns
    -------
    Queue

    Notes
    -----
    Poisson arrivals, constant test time, c lanes: half the wait of Erlang's C formula for random times (the
    usual approximation M/D/c = M/M/c / 2; exact for one lane by the Pollaczek-Khinchine formula, standard
    queueing theory, recalled).

    Examples
    --------
    One lane, 15 min a test, two held trucks an hour: half busy, 7.5 min of waiting.

    >>> q = waiting(6.0, 1 / 3, 15.0, 1)
    >>> round(q.busy, 3), round(q.wait_min, 2), round(q.held_min, 2)
    (0.5, 7.5, 22.5)
    """
    for name, value, low, high in (
        ("trucks_an_hour", trucks_an_hour, 0.0, math.inf),
        ("test_share", test_share, 0.0, 1.0),
        ("cost_an_hour", cost_an_hour, 0.0, math.inf),
    ):
        if not low <= value <= high:
            raise OutOfRange(name, value, low, high, "1/h" if name == "trucks_an_hour" else "1")
    if not test_min > 0:
        raise OutOfRange("test_min", test_min, 0.0, math.inf, "min")
    if lanes < 1:
        raise OutOfRange("lanes", lanes, 1, math.inf, "1")
    offered = trucks_an_hour * test_share * test_min / 60.0
    busy = offered / lanes
    if busy >= 1:
        return Queue(busy, ENDLESS, ENDLESS, ENDLESS if cost_an_hour else 0.0)
    wait = 0.5 * _erlang_c(lanes, offered) * test_min / (lanes * (1 - busy)) if offered else 0.0
    held = wait + test_min
    return Queue(busy, wait, held, cost_an_hour * held / 60.0)


def _erlang_c(lanes: int, offered: float) -> float:
    """Probability that a truck has to wait (Erlang's C formula)."""
    blocked = 1.0
    for c in range(1, lanes + 1):
        blocked = offered * blocked / (c + offered * blocked)
    return blocked / (1 - (offered / lanes) * (1 - blocked))
