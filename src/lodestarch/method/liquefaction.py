"""The liquefaction number: the scale on which falling numbers add by mass.

``LN = 6000/(FN - 50)`` and back. The conversion is exact; that grain follows it is a plan, not a
measured law: no published series of measured blends is known that tests it.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from lodestarch.common.arrays import Floats, as_array, like
from lodestarch.common.errors import OutOfRange

__all__ = ["LN_NUMERATOR", "LN_OFFSET_S", "fn_from_ln", "ln_from_fn", "ln_slope", "u_of_ln"]

LN_NUMERATOR: Final = 6000.0
"""Numerator of the liquefaction number [s]. Published: an agronomy article of 2020 that attributes
the formula to the US federal inspection service."""

LN_OFFSET_S: Final = 50.0
"""Seconds taken off [s]. Published, same source; read as the time before starch has gelatinised far
enough to be attacked (recalled)."""


def ln_from_fn(fn_s: Floats) -> Floats:
    """Liquefaction number of a falling number.

    Parameters
    ----------
    fn_s : float or ndarray
        Falling number. [s]  Above 50; infinity gives 0.

    Returns
    -------
    float or ndarray
        Liquefaction number, same shape. [1]

    Raises
    ------
    OutOfRange
        When a value is 50 s or less: the formula has its pole there.

    Notes
    -----
    LN = 6000/(FN - 50).

    Examples
    --------
    >>> ln_from_fn(300.0)
    24.0
    >>> round(ln_from_fn(400.0), 4), round(ln_from_fn(220.0), 4)
    (17.1429, 35.2941)
    """
    fn = as_array(fn_s)
    bad = fn[~((fn > LN_OFFSET_S) | np.isnan(fn))]
    if bad.size:
        raise OutOfRange("fn_s", float(bad.flat[0]), LN_OFFSET_S, float("inf"), "s")
    return like(fn_s, LN_NUMERATOR / (fn - LN_OFFSET_S))


def fn_from_ln(ln: Floats) -> Floats:
    """Falling number of a liquefaction number.

    Parameters
    ----------
    ln : float or ndarray
        Liquefaction number. [1]  At least 0; 0 gives infinity.

    Returns
    -------
    float or ndarray
        Falling number, same shape. [s]

    Raises
    ------
    OutOfRange
        When a value is negative.

    Notes
    -----
    FN = 6000/LN + 50.

    Examples
    --------
    >>> fn_from_ln(24.0)
    300.0
    """
    x = as_array(ln)
    bad = x[x < 0.0]
    if bad.size:
        raise OutOfRange("ln", float(bad.flat[0]), 0.0, float("inf"), "1")
    with np.errstate(divide="ignore"):
        return like(ln, LN_NUMERATOR / x + LN_OFFSET_S)


def ln_slope(fn_s: Floats) -> Floats:
    """Change of LN per second of FN, always negative. [1/s]

    Notes
    -----
    dLN/dFN = -6000/(FN - 50)^2.

    Examples
    --------
    >>> round(ln_slope(300.0), 4)
    -0.096
    """
    fn = as_array(fn_s)
    return like(fn_s, -LN_NUMERATOR / (fn - LN_OFFSET_S) ** 2)


def u_of_ln(fn_s: Floats, u_s: Floats) -> Floats:
    """Standard uncertainty of LN from that of FN, first order. [1]

    Parameters
    ----------
    fn_s : float or ndarray
        Falling number. [s]  Above 50.
    u_s : float or ndarray
        Its standard uncertainty. [s]  At least 0.
    """
    return like(fn_s, np.abs(as_array(ln_slope(fn_s))) * as_array(u_s))
