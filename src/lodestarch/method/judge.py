"""From readings to results, for any number of samples at once.

Readings come as flat arrays with a group number each; what comes back has one entry a group. The rules are
those of the profile: how many tubes, how far a pair may lie apart at its level, what counts after a pair
has disagreed, and how the result is rounded. The reported result is the method's (the mean of the pair, or
"at or below", or "above"); a likelihood estimate stands apart from it, in ``estimate``.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy import stats

from lodestarch.common.arrays import FloatArray
from lodestarch.common.rounding import half_up
from lodestarch.method.profile import Constants
from lodestarch.method.reading import Kind
from lodestarch.method.scatter import ScatterLaw

__all__ = [
    "AGREES",
    "DISAGREES",
    "NOT_JUDGED",
    "GroupResults",
    "Status",
    "agreement_limit_s",
    "judge_groups",
    "range_factor",
]

AGREES: Final = 1
DISAGREES: Final = 0
NOT_JUDGED: Final = -1

_MEDIAN_SD: Final = {
    1: 1.0, 2: 2**-0.5, 3: 0.6698, 4: 0.5461, 5: 0.5356,
    6: 0.4634, 7: 0.4587, 8: 0.4101, 9: 0.4076, 10: 0.3719,
}  # fmt: skip
"""SD of the median of n normal readings, in units of one reading's SD [1]. Derived: numerical integration
over order statistics, repeated in the tests. Beyond 10: sqrt(pi/(2 n)), which lies above the exact value."""

_TIE_S: Final = 1e-9
"""A spread that equals its limit in decimals agrees although binary floats put it a hair above [s]."""


class Status(StrEnum):
    """Standing of a result before anybody releases it."""

    NONE = "none"
    """No reading counts."""
    SCREEN = "screen"
    """Fewer tubes than the profile asks for."""
    PRELIMINARY = "preliminary"
    """May be answered by phone; waits for release."""
    HELD = "held"
    """Not to be given out: the readings disagree."""


@dataclass(frozen=True, slots=True)
class GroupResults:
    """One entry a group; seconds are floats, NaN where there is nothing to say."""

    tubes: npt.NDArray[np.int64]
    status: npt.NDArray[np.str_]
    kind: npt.NDArray[np.int8]
    mean_s: FloatArray
    seconds: FloatArray
    median_used: npt.NDArray[np.bool_]
    spread_s: FloatArray
    limit_s: FloatArray
    agreement: npt.NDArray[np.int8]
    u_s: FloatArray
    counted: npt.NDArray[np.bool_]
    """One entry a reading: whether it entered the result."""


@cache
def range_factor(n: int) -> float:
    """95 % point of the range of n normal readings, in units of one reading's SD. [1]

    Notes
    -----
    Derived from the studentised range with infinite degrees of freedom. ISO 5725-6 prints 2.8, 3.3, 3.6,
    3.9, 4.0 for n = 2 to 6 (recalled).

    Examples
    --------
    >>> [round(range_factor(n), 2) for n in (2, 3, 4, 5, 6)]
    [2.77, 3.31, 3.63, 3.86, 4.03]
    """
    return float(stats.studentized_range.ppf(0.95, n, np.inf))


def agreement_limit_s(level_s: npt.ArrayLike, constants: Constants, tubes: int = 2) -> FloatArray:
    """How far apart the readings of one sample may lie.

    Parameters
    ----------
    level_s : array_like
        Mean of the readings. [s]
    constants : Constants
        Of a profile: limits by level for a pair, in per cent of the mean or in seconds.
    tubes : int
        Readings compared; beyond two the limit for the range is wider by ``range_factor(n)/range_factor(2)``.

    Returns
    -------
    ndarray
        Limit, shape of ``level_s``. [s]
    """
    level = np.asarray(level_s, dtype=np.float64)
    froms, limits = (np.array(x) for x in zip(*constants.agreement_limits, strict=True))
    index = np.clip(np.searchsorted(froms, level, side="right") - 1, 0, len(froms) - 1)
    limit = limits[index] * (level / 100.0 if constants.agreement_unit == "%" else 1.0)
    return np.asarray(limit * (range_factor(tubes) / range_factor(2) if tubes > 2 else 1.0))


def _latest_agreeing_run(
    group: npt.NDArray[np.int64],
    run_order: npt.NDArray[np.int64],
    seconds: FloatArray,
    counts: npt.NDArray[np.bool_],
    constants: Constants,
) -> npt.NDArray[np.bool_]:
    """Readings that count under *fresh-pair-alone*.

    A full run that disagrees gives way to a later one that agrees. A run that agreed goes on counting with
    every later one, so that nobody can test until it passes.
    """
    g, r, s = group[counts], run_order[counts], seconds[counts]
    if not g.size:
        return counts
    order = np.lexsort((s, r, g))
    g, r, s = g[order], r[order], s[order]
    start = np.flatnonzero(np.concatenate(([True], (np.diff(g) != 0) | (np.diff(r) != 0))))
    n = np.diff(np.concatenate((start, [g.size])))
    spread = np.maximum.reduceat(s, start) - np.minimum.reduceat(s, start)
    limit = _limits(np.add.reduceat(s, start) / n, n, constants)
    full = (n >= constants.tubes) & (spread <= limit + _TIE_S)
    last = np.full(int(g.max()) + 1, -1, dtype=np.int64)
    np.maximum.at(last, g[start[full]], r[start[full]])
    gives_way = (n >= constants.tubes) & ~full & (r[start] < last[g[start]])
    kept = np.empty(g.size, dtype=np.bool_)
    kept[order] = ~np.repeat(gives_way, n)
    keep = counts.copy()
    keep[counts] = kept
    return keep


def _limits(level_s: FloatArray, tubes: npt.NDArray[np.int64], constants: Constants) -> FloatArray:
    """Limit of each group for its own number of readings; that of a pair below three. [s]"""
    limit = agreement_limit_s(level_s, constants)
    for n in np.unique(tubes[tubes > 2]):
        limit[tubes == n] *= range_factor(int(n)) / range_factor(2)
    return limit


def _medians(
    g: npt.NDArray[np.int64],
    columns: tuple[FloatArray, ...],
    tubes: npt.NDArray[np.int64],
    where: npt.NDArray[np.bool_],
) -> list[FloatArray]:
    """Median of each column in each group ``where`` says so, NaN in the others; ``g`` ascends."""
    mine, n = where[g], tubes[where]
    first = np.concatenate(([0], np.cumsum(n)))[:-1]
    out = []
    for x in columns:
        y = x[mine][np.lexsort((x[mine], g[mine]))]
        full = np.full(where.size, np.nan)
        full[where] = (y[first + (n - 1) // 2] + y[first + n // 2]) / 2.0
        out.append(full)
    return out


def _toward_truth(mean: FloatArray, kinds: npt.NDArray[np.int8], step_s: float) -> FloatArray:
    """Round a value to the nearest step, but a bound outward: it is never stronger than its readings."""
    n = mean / step_s
    up, down = np.ceil(n - 1e-9) * step_s, np.floor(n + 1e-9) * step_s
    bound = np.where(kinds == Kind.AT_OR_BELOW, up, np.where(kinds == Kind.ABOVE, down, mean))
    return half_up(bound, step_s)


def judge_groups(
    group: npt.NDArray[np.int64],
    seconds: FloatArray,
    kind: npt.NDArray[np.int8],
    counts: npt.NDArray[np.bool_],
    constants: Constants,
    scatter: ScatterLaw,
    *,
    groups: int,
    run_order: npt.NDArray[np.int64] | None = None,
) -> GroupResults:
    """Judge the readings of many samples.

    Parameters
    ----------
    group : ndarray of n, int
        Sample number of each reading, 0 to ``groups - 1``.
    seconds : ndarray of n
        Readings; the bound where ``kind`` is not exact. [s]
    kind : ndarray of n, int8
        ``Kind`` of each. Exact readings at or below the floor become *at or below* the floor.
    counts : ndarray of n, bool
        False for readings that are impossible or set aside with a cause.
    constants : Constants
        Of the profile.
    scatter : ScatterLaw
        Law of one tube's SD, for u.
    groups : int
        Number of samples.
    run_order : ndarray of n, int, optional
        Rank of the run of each reading within its sample; needed for *fresh-pair-alone* only.

    Returns
    -------
    GroupResults

    Notes
    -----
    Censored readings are intervals: [stirring time, t] for "at or below t", [t, inf) for "above t". A group
    disagrees when even the least range that its intervals allow is over the limit, agrees when the greatest
    is within it, and is *not judged* between. With more than ``tubes`` readings: the mean where the range is
    within the factor for n, else the median (ISO 5725-6, recalled). u is the law's SD over the square root of
    n; where the readings disagreed it is not taken smaller than their own SD gives. A bound is rounded
    outward: 390 and "above 401" give "above 395", never "above 396".
    """
    kind = kind.copy()
    floored = (kind == Kind.EXACT) & (seconds <= constants.floor_s)
    seconds = np.where(floored, constants.floor_s, seconds)
    kind[floored] = Kind.AT_OR_BELOW
    if constants.disagreement_rule == "fresh-pair-alone" and run_order is not None:
        counts = _latest_agreeing_run(group, run_order, seconds, counts, constants)

    g, s, k = group[counts], seconds[counts], kind[counts]
    order = np.lexsort((k, s, g))
    g, s, k = g[order], s[order], k[order]
    tubes = np.bincount(g, minlength=groups).astype(np.int64)
    start = np.concatenate(([0], np.cumsum(tubes)))[:-1]
    some = tubes > 0
    at = start[some]

    low = np.where(k == Kind.AT_OR_BELOW, constants.stirring_s, s)
    high = np.where(k == Kind.ABOVE, np.inf, s)

    def per_group(ufunc: np.ufunc, x: FloatArray) -> FloatArray:
        out = np.full(groups, np.nan)
        if at.size:
            out[some] = ufunc.reduceat(x, at)
        return out

    with np.errstate(invalid="ignore", divide="ignore"):
        mean = per_group(np.add, s) / tubes
        spread = per_group(np.maximum, s) - per_group(np.minimum, s)
        least = np.maximum(per_group(np.maximum, low) - per_group(np.minimum, high), 0.0)
        greatest = per_group(np.maximum, high) - per_group(np.minimum, low)
    limit = _limits(np.where(some, mean, 1.0), tubes, constants)
    limit[tubes < 2] = np.nan

    agreement = np.full(groups, NOT_JUDGED, dtype=np.int8)
    agreement[(tubes >= 2) & (greatest <= limit + _TIE_S)] = AGREES
    agreement[(tubes >= 2) & (least > limit + _TIE_S)] = DISAGREES

    has = [np.bincount(g, weights=(k == kd), minlength=groups) > 0 for kd in (Kind.AT_OR_BELOW, Kind.ABOVE)]
    kinds = np.full(groups, Kind.EXACT, dtype=np.int8)
    kinds[has[0]] = Kind.AT_OR_BELOW
    kinds[has[1]] = Kind.ABOVE

    median_used = (agreement == DISAGREES) & (tubes > constants.tubes)
    # Where it cannot be told whether mean or median is the result, the weaker of the two bounds is.
    either = (agreement == NOT_JUDGED) & (tubes > constants.tubes) & (kinds != Kind.EXACT)
    if np.any(median_used | either):
        # A censored reading leaves the median exact only where it may slide its whole way without moving it.
        middle, least_mid, most_mid = _medians(g, (s, low, high), tubes, median_used | either)
        mean[median_used] = middle[median_used]
        kinds[median_used] = np.select(
            [most_mid > middle, least_mid < middle], [Kind.ABOVE, Kind.AT_OR_BELOW], default=Kind.EXACT
        )[median_used]
        weaker = np.where(kinds == Kind.ABOVE, np.minimum(mean, middle), np.maximum(mean, middle))
        mean[either] = weaker[either]

    status = np.full(groups, Status.PRELIMINARY.value, dtype="<U11")
    status[tubes < constants.tubes] = Status.SCREEN.value
    status[tubes == 0] = Status.NONE.value
    status[(agreement == DISAGREES) & (tubes <= constants.tubes)] = Status.HELD.value
    # A tube that may lie anywhere below the floor and one stopped early say nothing together.
    both = has[0] & has[1] & (~median_used | (kinds != Kind.EXACT))
    status[both & (tubes >= 2)] = Status.HELD.value

    u = _u_of_result(g, s, groups, tubes, mean, kinds, agreement, median_used, scatter)
    return GroupResults(
        tubes=tubes,
        status=status,
        kind=kinds,
        mean_s=mean,
        seconds=_toward_truth(mean, kinds, constants.rounding_s),
        median_used=median_used,
        spread_s=np.where(tubes >= 2, spread, np.nan),
        limit_s=limit,
        agreement=agreement,
        u_s=u,
        counted=counts,
    )


def _u_of_result(
    g: npt.NDArray[np.int64],
    s: FloatArray,
    groups: int,
    tubes: npt.NDArray[np.int64],
    mean: FloatArray,
    kinds: npt.NDArray[np.int8],
    agreement: npt.NDArray[np.int8],
    median_used: npt.NDArray[np.bool_],
    scatter: ScatterLaw,
) -> FloatArray:
    """Standard uncertainty of each result from tube scatter; NaN where it is not evaluated."""
    u = np.full(groups, np.nan)
    usable = (tubes > 0) & (kinds == Kind.EXACT) & ~((agreement == DISAGREES) & ~median_used)
    sd = np.where(usable, scatter.sd_s(np.where(usable, mean, 300.0)), np.nan)
    with np.errstate(invalid="ignore", divide="ignore"):
        square = np.bincount(g, weights=(s - mean[g]) ** 2, minlength=groups)
        own = np.sqrt(square / np.maximum(tubes - 1, 1))
        factor = 1.0 / np.sqrt(tubes)
        for n in np.unique(tubes[median_used]):
            factor[median_used & (tubes == n)] = _MEDIAN_SD.get(int(n), float(np.sqrt(np.pi / (2.0 * n))))
        u[usable] = (np.where(median_used, np.maximum(sd, own), sd) * factor)[usable]
    return u
