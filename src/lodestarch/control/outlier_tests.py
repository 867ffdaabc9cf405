"""Outlier tests of ring tests: Grubbs, Cochran, Mandel's h and k, with critical values by formula."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt
from scipy.special import stdtrit
from scipy.stats import f as f_law

from lodestarch.common.errors import OutOfRange

__all__ = [
    "Grubbs",
    "cochran",
    "cochran_critical",
    "grubbs",
    "grubbs_critical",
    "mandel_h_critical",
    "mandel_k_critical",
]

Sides = Literal["one", "two"]


@dataclass(frozen=True, slots=True)
class Grubbs:
    """Grubbs' statistics of one set.

    Parameters
    ----------
    high, low : float
        (largest - mean)/SD and (mean - smallest)/SD. [1]
    at_high, at_low : int
        Where they lie.
    """

    high: float
    low: float
    at_high: int
    at_low: int


def grubbs(values: npt.ArrayLike) -> Grubbs | None:
    """Grubbs' statistics, or ``None`` with fewer than three values or when all are equal.

    Examples
    --------
    >>> round(grubbs([199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57]).high, 4)
    2.4688
    """
    x = np.asarray(values, dtype=np.float64)
    if x.size < 3:
        return None
    d = x - x.mean()
    d -= d.mean()
    sd = math.sqrt(float((d * d).sum()) / (x.size - 1))
    if not sd > 1e-12 * max(1.0, float(np.abs(x).max())):
        return None
    high, low = int(np.argmax(d)), int(np.argmin(d))
    return Grubbs(float(d[high]) / sd, -float(d[low]) / sd, high, low)


def grubbs_critical(p: int, alpha: float, sides: Sides = "two") -> float:
    """Critical value of Grubbs' test for one outlier among p values.

    Parameters
    ----------
    p : int
        At least 3.
    alpha : float
        Level of the test. Above 0, below 0.5.
    sides : str
        ``two`` (the table of ISO 5725-2: t at alpha/(2p)) or ``one`` (t at alpha/p).

    Notes
    -----
    G = (p - 1)/sqrt(p) sqrt(t^2/(p - 2 + t^2)), t with p - 2 degrees of freedom; as in [1]_.

    References
    ----------
    .. [1] Wilrich 2013, "Critical values of Mandel's h and k, the Grubbs and the Cochran test statistic",
       doi 10.1007/s10182-011-0185-y (abstract).

    Examples
    --------
    >>> round(grubbs_critical(8, 0.05), 3), round(grubbs_critical(8, 0.05, "one"), 3)
    (2.127, 2.032)
    """
    _check(p, alpha, 3)
    t = float(stdtrit(p - 2.0, 1.0 - alpha / (p * (2 if sides == "two" else 1))))
    return (p - 1) / math.sqrt(p) * math.sqrt(t * t / (p - 2 + t * t))


def cochran(variances: npt.ArrayLike) -> tuple[float, int] | None:
    """Cochran's C, the largest variance over their sum, and where it lies; ``None`` when all are 0."""
    v = np.asarray(variances, dtype=np.float64)
    total = float(v.sum())
    if v.size < 2 or not total > 0.0:
        return None
    at = int(np.argmax(v))
    return float(v[at]) / total, at


def cochran_critical(p: int, n: int, alpha: float) -> float:
    """Critical value of Cochran's test for p laboratories with n replicates.

    Notes
    -----
    C = 1/(1 + (p - 1)/F), F at 1 - alpha/p with n - 1 and (p - 1)(n - 1) degrees of freedom; the union bound
    can differ from printed tables by 1 in the third decimal.

    Examples
    --------
    >>> round(cochran_critical(9, 2, 0.05), 3)
    0.638
    """
    _check(p, alpha, 2)
    _check(n, alpha, 2)
    f = float(f_law.ppf(1.0 - alpha / p, n - 1, (p - 1) * (n - 1)))
    return 1.0 / (1.0 + (p - 1) / f)


def mandel_h_critical(p: int, alpha: float) -> float:
    """Critical value of Mandel's h, two-sided, for p laboratories.

    Notes
    -----
    h = (p - 1)t/sqrt(p(t^2 + p - 2)), t at 1 - alpha/2 with p - 2 degrees of freedom.

    Examples
    --------
    >>> round(mandel_h_critical(8, 0.05), 2)
    1.75
    """
    _check(p, alpha, 3)
    t = float(stdtrit(p - 2.0, 1.0 - 0.5 * alpha))
    return (p - 1) * t / math.sqrt(p * (t * t + p - 2))


def mandel_k_critical(p: int, n: int, alpha: float) -> float:
    """Critical value of Mandel's k for p laboratories with n replicates.

    Notes
    -----
    k = sqrt(p/(1 + (p - 1)/F)), F at 1 - alpha with n - 1 and (p - 1)(n - 1) degrees of freedom.

    Examples
    --------
    >>> round(mandel_k_critical(8, 2, 0.05), 2)
    1.88
    """
    _check(p, alpha, 2)
    _check(n, alpha, 2)
    f = float(f_law.ppf(1.0 - alpha, n - 1, (p - 1) * (n - 1)))
    return math.sqrt(p / (1.0 + (p - 1) / f))


def _check(count: int, alpha: float, least: int) -> None:
    if count < least:
        raise OutOfRange("count", count, least, math.inf, "1")
    if not 0.0 < alpha < 0.5:
        raise OutOfRange("alpha", alpha, 0.0, 0.5, "1")
