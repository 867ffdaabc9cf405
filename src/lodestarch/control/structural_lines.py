"""Straight lines with error in both columns: Deming, known variances, Passing-Bablok."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.optimize import minimize_scalar
from scipy.special import ndtri, stdtrit

from lodestarch.common.arrays import FloatArray
from lodestarch.common.errors import NoAnswer, OutOfRange

__all__ = ["StructuralLine", "deming", "known_variances", "passing_bablok"]


@dataclass(frozen=True, slots=True)
class StructuralLine:
    """b = intercept + slope a.

    Parameters
    ----------
    method : str
        ``deming``, ``known-variances``, ``passing-bablok``.
    intercept, slope : float
    intercept_low, intercept_high, slope_low, slope_high : float or None
        Intervals; ``None`` where too few pairs, or unbounded.
    n : int
    """

    method: str
    intercept: float
    slope: float
    intercept_low: float | None
    intercept_high: float | None
    slope_low: float | None
    slope_high: float | None
    n: int


def _need(n: int, least: int) -> None:
    if n < least:
        raise NoAnswer("compare-pairs-few", pairs=n, enough=least)


def _spread(x: FloatArray) -> None:
    if not float(np.ptp(x)) > 1e-12 * max(1.0, float(np.abs(x).max())):
        raise NoAnswer("compare-one-level", level=float(x[0]))


def _jackknife(
    fit: Callable[[npt.NDArray[np.bool_]], tuple[float, float]], n: int, probability: float
) -> tuple[tuple[float, float], tuple[tuple[float, float], tuple[float, float]]]:
    """Line of all pairs with intervals from leaving out each pair in turn."""
    everything = np.ones(n, dtype=np.bool_)
    whole = np.array(fit(everything))
    parts = np.empty((n, 2))
    for i in range(n):
        everything[i] = False
        parts[i] = fit(everything)
        everything[i] = True
    pseudo = n * whole - (n - 1) * parts
    se = pseudo.std(axis=0, ddof=1) / math.sqrt(n)
    half = float(stdtrit(n - 2.0, 0.5 * (1.0 + probability))) * se
    low, high = whole - half, whole + half
    return (float(whole[0]), float(whole[1])), (
        (float(low[0]), float(high[0])),
        (float(low[1]), float(high[1])),
    )


def deming(
    a: npt.ArrayLike, b: npt.ArrayLike, *, ratio: float = 1.0, probability: float = 0.95
) -> StructuralLine:
    """Deming's line for a known ratio of error variances.

    Parameters
    ----------
    a, b : array_like
        Paired results, all finite. At least four pairs, not all at one level.
    ratio : float
        Error variance of b over that of a. Above 0.
    probability : float
        Content of the intervals (jackknife).

    Raises
    ------
    NoAnswer
        ``compare-pairs-few``, ``compare-one-level``.
    """
    x, y = np.asarray(a, dtype=np.float64), np.asarray(b, dtype=np.float64)
    _need(x.size, 4)
    _spread(x)
    if not ratio > 0.0:
        raise OutOfRange("ratio", ratio, 0.0, math.inf, "1")

    def fit(use: npt.NDArray[np.bool_]) -> tuple[float, float]:
        mx, my = float(x[use].mean()), float(y[use].mean())
        dx, dy = x[use] - mx, y[use] - my
        sxx, syy, sxy = float(dx @ dx), float(dy @ dy), float(dx @ dy)
        gap = syy - ratio * sxx
        root = math.hypot(gap, 2.0 * math.sqrt(ratio) * sxy)
        # The form that does not cancel: numerator and denominator change places with the sign of the gap.
        if sxy == 0.0:
            slope = 0.0
        elif gap > 0.0:
            slope = (gap + root) / (2.0 * sxy)
        else:
            slope = 2.0 * ratio * sxy / (root - gap)
        return my - slope * mx, slope

    (intercept, slope), (i, s) = _jackknife(fit, x.size, probability)
    return StructuralLine("deming", intercept, slope, *i, *s, x.size)


def known_variances(
    a: npt.ArrayLike,
    b: npt.ArrayLike,
    u_a: npt.ArrayLike,
    u_b: npt.ArrayLike,
    *,
    probability: float = 0.95,
) -> StructuralLine:
    """Line by maximum likelihood when each result has its own known uncertainty.

    Parameters
    ----------
    a, b : array_like
        Paired results, all finite. At least four pairs, not all at one level.
    u_a, u_b : array_like
        Standard uncertainties; none negative, not both 0 on any pair.
    probability : float
        Content of the intervals (jackknife).

    Notes
    -----
    Minimises sum (b - i - s a)^2/(u_b^2 + s^2 u_a^2) over the angle of the line: for each angle the best
    intercept is a weighted mean.
    """
    x, y = np.asarray(a, dtype=np.float64), np.asarray(b, dtype=np.float64)
    vx, vy = np.asarray(u_a, dtype=np.float64) ** 2, np.asarray(u_b, dtype=np.float64) ** 2
    _need(x.size, 4)
    _spread(x)
    if not bool(np.all((vx + vy > 0.0) & np.isfinite(vx + vy))):
        raise OutOfRange("u_a and u_b", 0.0, 0.0, math.inf, "unit")

    def parts(angle: float, use: npt.NDArray[np.bool_]) -> tuple[float, float]:
        c, s = math.cos(angle), math.sin(angle)
        weight = 1.0 / (c * c * vy[use] + s * s * vx[use])
        r = c * y[use] - s * x[use]
        offset = float((weight * r).sum() / weight.sum())
        return float((weight * (r - offset) ** 2).sum()), offset / c if c else math.inf

    def fit(use: npt.NDArray[np.bool_]) -> tuple[float, float]:
        # All directions for the whole set; leaving one pair out turns the line but a little.
        grid = np.linspace(-0.499 * math.pi, 0.499 * math.pi, 61)
        if not use.all():
            grid = whole + np.linspace(-0.2, 0.2, 5)
        best = int(np.argmin([parts(float(t), use)[0] for t in grid]))
        low, high = float(grid[max(best - 1, 0)]), float(grid[min(best + 1, grid.size - 1)])
        found = minimize_scalar(
            lambda t: parts(float(t), use)[0], bounds=(low, high), method="bounded", options={"xatol": 1e-12}
        )
        angle = float(found.x)
        return parts(angle, use)[1], math.tan(angle)

    whole = math.atan(fit(np.ones(x.size, dtype=np.bool_))[1])

    (intercept, slope), (i, s) = _jackknife(fit, x.size, probability)
    return StructuralLine("known-variances", intercept, slope, *i, *s, x.size)


def passing_bablok(a: npt.ArrayLike, b: npt.ArrayLike, *, probability: float = 0.95) -> StructuralLine:
    """Line by the shifted median of all pairwise slopes.

    Parameters
    ----------
    a, b : array_like
        Paired results, all finite. At least four pairs, not all at one level.
    probability : float
        Content of the intervals.

    Notes
    -----
    Identical points and slopes of exactly -1 are left out, vertical pairs are kept as infinite; K slopes lie
    below -1; the slope is the median shifted by K, the intercept the median of b - slope a (not median b -
    slope median a, which some routines take). C = z sqrt(n(n - 1)(2n + 5)/18), M1 = round((N - C)/2), M2 = N
    - M1 + 1; limits are the (M1 + K)th and (M2 + K)th slopes. Form recalled.
    """
    x, y = np.asarray(a, dtype=np.float64), np.asarray(b, dtype=np.float64)
    n = x.size
    _need(n, 4)
    _spread(x)
    i, j = np.triu_indices(n, 1)
    dx, dy = x[j] - x[i], y[j] - y[i]
    distinct = (dx != 0.0) | (dy != 0.0)
    dx, dy = dx[distinct], dy[distinct]
    with np.errstate(divide="ignore"):
        slopes = np.where(dx == 0.0, np.where(dy > 0.0, np.inf, -np.inf), dy / np.where(dx == 0.0, 1.0, dx))
    # A vertical pair's sign only says which point came first.
    slopes = np.sort(slopes[slopes != -1.0])
    shift = int((slopes < -1.0).sum())
    count = slopes.size
    half = count // 2
    middle = (half,) if count % 2 else (half - 1, half)
    at = [min(m + shift, count - 1) for m in middle]
    slope = float(np.mean(slopes[at]))
    if not math.isfinite(slope):
        raise NoAnswer("compare-one-level", level=float(np.median(x)))
    c = float(ndtri(0.5 * (1.0 + probability))) * math.sqrt(n * (n - 1) * (2 * n + 5) / 18.0)
    m1 = round(0.5 * (count - c))
    m2 = count - m1 + 1
    low, high = _nth(slopes, m1 + shift), _nth(slopes, m2 + shift)
    intercept = float(np.median(y - slope * x))
    return StructuralLine(
        "passing-bablok", intercept, slope,
        None if high is None else float(np.median(y - high * x)),
        None if low is None else float(np.median(y - low * x)),
        low, high, n,
    )  # fmt: skip


def _nth(slopes: FloatArray, rank: int) -> float | None:
    """Return the slope of a rank from 1; ``None`` where there is none or it is vertical."""
    if not 1 <= rank <= slopes.size:
        return None
    value = float(slopes[rank - 1])
    return value if math.isfinite(value) else None
