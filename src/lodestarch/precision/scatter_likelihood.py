"""Log likelihood of duplicate pairs under a law of scatter, compiled.

Two tubes of one sample with SD s differ by a normal quantity of variance 2 s^2; readings in whole
seconds add r^2/6 (two roundings of variance r^2/12 each). A pair has a gross error with a small
probability, and then an SD some times as large. Where one tube is at the floor, or was stopped, the pair
says only that the difference is at least the distance from the exact reading to the bound. With a flat
prior on the sample's level these three cases make one joint likelihood, free of the level.
"""

from __future__ import annotations

import math

import numba
import numpy as np
import numpy.typing as npt

from lodestarch.common.arrays import FloatArray
from lodestarch.precision.pairs import Pairs

__all__ = ["Evidence", "evidence", "log_likelihood", "posterior_on_peak"]

_LEVEL_STEP = 0.02
_GAP_STEPS = 128
_COMPRESS_FROM = 4000


class Evidence:
    """What pairs say about scatter: levels, gaps, whether the gap is a bound, and how many of each."""

    __slots__ = ("bound", "count", "gap_s", "level_s", "resolution_s")

    def __init__(
        self,
        level_s: FloatArray,
        gap_s: FloatArray,
        bound: npt.NDArray[np.bool_],
        count: FloatArray,
        resolution_s: float,
    ) -> None:
        self.level_s, self.gap_s, self.bound, self.count = level_s, gap_s, bound, count
        self.resolution_s = resolution_s

    @property
    def n(self) -> int:
        """Number of pairs that say something."""
        return round(float(self.count.sum()))


def _resolution_of(pairs: Pairs) -> float:
    """1 s where every exact reading is a whole second, else 0: then rounding is left in the scatter."""
    exact = pairs.exact
    both = np.concatenate([pairs.first_s[exact], pairs.second_s[exact]])
    return 1.0 if both.size and bool(np.all(both == np.round(both))) else 0.0


def evidence(pairs: Pairs, resolution_s: float | None = None) -> Evidence:
    """Sum pairs up into what their likelihood needs.

    Parameters
    ----------
    pairs : Pairs
    resolution_s : float, optional
        Step to which readings are rounded. [s]  Whole seconds are recognised when left out.

    Returns
    -------
    Evidence
        Pairs in which no tube was read exactly say nothing and are left out. Above 4000 pairs they are
        gathered in cells of 2 % of level by 128 steps of relative gap, finest where gaps are small; each
        cell keeps its own mean level and root-mean-square gap, so that the sum of squares is exact.
    """
    step = _resolution_of(pairs) if resolution_s is None else resolution_s
    exact, one = pairs.exact, pairs.one_sided
    use = exact | one
    level, gap, bound = pairs.level_s[use], pairs.gap_s[use], one[use]
    if level.size <= _COMPRESS_FROM:
        return Evidence(level, gap, bound, np.ones(level.size), step)
    return Evidence(*_cells(level, gap, bound), step)


def _cells(
    level: FloatArray, gap: FloatArray, bound: npt.NDArray[np.bool_]
) -> tuple[FloatArray, FloatArray, npt.NDArray[np.bool_], FloatArray]:
    row = np.floor(np.log(level) / _LEVEL_STEP).astype(np.int64)
    row -= row.min()
    ratio = gap / level
    # Square-root spacing: fine where gaps are small and many, coarse in the tail.
    column = np.floor(np.sqrt(ratio / max(float(ratio.max()), 1e-12)) * (_GAP_STEPS - 1)).astype(np.int64)
    key = (row * _GAP_STEPS + column) * 2 + bound
    size = (int(row.max()) + 1) * _GAP_STEPS * 2
    count = np.bincount(key, minlength=size).astype(np.float64)
    full = np.flatnonzero(count)
    n = count[full]
    mean_level = np.bincount(key, weights=level, minlength=size)[full] / n
    rms_gap = np.sqrt(np.bincount(key, weights=gap * gap, minlength=size)[full] / n)
    return mean_level, rms_gap, (full % 2).astype(np.bool_), n


@numba.njit(cache=True)
def _log_likelihood_at(
    log_scale: float,
    shape_s: FloatArray,
    gap_s: FloatArray,
    bound: npt.NDArray[np.bool_],
    count: FloatArray,
    share: float,
    factor: float,
    rounding: float,
) -> float:
    half = 0.5 * (1.0 - 1.0 / (factor * factor))
    c2 = 2.0 * math.exp(2.0 * log_scale)
    total = 0.0
    for i in range(gap_s.size):
        v = c2 * shape_s[i] * shape_s[i] + rounding
        if bound[i]:
            z = gap_s[i] / math.sqrt(2.0 * v)
            p = (1.0 - share) * 0.5 * math.erfc(z) + share * 0.5 * math.erfc(z / factor)
            total += count[i] * math.log(max(p, 1e-300))
        else:
            x = gap_s[i] * gap_s[i] / v
            term = -0.5 * math.log(6.283185307179586 * v) - 0.5 * x
            if share > 0.0:
                a = half * x
                if a > 600.0:
                    term += math.log(share / factor) + a
                else:
                    term += math.log((1.0 - share) + share * math.exp(a) / factor)
            total += count[i] * term
    return total


