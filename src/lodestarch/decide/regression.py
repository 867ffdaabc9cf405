"""Regression to the mean: what a retest of a near miss does with nothing wrong."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from lodestarch.common.arrays import FloatArray, as_array
from lodestarch.common.errors import OutOfRange

__all__ = ["Regressed", "regress"]


@dataclass(frozen=True, slots=True)
class Regressed:
    """Where a result is expected to go.

    Parameters
    ----------
    k : ndarray
        Share of the distance from the mean that is believed. [1]
    prediction_s : ndarray
        Expected true value, which is the expected independent retest. [s]
    rise_s : ndarray
        Prediction less the result: the rise with nothing wrong. [s]
    sd_s : ndarray
        Standard deviation of the true value. [s]
    """

    k: FloatArray
    prediction_s: FloatArray
    rise_s: FloatArray
    sd_s: FloatArray


def regress(
    result_s: npt.ArrayLike, u_s: npt.ArrayLike, mean_s: npt.ArrayLike, sd_s: npt.ArrayLike, n: int = 1
) -> Regressed:
    """Predict the true value of a load from its result and the spread of such loads.

    Parameters
    ----------
    result_s : array_like
        Mean of n results. [s]
    u_s : array_like
        Standard uncertainty of one. [s]  Above 0.
    mean_s, sd_s : array_like
        Of the true values of such loads. [s]  ``sd_s`` above 0.
    n : int
        Independent results.

    Raises
    ------
    OutOfRange
        A standard deviation that is not above 0, no result.

    Notes
    -----
    m + k (x - m), k = s^2/(s^2 + u^2/n), sd s sqrt(1 - k).

    Examples
    --------
    Loads about 320 s with sd 30 s, one result of 290 s, u 9 s: an honest retest is expected at 292.5 s.

    >>> got = regress(290.0, 9.0, 320.0, 30.0)
    >>> print(f"{float(got.k):.4f} {float(got.prediction_s):.1f} {float(got.sd_s):.2f}")
    0.9174 292.5 8.62
    """
    x, u, m, s = np.broadcast_arrays(*(as_array(a) for a in (result_s, u_s, mean_s, sd_s)))
    for name, column in (("u_s", u), ("prior_sd_s", s)):
        bad = column[~((column > 0.0) & np.isfinite(column))]
        if bad.size:
            raise OutOfRange(name, float(bad.flat[0]), 0.0, float("inf"), "s")
    if n < 1:
        raise OutOfRange("results", n, 1, float("inf"), "1")
    k = s**2 / (s**2 + u**2 / n)
    prediction = m + k * (x - m)
    return Regressed(k, prediction, prediction - x, s * np.sqrt(1.0 - k))
