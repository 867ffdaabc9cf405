"""Charts with a memory: EWMA and CUSUM see small lasting shifts that single values hide."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.signal import lfilter

from lodestarch.common.errors import OutOfRange
from lodestarch.common.findings import Finding
from lodestarch.control.charts import clean_values

__all__ = ["CusumChart", "EwmaChart", "cusum", "ewma"]


@dataclass(frozen=True, slots=True)
class EwmaChart:
    """Exponentially weighted moving average.

    Parameters
    ----------
    weight, width : float
        Weight of the newest value; SDs from centre to limit.
    centre, sd : float
    ewma : tuple of float
        One per value.
    upper, lower : float
        Asymptotic limits.
    upper_at, lower_at : tuple of float
        Limits at each value: tighter at the start where exact limits are asked for, else the asymptotic ones.
    beyond : tuple of int
    findings : tuple of Finding
    """

    weight: float
    width: float
    centre: float
    sd: float
    ewma: tuple[float, ...]
    upper: float
    lower: float
    upper_at: tuple[float, ...]
    lower_at: tuple[float, ...]
    beyond: tuple[int, ...]
    findings: tuple[Finding, ...]


def ewma(
    values: npt.ArrayLike,
    *,
    centre: float,
    sd: float,
    weight: float = 0.2,
    width: float = 3.0,
    exact: bool = False,
) -> EwmaChart:
    """EWMA chart.

    Parameters
    ----------
    values : array_like
        In order of time; missing ones are left out with a finding.
    centre, sd : float
        Target and SD of a single value. SD above 0.
    weight : float
        Lambda. Above 0, at most 1.
    width : float
        L. Above 0.
    exact : bool
        Limits that allow for the start: width sd sqrt(w/(2 - w)(1 - (1 - w)^(2i))).

    Notes
    -----
    E_i = w x_i + (1 - w) E_(i-1), E_0 the centre; asymptotic limits width sd sqrt(w/(2 - w)).

    Examples
    --------
    >>> c = ewma([52.0, 47.0, 53.0], centre=50.0, sd=2.0539, weight=0.3)
    >>> [round(v, 3) for v in c.ewma], round(c.upper, 4)
    ([50.6, 49.52, 50.564], 52.5884)
    """
    if not 0.0 < weight <= 1.0:
        raise OutOfRange("weight", weight, 0.0, 1.0, "1")
    if not (math.isfinite(sd) and sd > 0.0):
        raise OutOfRange("sd", sd, 0.0, math.inf, "unit of the values")
    x, findings = clean_values(values)
    d = x - centre
    smooth = centre + lfilter([weight], [1.0, weight - 1.0], d) if d.size else d
    half = width * sd * math.sqrt(weight / (2.0 - weight))
    i = np.arange(1, x.size + 1)
    at = half * np.sqrt(1.0 - (1.0 - weight) ** (2 * i)) if exact else np.full(x.size, half)
    return EwmaChart(
        weight, width, centre, sd,
        tuple(float(v) for v in smooth), centre + half, centre - half,
        tuple(float(v) for v in centre + at), tuple(float(v) for v in centre - at),
        tuple(int(j) for j in np.flatnonzero(np.abs(smooth - centre) > at)), findings,
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class CusumChart:
    """Tabular cumulative sums.

    Parameters
    ----------
    target, allowance, limit : float
        In the unit of the values.
    high, low : tuple of float
        Upper and lower sums.
    beyond : tuple of int
    began : int or None
        Place of the first value since the sum that signalled last left 0: where the shift is likely to have
        begun.
    findings : tuple of Finding
    """

    target: float
    allowance: float
    limit: float
    high: tuple[float, ...]
    low: tuple[float, ...]
    beyond: tuple[int, ...]
    began: int | None
    findings: tuple[Finding, ...]


def cusum(
    values: npt.ArrayLike,
    *,
    target: float,
    sd: float | None = None,
    allowance: float | None = None,
    limit: float | None = None,
) -> CusumChart:
    """Tabular CUSUM.

    Parameters
    ----------
    values : array_like
        In order of time; missing ones are left out with a finding.
    target : float
    sd : float, optional
        SD of a single value; then allowance and limit default to 0.5 and 5 of it.
    allowance, limit : float, optional
        k and h in the unit of the values. At least 0, above 0.

    Notes
    -----
    S_hi = max(0, S_hi + x - target - k), S_lo = max(0, S_lo + target - k - x).
    """
    if sd is not None and not (math.isfinite(sd) and sd > 0.0):
        raise OutOfRange("sd", sd, 0.0, math.inf, "unit of the values")
    k = allowance if allowance is not None else 0.5 * sd if sd is not None else math.nan
    h = limit if limit is not None else 5.0 * sd if sd is not None else math.nan
    if not k >= 0.0:
        raise OutOfRange("allowance", k, 0.0, math.inf, "unit of the values")
    if not h > 0.0:
        raise OutOfRange("limit", h, 0.0, math.inf, "unit of the values")
    x, findings = clean_values(values)
    high, low = _one_sided(x - target - k), _one_sided(target - k - x)
    beyond = tuple(int(i) for i in np.flatnonzero((high > h) | (low > h)))
    began = None
    if beyond:
        sums = high if high[beyond[0]] > h else low
        zero = np.flatnonzero(sums[: beyond[0]] == 0.0)
        began = int(zero[-1]) + 1 if zero.size else 0
    return CusumChart(
        target, k, h, tuple(float(v) for v in high), tuple(float(v) for v in low), beyond, began, findings
    )


def _one_sided(step: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Sum that is pushed back to 0: the running sum above its own running minimum."""
    total = np.cumsum(step)
    return np.asarray(total - np.minimum.accumulate(np.minimum(total, 0.0)))
