"""Indicators of weather over windows that state both ends and an anchor day.

X and N are the day's maximum and minimum temperature, P its rain. Nothing here predicts seconds.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from lodestarch.common.arrays import FloatArray
from lodestarch.common.errors import OutOfRange
from lodestarch.precision.nesting import Index

__all__ = [
    "INDICATORS", "LACKING_SHARE", "WET_MM", "Indicator", "Weather", "Window", "degree_days", "in_window",
    "indicator", "prorated",
]  # fmt: skip

LACKING_SHARE: Final = 0.1
"""Share of a window's days that may be missing; beyond it there is no indicator. A rule of the house."""

WET_MM: Final = 1.0
"""Rain from which a day counts as wet. [mm]  Common practice."""


@dataclass(frozen=True, slots=True)
class Weather:
    """Days of one station.

    Parameters
    ----------
    day : ndarray of int64
        Days since 1970-01-01, ascending, each once.
    max_c, min_c : ndarray
        Temperatures; not a number where missing. [°C]
    rain_mm : ndarray
        Rain. [mm]
    rain_from_months : bool
        Rain comes from monthly totals, each day given its part of the month.
    """

    day: Index
    max_c: FloatArray
    min_c: FloatArray
    rain_mm: FloatArray
    rain_from_months: bool = False


@dataclass(frozen=True, slots=True)
class Window:
    """Days by their distance from an anchor, both ends in.

    Parameters
    ----------
    first, last : int
        Days from the anchor; before it negative.
    """

    first: int
    last: int

    @property
    def days(self) -> int:
        """Length. [d]"""
        return self.last - self.first + 1


def degree_days(max_c: FloatArray, min_c: FloatArray, base_c: float, method: int) -> float:
    """Degree-days of some days.

    Parameters
    ----------
    max_c, min_c : ndarray
        Temperatures. [°C]
    base_c : float
        Base. [°C]
    method : {1, 2}
        1: sum of max(0, (X + N)/2 - B); 2: sum of (max(X, B) + max(N, B))/2 - B.

    Returns
    -------
    float
        [°C d]

    References
    ----------
    .. [1] G. S. McMaster, W. W. Wilhelm, Growing degree-days: one equation, two interpretations, Agric. For.
       Meteorol. 87 (1997) 291.

    Examples
    --------
    >>> day = np.array([12.0]), np.array([-2.0])
    >>> [degree_days(*day, base, method) for base in (0.0, 5.0) for method in (1, 2)]
    [5.0, 6.0, 0.0, 3.5]
    """
    if method == 1:
        return float(np.maximum(0.0, 0.5 * (max_c + min_c) - base_c).sum())
    if method == 2:
        return float((0.5 * (np.maximum(max_c, base_c) + np.maximum(min_c, base_c)) - base_c).sum())
    raise OutOfRange("method", method, 1, 2, "1")


def in_window(weather: Weather, anchor: int, window: Window) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Maximum, minimum and rain of the days of a window; not a number where a day is missing."""
    days = np.arange(anchor + window.first, anchor + window.last + 1)
    at = np.searchsorted(weather.day, days)
    inside = (at < weather.day.size) & (weather.day[np.minimum(at, weather.day.size - 1)] == days)
    out = []
    for column in (weather.max_c, weather.min_c, weather.rain_mm):
        values = np.full(days.size, np.nan)
        values[inside] = column[at[inside]]
        out.append(values)
    return out[0], out[1], out[2]


def prorated(year: npt.ArrayLike, months_mm: FloatArray) -> tuple[Index, FloatArray]:
    """Days of rain from monthly totals: each day the month's total divided by its days.

    Parameters
    ----------
    year : array_like of int
    months_mm : ndarray
        A row a year, a column a month. [mm]

    Returns
    -------
    day : ndarray of int64
    rain_mm : ndarray
    """
    days, rain = [], []
    for y, row in zip(np.asarray(year, dtype=np.int64), months_mm, strict=True):
        for m, total in enumerate(row):
            first = np.datetime64(f"{y:04d}-{m + 1:02d}", "M")
            start, stop = (int((first + i).astype("datetime64[D]").astype(np.int64)) for i in (0, 1))
            days.append(np.arange(start, stop))
            rain.append(np.full(stop - start, total / (stop - start)))
    if not days:
        return np.zeros(0, np.int64), np.zeros(0)
    return np.concatenate(days), np.concatenate(rain)


@dataclass(frozen=True, slots=True)
class Indicator:
    """One indicator.

    Parameters
    ----------
    name : str
    unit : str
    window : Window
        From harvest.
    needs : str
        ``temperature``, ``rain``, or empty.
    of : callable
        From maxima, minima and rain of the days that are there, and the number of days of the window.
    """

    name: str
    unit: str
    window: Window
    needs: str
    of: Callable[[FloatArray, FloatArray, FloatArray, int], float]


def _sum(_x: FloatArray, _n: FloatArray, p: FloatArray, days: int) -> float:
    return float(p.mean() * days)


def _wet(_x: FloatArray, _n: FloatArray, p: FloatArray, days: int) -> float:
    return float(np.mean(p >= WET_MM) * days)


def _mean(x: FloatArray, n: FloatArray, _p: FloatArray, _days: int) -> float:
    return float(np.mean(0.5 * (x + n)))


def _coldest(_x: FloatArray, n: FloatArray, _p: FloatArray, _days: int) -> float:
    return float(n.min())


def _swing(x: FloatArray, n: FloatArray, _p: FloatArray, _days: int) -> float:
    return float((x - n).max())


INDICATORS: Final = {
    i.name: i
    for i in (
        Indicator("rain_20", "mm", Window(-20, -1), "rain", _sum),
        Indicator("rain_31", "mm", Window(-30, 0), "rain", _sum),
        Indicator("wet_days_20", "d", Window(-20, -1), "rain", _wet),
        Indicator("mean_temp_20", "°C", Window(-19, 0), "temperature", _mean),
        Indicator("mean_temp_50_20", "°C", Window(-49, -20), "temperature", _mean),
        Indicator("coldest_night_50_20", "°C", Window(-49, -20), "temperature", _coldest),
        Indicator("greatest_swing_50_20", "°C", Window(-49, -20), "temperature", _swing),
    )
}
"""Windows from the harvest date, both ends in."""


def indicator(weather: Weather, anchor: int, what: Indicator) -> tuple[float | None, int]:
    """One indicator of one harvest.

    Returns
    -------
    value : float or None
        ``None`` where more than a tenth of the days are missing; with fewer missing, a sum is scaled to the
        whole window.
    missing : int
        Days that are missing.
    """
    x, n, p = in_window(weather, anchor, what.window)
    if weather.rain_from_months and what.name.startswith("wet_days"):
        return None, 0  # days of rain cannot be counted in months
    good = np.isfinite(p) if what.needs == "rain" else np.isfinite(x) & np.isfinite(n)
    missing = int((~good).sum())
    if missing > LACKING_SHARE * what.window.days:
        return None, missing
    return what.of(x[good], n[good], p[good], what.window.days), missing