@numba.njit(cache=True)
def _log_posterior_at(
    log_scale: float,
    shape_s: FloatArray,
    gap_s: FloatArray,
    bound: npt.NDArray[np.bool_],
    count: FloatArray,
    share: float,
    factor: float,
    rounding: float,
    centre: float,
    spread: float,
) -> float:
    z = (log_scale - centre) / spread
    return (
        _log_likelihood_at(log_scale, shape_s, gap_s, bound, count, share, factor, rounding)
        - 0.5 * z * z
        - math.log(spread * math.sqrt(2.0 * math.pi))
    )


@numba.njit(cache=True)
def _posterior_on_peak(
    shape_s: FloatArray,
    gap_s: FloatArray,
    bound: npt.NDArray[np.bool_],
    count: FloatArray,
    share: float,
    factor: float,
    rounding: float,
    centre: float,
    spread: float,
    start: float,
    steps: FloatArray,
) -> tuple[float, float, FloatArray]:
    """Peak and SD of the log posterior by parabolas through three points, then its values on a grid."""
    u = start
    n = count.sum()
    sd = 1.0 / math.sqrt(1.0 / (spread * spread) + 2.0 * n)
    for _ in range(40):
        h = 0.5 * sd
        left = _log_posterior_at(u - h, shape_s, gap_s, bound, count, share, factor, rounding, centre, spread)
        here = _log_posterior_at(u, shape_s, gap_s, bound, count, share, factor, rounding, centre, spread)
        right = _log_posterior_at(
            u + h, shape_s, gap_s, bound, count, share, factor, rounding, centre, spread
        )
        curvature = (left - 2.0 * here + right) / (h * h)
        slope = (right - left) / (2.0 * h)
        if curvature >= 0.0:
            step = 2.0 * sd if slope > 0.0 else -2.0 * sd
        else:
            sd = min(1.0 / math.sqrt(-curvature), spread)
            step = max(-1.0, min(1.0, -slope / curvature))
        u += step
        if abs(step) < 0.02 * sd:
            break
    value = np.empty(steps.size)
    for j in range(steps.size):
        at = u + sd * steps[j]
        value[j] = _log_posterior_at(
            at, shape_s, gap_s, bound, count, share, factor, rounding, centre, spread
        )
    return u, sd, value


def log_likelihood(
    data: Evidence, shape_s: FloatArray, log_scale: float, share: float, factor: float
) -> float:
    """Log likelihood at one scale for one shape and one share of gross errors.

    Parameters
    ----------
    data : Evidence
    shape_s : ndarray
        SD over scale at ``data.level_s``. [s]
    log_scale : float
        Logarithm of the scale. [1]
    share : float
        Share of pairs with a gross error. [1]  Legal 0 to 1.
    factor : float
        SD of such a pair over that of a good one. [1]  Above 1.
    """
    rounding = data.resolution_s**2 / 6.0
    return float(
        _log_likelihood_at(log_scale, shape_s, data.gap_s, data.bound, data.count, share, factor, rounding)
    )


def posterior_on_peak(
    data: Evidence,
    shape_s: FloatArray,
    share: float,
    factor: float,
    centre: float,
    spread: float,
    start: float,
    steps: FloatArray,
) -> tuple[FloatArray, float, FloatArray]:
    """Log posterior of ln(scale) on a grid that sits on its peak.

    Parameters
    ----------
    data : Evidence
    shape_s : ndarray
        SD over scale at ``data.level_s``. [s]
    share, factor : float
        Share of gross errors and their SD over a good one's. [1]
    centre, spread : float
        Mean and SD of the normal prior of ln(scale). [1]
    start : float
        Where to look for the peak.
    steps : ndarray
        Grid in SDs of the peak.

    Returns
    -------
    log_scale : ndarray
    sd : float
        SD of the peak.
    log_posterior : ndarray
        Log likelihood plus log prior density.
    """
    rounding = data.resolution_s**2 / 6.0
    u, sd, value = _posterior_on_peak(
        shape_s, data.gap_s, data.bound, data.count, share, factor, rounding, centre, spread, start, steps
    )
    return u + sd * steps, float(sd), np.asarray(value)
