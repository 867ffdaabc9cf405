"""Is a material even enough, and does it keep: homogeneity and stability of check and ring-test material."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import chdtri
from scipy.stats import f as f_law

from lodestarch.common.errors import NoAnswer, OutOfRange

__all__ = ["Homogeneity", "Stability", "expanded_factors", "homogeneity", "stability"]


@dataclass(frozen=True, slots=True)
class Homogeneity:
    """Spread between items against the spread within.

    Parameters
    ----------
    items : int
    mean, s_x, s_w, s_s : float
        Mean; SD of item means; within-item SD; between-item SD.
    criterion : float
        0.3 sigma_pt.
    passes : bool
        s_s at most the criterion.
    expanded_limit : float
        Limit of s_s^2 that allows for its own uncertainty (form recalled).
    passes_expanded : bool
    """

    items: int
    mean: float
    s_x: float
    s_w: float
    s_s: float
    criterion: float
    passes: bool
    expanded_limit: float
    passes_expanded: bool


def expanded_factors(items: int) -> tuple[float, float]:
    """Factors F1 and F2 of the expanded criterion.

    Notes
    -----
    F1 = chi2_0.95(g - 1)/(g - 1); F2 = (F_0.95(g - 1, g) - 1)/2.

    Examples
    --------
    >>> [round(x, 2) for x in expanded_factors(10)]
    [1.88, 1.01]
    """
    if items < 2:
        raise OutOfRange("items", items, 2, math.inf, "1")
    g = float(items)
    return float(chdtri(g - 1.0, 0.05)) / (g - 1.0), 0.5 * (float(f_law.ppf(0.95, g - 1.0, g)) - 1.0)


def homogeneity(duplicates: npt.ArrayLike, sigma_pt: float) -> Homogeneity:
    """Assess homogeneity from duplicates on several items.

    Parameters
    ----------
    duplicates : array_like
        Shape (items, 2), all finite. At least two items.
    sigma_pt : float
        SD for the assessment. Above 0.

    Raises
    ------
    NoAnswer
        ``homogeneity-items-few`` with fewer than two items.

    Notes
    -----
    s_w = sqrt(sum d^2/(2g)); s_s^2 = max(0, s_x^2 - s_w^2/2); passes when s_s <= 0.3 sigma_pt.
    """
    x = np.asarray(duplicates, dtype=np.float64)
    if x.ndim != 2 or x.shape[1] != 2 or x.shape[0] < 2:
        raise NoAnswer("homogeneity-items-few", items=int(x.shape[0]) if x.ndim else 0)
    if not sigma_pt > 0.0:
        raise OutOfRange("sigma_pt", sigma_pt, 0.0, math.inf, "unit of the result")
    g = x.shape[0]
    s_x = float(x.mean(axis=1).std(ddof=1))
    s_w = math.sqrt(float(((x[:, 0] - x[:, 1]) ** 2).sum()) / (2.0 * g))
    between = max(0.0, s_x**2 - 0.5 * s_w**2)
    criterion = 0.3 * sigma_pt
    f1, f2 = expanded_factors(g)
    limit = f1 * criterion**2 + f2 * s_w**2
    s_s = math.sqrt(between)
    return Homogeneity(
        g, float(x.mean()), s_x, s_w, s_s, criterion, s_s <= criterion, limit, between <= limit
    )


@dataclass(frozen=True, slots=True)
class Stability:
    """Difference of a later mean from the first.

    Parameters
    ----------
    mean, difference, criterion : float
        Later mean; its distance from the first; 0.3 sigma_pt.
    passes : bool
    """

    mean: float
    difference: float
    criterion: float
    passes: bool


def stability(first_mean: float, later: npt.ArrayLike, sigma_pt: float) -> Stability:
    """Compare a later mean with that of the homogeneity study; passes within 0.3 sigma_pt."""
    mean = float(np.asarray(later, dtype=np.float64).mean())
    gap = abs(mean - first_mean)
    return Stability(mean, gap, 0.3 * sigma_pt, gap <= 0.3 * sigma_pt)
