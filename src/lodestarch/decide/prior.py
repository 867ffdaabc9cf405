"""What is assumed of a true value before it is measured, as plain values."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from lodestarch.common.arrays import FloatArray, as_array
from lodestarch.common.errors import NoAnswer, OutOfRange
from lodestarch.method.liquefaction import LN_NUMERATOR, LN_OFFSET_S

__all__ = ["FlatPrior", "LnPrior", "NormalPrior", "Prior", "SamplePrior"]


@dataclass(frozen=True, slots=True)
class FlatPrior:
    """Every true value is as likely as another; the measurement alone speaks."""


@dataclass(frozen=True, slots=True)
class NormalPrior:
    """True values of such loads are normal in seconds.

    Parameters
    ----------
    mean_s, sd_s : float
        [s]  ``sd_s`` above 0.
    """

    mean_s: float
    sd_s: float

    def __post_init__(self) -> None:
        if not (self.sd_s > 0.0 and math.isfinite(self.sd_s)):
            raise OutOfRange("prior_sd_s", self.sd_s, 0.0, math.inf, "s")

    def log_density(self, fn_s: FloatArray) -> FloatArray:
        """Logarithm of the density at true values, up to a constant."""
        return np.asarray(-0.5 * ((fn_s - self.mean_s) / self.sd_s) ** 2, dtype=np.float64)


@dataclass(frozen=True, slots=True)
class LnPrior:
    """True values of such loads are normal in the liquefaction number.

    Parameters
    ----------
    mean_ln, sd_ln : float
        [1]  Both above 0; what the normal puts at or below LN 0 is cut off.
    """

    mean_ln: float
    sd_ln: float

    def __post_init__(self) -> None:
        for name, value in (("prior_mean_ln", self.mean_ln), ("prior_sd_ln", self.sd_ln)):
            if not (value > 0.0 and math.isfinite(value)):
                raise OutOfRange(name, value, 0.0, math.inf, "1")

    def log_density(self, fn_s: FloatArray) -> FloatArray:
        """Logarithm of the density in seconds at true values above 50 s, up to a constant.

        Notes
        -----
        With LN = 6000/(FN - 50) the density in FN has the factor ``|dLN/dFN| = 6000/(FN - 50)^2``.
        """
        beyond = np.maximum(fn_s - LN_OFFSET_S, 1e-9)
        z = (LN_NUMERATOR / beyond - self.mean_ln) / self.sd_ln
        density = -0.5 * z * z - 2.0 * np.log(beyond)
        return np.asarray(np.where(fn_s > LN_OFFSET_S, density, -np.inf), dtype=np.float64)


@dataclass(frozen=True, slots=True)
class SamplePrior:
    """True values of such loads as a weighted sample or a grid.

    Parameters
    ----------
    values_s : ndarray
        [s]  One at least, finite.
    weights : ndarray
        None negative, not all zero. [1]
    """

    values_s: FloatArray
    weights: FloatArray

    def __post_init__(self) -> None:
        values, weights = as_array(self.values_s), as_array(self.weights)
        fits = values.ndim == 1 and values.shape == weights.shape and values.size > 0
        if not fits or not np.all(np.isfinite(values)):
            raise NoAnswer("prior-sample-unusable", values=int(values.size))
        if not (np.all(weights >= 0.0) and np.isfinite(weights.sum()) and weights.sum() > 0.0):
            raise NoAnswer("prior-sample-unusable", values=int(values.size))


Prior = FlatPrior | NormalPrior | LnPrior | SamplePrior
