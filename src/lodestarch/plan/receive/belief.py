"""What is known of every load, given the results so far.

A Gaussian belief about the mean, the varieties and the fields on the scale log LN, updated with each result:
exact for single loads (the conjugate rule), to first order for a composite of several.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from lodestarch.common.errors import OutOfRange
from lodestarch.plan.gaussian import learned
from lodestarch.plan.receive.loads import Load, Spread

__all__ = ["Belief", "Seen"]

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Seen:
    """Mean and variance of a load's log LN. [1]"""

    mean: float
    variance: float

    @property
    def ln(self) -> float:
        """Expected LN: what the load adds to a bin, by tonne. [1]"""
        return math.exp(self.mean + self.variance / 2)

    @property
    def fn_s(self) -> float:
        """Falling number that blends like the expected LN. [s]"""
        return 6000.0 / self.ln + 50.0


class Belief:
    """The season so far, as a Gaussian belief; grows as fields and varieties turn up.

    Parameters
    ----------
    spread : Spread

    Notes
    -----
    With design row h (1 for the mean, the variety and the field), prior covariance P and result z of a load,
    z = h.theta + load + test; K = P h / (h P h + load^2 + test^2); theta += K (z - h.theta); P -= K h P
    (the Kalman update, standard linear-Gaussian theory).
    """

    def __init__(self, spread: Spread) -> None:
        self.spread = spread
        self._at: dict[tuple[str, str], int] = {}
        self._theta: Array = np.array([spread.mean])
        self._cov: Array = np.array([[spread.mean_sd**2]])
        self._own: dict[str, Seen] = {}
        self._day = 0

    @property
    def mean(self) -> float:
        """Mean of log LN of the season as it stands. [1]"""
        return float(self._theta[0])

    @property
    def mean_variance(self) -> float:
        """How sure the mean is. [1]"""
        return float(self._cov[0, 0])

    @property
    def day(self) -> int:
        """Day reached."""
        return self._day

    def advance(self, day: int) -> None:
        """Let the mean wander to a later day.

        Raises
        ------
        OutOfRange
            A day before the one reached.
        """
        if day < self._day:
            raise OutOfRange("day", day, self._day, math.inf, "d")
        self._cov[0, 0] += (day - self._day) * self.spread.day**2
        self._day = day

    def seen(self, load: Load) -> Seen:
        """Return what is known of a load: its own result and its neighbours'."""
        own = self._own.get(load.ticket)
        return own if own is not None else self.predicted(load)

    def predicted(self, load: Load) -> Seen:
        """Return what the neighbours alone tell of a load."""
        rows = self._rows(load)
        mean = float(self._theta[rows].sum())
        variance = float(self._cov[np.ix_(rows, rows)].sum()) + self.spread.load**2
        return Seen(mean, variance)

    def tested(self, load: Load) -> bool:
        """Tell whether a load has a result of its own."""
        return load.ticket in self._own

    def gain_elsewhere(self, load: Load, other: Load) -> float:
        """Return the variance by which a test of ``load`` would move what is expected of ``other``. [1]"""
        a, b = self._rows(load), self._rows(other)
        shared = float(self._cov[np.ix_(a, b)].sum())
        return shared**2 / (self.predicted(load).variance + self.spread.test**2)

    def learn(self, load: Load, ln: float) -> None:
        """Take the result of one load.

        Parameters
        ----------
        load : Load
        ln : float
            Measured LN. [1]  Above 0.
        """
        if not ln > 0:
            raise OutOfRange("ln", ln, 0.0, math.inf, "1")
        before = self.predicted(load)
        z = math.log(ln)
        weight = before.variance / (before.variance + self.spread.test**2)
        self._own[load.ticket] = Seen(
            before.mean + weight * (z - before.mean), before.variance * (1 - weight)
        )
        self._update([(load, 1.0)], z - before.mean, self.spread.test**2)

    def learn_composite(self, loads: Sequence[Load], ln: float) -> None:
        """Take the result of a sample composited by mass from several untested loads, to first order.

        Notes
        -----
        log sum w_i exp(y_i), linear about the means: weights g_i = w_i exp(m_i)/sum. First order (derived).
        """
        if not ln > 0:
            raise OutOfRange("ln", ln, 0.0, math.inf, "1")
        parts = np.array([load.tonnes * math.exp(self.predicted(load).mean) for load in loads])
        expected = math.log(parts.sum() / sum(load.tonnes for load in loads))
        shares = parts / parts.sum()
        self._update(list(zip(loads, shares, strict=True)), math.log(ln) - expected, self.spread.test**2)

    def _update(self, parts: list[tuple[Load, float]], surprise: float, noise: float) -> None:
        rows = [(self._rows(load), share) for load, share in parts]
        design = np.zeros(self._theta.size)
        for at, share in rows:
            design[at] += share
        own = sum(share**2 for _, share in parts) * self.spread.load**2
        self._theta, self._cov = learned(self._theta, self._cov, design, surprise, own + noise)

    def _rows(self, load: Load) -> npt.NDArray[np.intp]:
        variety = load.variety if load.variety is not None else f"?{load.ticket}"
        field = load.field if load.field is not None else f"?{load.ticket}"
        return np.array(
            [
                0,
                self._level("variety", variety, self.spread.variety),
                self._level("field", field, self.spread.field),
            ]
        )

    def _level(self, factor: str, name: str, sd: float) -> int:
        at = self._at.get((factor, name))
        if at is None:
            at = self._at[factor, name] = self._theta.size
            self._theta = np.append(self._theta, 0.0)
            grown = np.zeros((at + 1, at + 1))
            grown[:at, :at] = self._cov
            grown[at, at] = sd**2
            self._cov = grown
        return at
