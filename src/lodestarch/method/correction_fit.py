"""A pressure effect fitted to the lab's own paired readings: information, never a released result."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import stats

from lodestarch.common.arrays import as_array
from lodestarch.common.errors import NoAnswer
from lodestarch.method.bath import STANDARD_HPA

__all__ = ["PressureFit", "fit_pressure_effect"]


@dataclass(frozen=True, slots=True)
class PressureFit:
    """Relative effect of pressure in this lab's pairs, with a 95 % interval. Information only."""

    per_kpa: float
    u_per_kpa: float
    low_per_kpa: float
    high_per_kpa: float
    seconds_per_kpa_at_300: float
    pairs: int
    span_kpa: float


def fit_pressure_effect(
    first_s: npt.ArrayLike, first_hpa: npt.ArrayLike, second_s: npt.ArrayLike, second_hpa: npt.ArrayLike
) -> PressureFit:
    """Fit FN ~ 1 - c (p - 101.325 kPa) to samples read at two pressures.

    Parameters
    ----------
    first_s, second_s : array of n
        Readings of the same samples. [s]
    first_hpa, second_hpa : array of n
        Station pressures. [hPa]

    Returns
    -------
    PressureFit
        ``per_kpa`` is c: the relative lengthening of a reading for 1 kPa less.

    Raises
    ------
    NoAnswer
        ``fit-too-few`` below 5 pairs, ``fit-no-span`` where the two pressures of the pairs differ by less
        than 1 kPa in the root mean square, ``fit-values`` where a value is not positive.

    Notes
    -----
    ln(FN_2/FN_1) is regressed through the origin on the difference of ln(1 - c x); for the small effects met
    (below 1 % per kPa) that is -c (x_2 - x_1) to first order. The interval is Student's with n - 1.
    """
    a, b, pa, pb = (as_array(x).ravel() for x in (first_s, second_s, first_hpa, second_hpa))
    n = a.size
    if n < 5:
        raise NoAnswer("fit-too-few", pairs=n, needed=5)
    if not all(np.all(np.isfinite(x) & (x > 0.0)) for x in (a, b, pa, pb)):
        raise NoAnswer("fit-values")
    x = ((pb - STANDARD_HPA) - (pa - STANDARD_HPA)) / 10.0
    span = float(np.sqrt(np.mean(x**2)))
    if span < 1.0:
        raise NoAnswer("fit-no-span", span_kpa=round(span, 2))
    y = np.log(b / a)
    sxx = float(np.sum(x**2))
    c = -float(np.sum(x * y)) / sxx
    s2 = float(np.sum((y + c * x) ** 2)) / (n - 1)
    u = float(np.sqrt(s2 / sxx))
    half = float(stats.t.ppf(0.975, n - 1)) * u
    return PressureFit(c, u, c - half, c + half, 300.0 * c, n, span)
