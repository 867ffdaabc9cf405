"""Rounding as laboratories round."""

from __future__ import annotations

import math
from decimal import ROUND_HALF_UP, Decimal

import numpy as np

from lodestarch.common.arrays import Floats, as_array, like

__all__ = ["decimals_for", "half_up"]


def half_up(value: Floats, step: float = 1.0) -> Floats:
    """Round to the nearest multiple of ``step``, halves away from zero.

    Parameters
    ----------
    value : float or ndarray
        Any shape; NaN stays NaN.
    step : float
        Above 0, for example 1 for whole seconds, 0.01 for grams.

    Returns
    -------
    float or ndarray
        Same shape.

    Notes
    -----
    A tie is decided on the decimal text of the value (12 significant digits), so that 6.425
    rounds to 6.43 although its binary form lies just below the half. Rule: common practice.

    Examples
    --------
    >>> half_up(299.5), half_up(6.425, 0.01), half_up(-2.5)
    (300.0, 6.43, -3.0)
    """
    x = as_array(value)
    n = x / step
    # A relative nudge of 1e-12 lifts decimal ties that binary floats store just below the half.
    whole = np.sign(n) * np.floor(np.abs(n) * (1.0 + 1e-12) + 0.5)
    places = max(0, -math.floor(math.log10(step) + 1e-9)) if step < 1 else 0
    return like(value, np.round(whole * step, places + 2) + 0.0)  # no minus zero on a screen


def decimals_for(u: float, digits: int = 2) -> int:
    """Return how many decimals a value may show when its uncertainty keeps ``digits`` digits.

    Parameters
    ----------
    u : float
        Standard uncertainty, above 0.
    digits : int
        Significant digits of the uncertainty: 1 or 2 (GUM 7.2.6 allows at most two).

    Returns
    -------
    int
        Decimals, 0 for whole units; never negative.

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 7.2.6: numerical values of the estimate and its uncertainty are not
       given with an excessive number of digits; two significant digits usually suffice.

    Examples
    --------
    >>> decimals_for(7.3), decimals_for(0.123), decimals_for(0.98, 1)
    (1, 2, 0)
    """
    text = Decimal(repr(float(u)))  # as written: 0.95 is a tie although its binary form lies below it
    rounded = text.quantize(Decimal(1).scaleb(text.adjusted() - digits + 1), rounding=ROUND_HALF_UP)
    return max(0, -(rounded.adjusted() - digits + 1))
