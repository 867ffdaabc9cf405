"""Straight line by least squares, with uncertainties: slopes, drifts, calibration lines."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import stdtrit

from lodestarch.common.errors import NoAnswer

__all__ = ["Line", "fit_line"]


@dataclass(frozen=True, slots=True)
class Line:
    """y = intercept + slope (x - origin).

    Parameters
    ----------
    intercept, slope : float
        In the unit of y, and of y over x.
    u_intercept, u_slope : float
        Standard uncertainties.
    correlation : float
        Of intercept and slope. [1]
    residual_sd : float
        SD about the line, unit of y.
    dof : float
        Degrees of freedom.
    origin : float
        Where x is zero on this line.
    n : int
    """

    intercept: float
    slope: float
    u_intercept: float
    u_slope: float
    correlation: float
    residual_sd: float
    dof: float
    origin: float
    n: int

    def at(self, x: float) -> tuple[float, float]:
        """Value of the line at x and its standard uncertainty."""
        d = x - self.origin
        cross = 2.0 * d * self.correlation * self.u_intercept * self.u_slope
        var = self.u_intercept**2 + (d * self.u_slope) ** 2 + cross
        return self.intercept + self.slope * d, math.sqrt(max(var, 0.0))

    def slope_interval(self, probability: float = 0.95) -> tuple[float, float]:
        """Interval of the slope."""
        half = float(stdtrit(self.dof, 0.5 * (1.0 + probability))) * self.u_slope
        return self.slope - half, self.slope + half


def fit_line(
    x: npt.ArrayLike, y: npt.ArrayLike, *, origin: float = 0.0, weight: npt.ArrayLike | None = None
) -> Line:
    """Fit a straight line by least squares.

    Parameters
    ----------
    x, y : array_like
        At least three points, not all at one x, without missing values.
    origin : float
        Where the intercept is taken.
    weight : array_like, optional
        Relative weights; the SD about the line is still estimated.

    Returns
    -------
    Line

    Raises
    ------
    NoAnswer
        ``line-too-few`` below three points, ``line-one-x`` when all lie at one x.

    Notes
    -----
    Sums are centred first, so that a large common value costs no digits.
    """
    a, b = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    w = np.ones(a.size) if weight is None else np.asarray(weight, dtype=np.float64)
    if a.size < 3:
        raise NoAnswer("line-too-few", points=a.size)
    total = float(w.sum())
    mx, my = float((w * a).sum()) / total, float((w * b).sum()) / total
    dx, dy = a - mx, b - my
    sxx = float((w * dx * dx).sum())
    if not sxx > 1e-24 * max(1.0, float(np.abs(a).max()) ** 2):
        raise NoAnswer("line-one-x", x=mx)
    slope = float((w * dx * dy).sum()) / sxx
    residual = dy - slope * dx
    dof = a.size - 2
    s2 = float((w * residual * residual).sum()) / dof
    shift = origin - mx
    var_intercept = s2 * (1.0 / total + shift * shift / sxx)
    var_slope = s2 / sxx
    covariance = s2 * shift / sxx
    scale = math.sqrt(var_intercept * var_slope)
    return Line(
        my + slope * shift,
        slope,
        math.sqrt(var_intercept),
        math.sqrt(var_slope),
        covariance / scale if scale > 0.0 else 0.0,
        math.sqrt(s2),
        float(dof),
        origin,
        a.size,
    )
