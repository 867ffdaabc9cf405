"""What testing a load is worth before it is dumped, and what it tells about the loads after it."""

from __future__ import annotations

from dataclasses import dataclass

from lodestarch.plan.receive.belief import Belief
from lodestarch.plan.receive.envelope import Envelope
from lodestarch.plan.receive.loads import Load

__all__ = ["Worth", "gain_of_result", "worth_of_test"]


@dataclass(frozen=True, slots=True)
class Worth:
    """Money that a test of a load is expected to bring. [money]

    Parameters
    ----------
    own : float
        By putting this load into a better bin; only if the truck waits for the result.
    elsewhere : float
        By knowing more of the loads still to come from its field; also if it dumps now.
    """

    own: float
    elsewhere: float

    @property
    def held(self) -> float:
        """With the truck waiting for the result."""
        return self.own + self.elsewhere


def gain_of_result(lines: Envelope, mean: float, variance: float, test_sd: float) -> float:
    """Return what a result gains by tonne.

    Parameters
    ----------
    lines : Envelope
        Worth of a tonne by its LN in each bin. [money/t]
    mean, variance : float
        Of the load's log LN now. [1]
    test_sd : float
        Of a result about the truth, on log LN. [1]

    Notes
    -----
    E[max over bins] after the result minus max over bins of the expectation now (:meth:`Envelope.gain`); the
    result moves the expectation by the variance v^2/(v + s^2), v now, s the test's.
    """
    return lines.gain(mean, variance, variance**2 / (variance + test_sd**2)) if variance > 0 else 0.0


def worth_of_test(
    belief: Belief, load: Load, lines: Envelope, to_come: float, untested_share: float
) -> Worth:
    """Return what a test of a load is worth.

    Parameters
    ----------
    belief : Belief
    load : Load
        Not tested yet.
    lines : Envelope
        Best worth of a tonne by its LN. [money/t]
    to_come : float
        Loads still to come from the same field. At least 0.
    untested_share : float
        How many of those will not be tested themselves. 0 to 1.

    Notes
    -----
    What it tells of the next load of the field moves that load's expectation by ``Belief.gain_elsewhere``.
    """
    now = belief.predicted(load)
    own = load.tonnes * gain_of_result(lines, now.mean, now.variance, belief.spread.test)
    if to_come <= 0 or untested_share <= 0:
        return Worth(own, 0.0)
    later = Load(f"{load.ticket}+", load.tonnes, load.field, load.variety, day=load.day)
    there = belief.predicted(later)
    moved = min(belief.gain_elsewhere(load, later), there.variance)
    each = load.tonnes * lines.gain(there.mean, there.variance, moved)
    return Worth(own, to_come * untested_share * each)
