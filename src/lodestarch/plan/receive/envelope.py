"""Expected value of the best of several straight lines at a lognormal point.

The heart of what a test is worth: a bin pays a straight line in LN, one takes the best bin for what one
expects, and a test moves what one expects.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr

__all__ = ["Envelope", "envelope_of"]

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Envelope:
    """The best of the lines ``height + slope x`` over x > 0, as pieces from the left.

    Parameters
    ----------
    line : ndarray of int, shape (p,)
        Which line is best on each piece.
    height, slope : ndarray, shape (p,)
    ends : ndarray, shape (p - 1,)
        Where one gives way to the next, rising.
    """

    line: npt.NDArray[np.intp]
    height: Array
    slope: Array
    ends: Array

    def best(self, x: float) -> tuple[int, float]:
        """Return the best line at a point and its value."""
        piece = int(np.searchsorted(self.ends, x, side="right"))
        return int(self.line[piece]), float(self.height[piece] + self.slope[piece] * x)

    def expected(self, mean: float, variance: float) -> float:
        """Return the expected best value at x = exp(y), y normal.

        Parameters
        ----------
        mean, variance : float
            Of y. [1]

        Notes
        -----
        E[x; c < x < d] = e^(m + v/2) (Phi(B - s) - Phi(A - s)) with A, B the standardised logarithms of c and
        d and s = sqrt(v): the truncated mean of the lognormal (standard result).
        """
        if variance <= 0:
            return self.best(math.exp(mean))[1]
        s = math.sqrt(variance)
        with np.errstate(divide="ignore"):
            cut = (np.log(np.concatenate([[0.0], self.ends, [np.inf]])) - mean) / s
        share = np.diff(ndtr(cut))
        first = math.exp(mean + variance / 2) * np.diff(ndtr(cut - s))
        return float(self.height @ share + self.slope @ first)

    def gain(self, mean: float, variance: float, moved: float) -> float:
        """Return what knowing more is worth: ``moved`` is the variance of the new expectation. At least 0.

        Parameters
        ----------
        mean, variance : float
            Of log x now. [1]
        moved : float
            Part of ``variance`` that a test would resolve. [1]
        """
        left = max(variance - moved, 0.0)
        # What is expected after the test is exp(m' + left/2), with m' normal about the mean.
        after = self.expected(mean + left / 2, moved)
        return max(after - self.best(math.exp(mean + variance / 2))[1], 0.0)


def envelope_of(height: npt.ArrayLike, slope: npt.ArrayLike) -> Envelope:
    """Return the upper envelope of lines over x > 0.

    Parameters
    ----------
    height, slope : array_like, shape (n,)
        n at least 1.
    """
    a = np.asarray(height, dtype=np.float64)
    b = np.asarray(slope, dtype=np.float64)
    order = np.lexsort((-a, b))
    hull: list[int] = []
    for i in (int(k) for k in order):
        if hull and b[i] == b[hull[-1]]:
            continue
        while len(hull) >= 2 and _hidden(a, b, hull[-2], hull[-1], i):
            hull.pop()
        hull.append(i)
    at = np.array(hull, dtype=np.intp)
    ends = (a[at[:-1]] - a[at[1:]]) / (b[at[1:]] - b[at[:-1]])
    first = int(np.searchsorted(ends, 0.0, side="right"))
    return Envelope(at[first:], a[at[first:]], b[at[first:]], ends[first:])


def _hidden(a: Array, b: Array, left: int, middle: int, right: int) -> bool:
    """Tell whether the middle line is nowhere above both others; slopes rise from left to right."""
    return bool((a[left] - a[right]) * (b[middle] - b[left]) <= (a[left] - a[middle]) * (b[right] - b[left]))
