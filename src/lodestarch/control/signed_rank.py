"""Two tests without assumptions on the scatter, for many places at once.

Signed ranks: do the paired differences of a place lean to one side? Rank correlation: do they move with time?
"""

from __future__ import annotations

from functools import cache

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr, stdtr

from lodestarch.common.arrays import FloatArray

__all__ = ["exact_signed_rank_p", "rank_trend_p", "ranks_within", "signed_rank_p"]

Index = npt.NDArray[np.intp]
_EXACT_UP_TO = 60


def _stable(group: Index) -> Index:
    """Stable order by group; short numbers are sorted by radix."""
    short = np.int16 if group.max(initial=0) < 32_000 else np.int64
    return np.argsort(group.astype(short), kind="stable")


def _order_within(group: Index) -> FloatArray:
    """Place of each value in its group, from 1, in the order given."""
    order = _stable(group)
    g = group[order]
    at = np.arange(len(g))
    starts = np.r_[True, g[1:] != g[:-1]][: len(g)]
    place = np.empty(len(g))
    place[order] = at - np.maximum.accumulate(np.where(starts, at, 0)) + 1.0
    return place


def ranks_within(group: Index, value: FloatArray) -> FloatArray:
    """Rank of each value within its group from 1, ties sharing their mean rank."""
    if not len(group):
        return np.empty(0)
    # Sorting by value and then stably by a short group number is several times faster than lexsort.
    order = np.argsort(value)
    order = order[_stable(group[order])]
    g, v = group[order], value[order]
    starts_group = np.r_[True, g[1:] != g[:-1]]
    starts_tie = starts_group | np.r_[True, v[1:] != v[:-1]]
    at = np.arange(len(g))
    in_group = at - np.maximum.accumulate(np.where(starts_group, at, 0)) + 1.0
    tie = np.cumsum(starts_tie) - 1
    mean = np.bincount(tie, weights=in_group) / np.bincount(tie)
    ranks = np.empty(len(g))
    ranks[order] = mean[tie]
    return ranks


@cache
def _upper_tail(n: int) -> FloatArray:
    """P(W >= w) for w = 0 ... n(n+1)/2 under the null hypothesis: each rank's sign is a fair coin."""
    ways = np.zeros(n * (n + 1) // 2 + 1)
    ways[0] = 1.0
    for rank in range(1, n + 1):
        ways[rank:] = ways[rank:] + ways[:-rank]
    return np.asarray(np.cumsum(ways[::-1])[::-1] / 2.0**n)


def exact_signed_rank_p(w_plus: float, n: int) -> float:
    """Two-sided probability of a signed-rank sum at least as far from its middle as ``w_plus``.

    Parameters
    ----------
    w_plus : float
        Sum of the ranks of the positive differences.
    n : int
        Differences that are not zero. Legal 1 to 60; larger ones are left to the normal form.

    Notes
    -----
    All 2^n signs equally likely (F. Wilcoxon, Biometrics Bulletin 1:80-83, 1945; recalled). With ties the sum
    is rounded to the side of the middle, which never makes it look rarer than it is.

    Examples
    --------
    >>> exact_signed_rank_p(0.0, 10)
    0.001953125
    """
    top = n * (n + 1) // 2
    far = max(w_plus, top - w_plus)
    return float(min(1.0, 2.0 * _upper_tail(n)[int(np.floor(far))]))


def signed_rank_p(group: Index, value: FloatArray, groups: int) -> FloatArray:
    """Two-sided p of the signed-rank test in each group; zeros are left out.

    Parameters
    ----------
    group : ndarray of int
        Group of each value, 0 to ``groups`` - 1.
    value : ndarray
        Signed differences.
    groups : int
        How many groups.

    Returns
    -------
    ndarray
        A p each; 1 where a group has no difference. Exact up to 60 differences where it matters (a normal p
        below 0.1), normal with continuity correction otherwise.
    """
    keep = value != 0.0
    group, value = group[keep], value[keep]
    n = np.bincount(group, minlength=groups).astype(np.float64)
    rank = ranks_within(group, np.abs(value))
    w = np.bincount(group, weights=rank * (value > 0.0), minlength=groups)
    sd = np.sqrt(n * (n + 1.0) * (2.0 * n + 1.0) / 24.0)
    far = np.maximum(np.abs(w - n * (n + 1.0) / 4.0) - 0.5, 0.0)
    p = np.ones(groups)
    some = n > 0
    p[some] = np.minimum(1.0, 2.0 * ndtr(-far[some] / sd[some]))
    for i in np.flatnonzero(some & (n <= _EXACT_UP_TO) & (p < 0.1)):
        p[i] = exact_signed_rank_p(float(w[i]), int(n[i]))
    return p


def rank_trend_p(group: Index, value: FloatArray, groups: int) -> FloatArray:
    """Two-sided p of the rank correlation of values with their order in each group.

    Parameters
    ----------
    group : ndarray of int
        Group of each value, 0 to ``groups`` - 1.
    value : ndarray
        In the order of time within each group.
    groups : int
        How many groups.

    Notes
    -----
    Spearman's coefficient r by ranks; t = r sqrt((n - 2)/(1 - r^2)) against Student's t with n - 2 degrees of
    freedom, the usual approximation from about 10 values on (recalled). Fewer than 4 values, or values that
    are all alike, give 1.
    """
    n = np.bincount(group, minlength=groups).astype(np.float64)
    a, b = _order_within(group), ranks_within(group, value)
    mid = (n[group] + 1.0) / 2.0
    a, b = a - mid, b - mid
    saa, sbb, sab = (np.bincount(group, weights=x, minlength=groups) for x in (a * a, b * b, a * b))
    p = np.ones(groups)
    ok = (n >= 4) & (saa > 0.0) & (sbb > 0.0)
    r = np.clip(sab[ok] / np.sqrt(saa[ok] * sbb[ok]), -1.0 + 1e-12, 1.0 - 1e-12)
    freedom = n[ok] - 2.0
    p[ok] = 2.0 * stdtr(freedom, -np.abs(r) * np.sqrt(freedom / (1.0 - r * r)))
    return p
