"""Differences of two methods, instruments or labs on the same samples, against level."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import stdtrit

from lodestarch.common.errors import NoAnswer
from lodestarch.precision.line import Line, fit_line

__all__ = ["Agreement", "Repeatability", "agreement", "repeatability"]


@dataclass(frozen=True, slots=True)
class Agreement:
    """Differences first minus second.

    Parameters
    ----------
    n : int
    mean, sd : float
        Of the differences.
    se, low, high : float
        Standard error of the mean and its interval.
    limits : tuple of two floats
        Limits of agreement, mean -+ factor SD: most single differences lie between.
    factor : float
        1.96 or as asked.
    se_limit : float
        Standard error of each limit, sqrt(3 s^2/n).
    low_limit, high_limit : tuple of two floats
        Intervals of the two limits.
    against_level : Line or None
        Difference against the mean of both; ``None`` where all lie at one level.
    slope_low, slope_high : float or None
        Interval of its slope.
    correlation : float or None
        Of the two columns. [1]  Says nothing on agreement.
    probability : float
        Content of the intervals.
    """

    n: int
    mean: float
    sd: float
    se: float
    low: float
    high: float
    limits: tuple[float, float]
    factor: float
    se_limit: float
    low_limit: tuple[float, float]
    high_limit: tuple[float, float]
    against_level: Line | None
    slope_low: float | None
    slope_high: float | None
    correlation: float | None
    probability: float


def agreement(
    first: npt.ArrayLike, second: npt.ArrayLike, *, factor: float = 1.96, probability: float = 0.95
) -> Agreement:
    """Limits of agreement with their intervals.

    Parameters
    ----------
    first, second : array_like
        Paired results, all finite. At least three pairs.
    factor : float
        SDs from the mean to a limit: 1.96, or 2 as the first paper rounds it.
    probability : float
        Content of the intervals.

    Raises
    ------
    NoAnswer
        ``compare-pairs-few`` with fewer than three pairs.

    References
    ----------
    .. [1] Bland and Altman 1986, Lancet 327:307-310.
    """
    a, b = np.asarray(first, dtype=np.float64), np.asarray(second, dtype=np.float64)
    if a.size < 3:
        raise NoAnswer("compare-pairs-few", pairs=int(a.size), enough=3)
    d, level = a - b, 0.5 * (a + b)
    n = d.size
    mean, sd = float(d.mean()), float(d.std(ddof=1))
    t = float(stdtrit(n - 1.0, 0.5 * (1.0 + probability)))
    se, se_limit = sd / math.sqrt(n), sd * math.sqrt(3.0 / n)
    lower, upper = mean - factor * sd, mean + factor * sd
    try:
        line: Line | None = fit_line(level, d, origin=float(level.mean()))
    except NoAnswer:
        line = None
    slope = line.slope_interval(probability) if line else (None, None)
    spread = float(a.std()) * float(b.std())
    return Agreement(
        n=n, mean=mean, sd=sd, se=se, low=mean - t * se, high=mean + t * se, limits=(lower, upper),
        factor=factor, se_limit=se_limit,
        low_limit=(lower - t * se_limit, lower + t * se_limit),
        high_limit=(upper - t * se_limit, upper + t * se_limit),
        against_level=line, slope_low=slope[0], slope_high=slope[1],
        correlation=float(np.corrcoef(a, b)[0, 1]) if spread > 0.0 else None,
        probability=probability,
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Repeatability:
    """Spread of duplicates of one method.

    Parameters
    ----------
    n : int
    within_sd : float
        SD of a single result, sqrt(sum d^2/(2n)).
    two_rms : float
        Twice the root-mean-square difference.
    """

    n: int
    within_sd: float
    two_rms: float


def repeatability(first: npt.ArrayLike, second: npt.ArrayLike) -> Repeatability:
    """Within-sample SD from duplicates, one level of scatter for all.

    Raises
    ------
    NoAnswer
        ``compare-pairs-few`` without pairs.
    """
    d = np.asarray(first, dtype=np.float64) - np.asarray(second, dtype=np.float64)
    if d.size == 0:
        raise NoAnswer("compare-pairs-few", pairs=0, enough=1)
    square = float((d * d).mean())
    return Repeatability(int(d.size), math.sqrt(0.5 * square), 2.0 * math.sqrt(square))
