"""What a number has to meet, and which reports count as meeting it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr

from lodestarch.common.arrays import FloatArray, as_array
from lodestarch.common.errors import NoAnswer

__all__ = ["Limits", "chance_between"]


@dataclass(frozen=True, slots=True)
class Limits:
    """A floor, a ceiling, or a window.

    Parameters
    ----------
    at_least_s, at_most_s : float or None
        What the true value is held against. [s]  One of them at least.
    counts_from_s, counts_to_s : float or None
        Smallest and largest unrounded report that count as reaching the floor and the ceiling; ``None``: the
        limit itself, that is without rounding. [s]  With whole seconds and halves up, 299.5 counts as 300.

    Raises
    ------
    NoAnswer
        ``limits-none`` without a limit, ``limits-crossed`` where the floor is not below the ceiling.
    """

    at_least_s: float | None = None
    at_most_s: float | None = None
    counts_from_s: float | None = None
    counts_to_s: float | None = None

    def __post_init__(self) -> None:
        if self.at_least_s is None and self.at_most_s is None:
            raise NoAnswer("limits-none")
        for low, high in ((self.low_s, self.high_s), (self.low_report_s, self.high_report_s)):
            if not low < high:
                raise NoAnswer("limits-crossed", low_s=low, high_s=high)

    @property
    def low_s(self) -> float:
        """Floor of the true value, minus infinity without one. [s]"""
        return -math.inf if self.at_least_s is None else self.at_least_s

    @property
    def high_s(self) -> float:
        """Ceiling of the true value, infinity without one. [s]"""
        return math.inf if self.at_most_s is None else self.at_most_s

    @property
    def low_report_s(self) -> float:
        """Smallest unrounded report that counts. [s]"""
        if self.at_least_s is None or self.counts_from_s is None:
            return self.low_s
        return self.counts_from_s

    @property
    def high_report_s(self) -> float:
        """Largest unrounded report that counts. [s]"""
        if self.at_most_s is None or self.counts_to_s is None:
            return self.high_s
        return self.counts_to_s


def chance_between(
    mean_s: npt.ArrayLike, sd_s: npt.ArrayLike, low_s: float, high_s: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Chances that a normal value lies between, under, and over two limits.

    Parameters
    ----------
    mean_s, sd_s : array_like
        Of the value. [s]  An sd of 0 is a known value; on a limit it counts as between.
    low_s, high_s : float
        Either may be infinite. [s]

    Returns
    -------
    between, under, over : ndarray
        Shape of ``mean_s`` and ``sd_s`` broadcast together. [1]

    Notes
    -----
    Phi((high - m)/s) - Phi((low - m)/s); JCGM 106:2012, 7.4 (recalled). The difference is taken between the
    smaller tails, so that chances far out keep their digits.

    Examples
    --------
    >>> between, _, _ = chance_between(310.0, 9.0, 300.0, float("inf"))
    >>> print(f"{float(between):.4f}")
    0.8667
    """
    mean, sd = np.broadcast_arrays(as_array(mean_s), as_array(sd_s))
    known = sd <= 0.0
    width = np.where(known, 1.0, sd)
    low, high = (low_s - mean) / width, (high_s - mean) / width
    under, over = ndtr(low), ndtr(-high)
    between = np.where(low > 0.0, ndtr(-low) - over, ndtr(high) - under)
    if known.any():
        under = np.where(known, mean < low_s, under)
        over = np.where(known, mean > high_s, over)
        between = np.where(known, (mean >= low_s) & (mean <= high_s), between)
    return between.astype(np.float64), under.astype(np.float64), over.astype(np.float64)
