"""Are two instruments or labs equivalent within a stated margin?"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import stdtr, stdtrit

from lodestarch.common.errors import NoAnswer, OutOfRange

__all__ = ["Equivalence", "equivalence", "pairs_needed"]


@dataclass(frozen=True, slots=True)
class Equivalence:
    """Mean difference against a margin.

    Parameters
    ----------
    margin : float
        Largest difference that does not matter; stated before the data were seen.
    mean, se : float
        Mean difference and its standard error.
    low, high : float
        Interval of content 1 - 2 alpha.
    p : float
        p-value of the two one-sided tests.
    alpha : float
    verdict : str
        ``equivalent`` (interval within the margin), ``different`` (interval outside it),
        ``cannot-tell``.
    """

    margin: float
    mean: float
    se: float
    low: float
    high: float
    p: float
    alpha: float
    verdict: str


def equivalence(difference: npt.ArrayLike, margin: float, *, alpha: float = 0.05) -> Equivalence:
    """Two one-sided tests of the mean difference.

    Parameters
    ----------
    difference : array_like
        Paired differences, all finite. At least three.
    margin : float
        Above 0.
    alpha : float
        Level of each test. Above 0, below 0.5.

    Raises
    ------
    NoAnswer
        ``compare-pairs-few`` with fewer than three differences.

    Examples
    --------
    >>> equivalence([1.0, -2.0, 0.5, 1.5, -1.0, 0.0], 5.0).verdict
    'equivalent'
    """
    d = np.asarray(difference, dtype=np.float64)
    if d.size < 3:
        raise NoAnswer("compare-pairs-few", pairs=int(d.size), enough=3)
    if not (math.isfinite(margin) and margin > 0.0):
        raise OutOfRange("margin", margin, 0.0, math.inf, "unit of the results")
    mean, se, dof = float(d.mean()), float(d.std(ddof=1)) / math.sqrt(d.size), d.size - 1.0
    half = float(stdtrit(dof, 1.0 - alpha)) * se
    low, high = mean - half, mean + half
    if se > 0.0:
        p = float(max(stdtr(dof, -(mean + margin) / se), stdtr(dof, (mean - margin) / se)))
    else:
        p = 0.0 if abs(mean) < margin else 1.0
    inside = -margin < low and high < margin
    outside = low > margin or high < -margin
    verdict = "equivalent" if inside else "different" if outside else "cannot-tell"
    return Equivalence(margin, mean, se, low, high, p, alpha, verdict)


def pairs_needed(sd: float, margin: float, *, alpha: float = 0.05, power: float = 0.9) -> int:
    """Pairs after which truly equal labs are found equivalent with a probability.

    Parameters
    ----------
    sd : float
        SD of one paired difference. Above 0.
    margin : float
        Above 0, same unit.
    alpha, power : float

    Notes
    -----
    The smallest n at which 2 Phi-like power 2 T(margin sqrt(n)/sd - t_alpha) - 1 reaches the power; Student's
    factors, no difference taken as true.

    Examples
    --------
    >>> pairs_needed(9.0, 5.0)
    37
    """
    if not (sd > 0.0 and margin > 0.0):
        raise OutOfRange("sd and margin", min(sd, margin), 0.0, math.inf, "unit of the results")
    n = 3
    while n < 100_000:
        dof = n - 1.0
        reach = margin * math.sqrt(n) / sd - float(stdtrit(dof, 1.0 - alpha))
        if 2.0 * float(stdtr(dof, reach)) - 1.0 >= power:
            return n
        n += 1
    return n
