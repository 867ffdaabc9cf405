"""Scales on which falling numbers are compared: seconds, their logarithm, the liquefaction number."""

from __future__ import annotations

from enum import StrEnum

import numpy as np

from lodestarch.common.arrays import FloatArray, Floats, as_array, like
from lodestarch.method.liquefaction import LN_NUMERATOR, LN_OFFSET_S

__all__ = ["Scale", "from_scale", "log_slope", "rises", "to_scale"]


class Scale(StrEnum):
    """A scale for effects."""

    SECONDS = "seconds"
    LOG = "log"
    """Natural logarithm of the seconds."""
    LIQUEFACTION = "liquefaction"
    """6000/(FN - 50): it falls where seconds rise."""


def rises(scale: Scale) -> bool:
    """Whether the scale rises with the seconds."""
    return scale is not Scale.LIQUEFACTION


def to_scale(scale: Scale, seconds_s: Floats) -> Floats:
    """Seconds on a scale.

    Parameters
    ----------
    scale : Scale
    seconds_s : float or ndarray
        Falling number. [s]  Above 50 on the liquefaction scale, above 0 on the logarithmic one; what lies
        beneath becomes infinite or not a number and is the caller's to leave out.

    Examples
    --------
    >>> to_scale(Scale.LIQUEFACTION, 300.0), round(to_scale(Scale.LOG, 300.0), 4)
    (24.0, 5.7038)
    """
    s = as_array(seconds_s)
    if scale is Scale.SECONDS:
        return like(seconds_s, s)
    if scale is Scale.LOG:
        return like(seconds_s, np.log(s))
    return like(seconds_s, LN_NUMERATOR / (s - LN_OFFSET_S))


def from_scale(scale: Scale, value: Floats) -> Floats:
    """The seconds of a value on a scale; a liquefaction number of 0 or less has none and becomes infinite.

    Examples
    --------
    >>> from_scale(Scale.LIQUEFACTION, 24.0), round(from_scale(Scale.LOG, 5.7038), 1)
    (300.0, 300.0)
    """
    v = as_array(value)
    if scale is Scale.SECONDS:
        return like(value, v)
    if scale is Scale.LOG:
        return like(value, np.exp(v))
    safe = np.where(v > 0.0, v, 1.0)
    return like(value, np.where(v > 0.0, LN_OFFSET_S + LN_NUMERATOR / safe, np.inf))


def log_slope(scale: Scale, seconds_s: FloatArray) -> FloatArray:
    """Logarithm of how fast the scale moves with the seconds, which makes likelihoods comparable."""
    if scale is Scale.SECONDS:
        return np.zeros_like(seconds_s)
    if scale is Scale.LOG:
        return np.asarray(-np.log(seconds_s))
    return np.asarray(np.log(LN_NUMERATOR) - 2.0 * np.log(seconds_s - LN_OFFSET_S))
