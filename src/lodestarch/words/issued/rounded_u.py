"""An uncertainty as it stands on paper, rounded as the GUM says."""

from __future__ import annotations

import math
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal
from typing import Final

from lodestarch.common.errors import OutOfRange

__all__ = ["MOST_UNDERSTATED", "rounded_u", "value_with_u"]

MOST_UNDERSTATED: Final = 0.025
"""Share by which rounding may make an uncertainty smaller than it is; beyond it is rounded up. [1]

A setting of ours. JCGM 100:2008 gives the rule without a number; both of its examples come out."""


def rounded_u(u: float, *, digits: int = 2, most_decimals: int | None = None) -> Decimal:
    """Round an uncertainty: to the nearest digit, upward where that would understate it.

    Parameters
    ----------
    u : float
        Standard or expanded uncertainty. Above 0.
    digits : int
        Significant digits, 1 or 2.
    most_decimals : int or None
        Decimals that the value itself has; an uncertainty is not given finer than the value.

    Returns
    -------
    Decimal
        With its digits as they are to be written.

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 7.2.6: at most two significant digits; it may be right to round up rather than
       to the nearest digit (10.47 mΩ to 11 mΩ), but 28.05 kHz to 28 kHz. Read in a secondary copy.

    Examples
    --------
    >>> rounded_u(10.47), rounded_u(28.05), rounded_u(14.6, most_decimals=0), rounded_u(8.4, most_decimals=0)
    (Decimal('11'), Decimal('28'), Decimal('15'), Decimal('9'))
    """
    if not (math.isfinite(u) and u > 0.0):
        raise OutOfRange("u", u, 0.0, math.inf, "unit of the value")
    if digits not in {1, 2}:
        raise OutOfRange("digits", digits, 1, 2, "1")
    exact = Decimal(repr(float(u)))
    step = exact.adjusted() - digits + 1
    if most_decimals is not None:
        step = max(step, -most_decimals)
    unit = Decimal(1).scaleb(step)
    near = (exact / unit).quantize(Decimal(1), rounding=ROUND_HALF_UP)
    if near * unit < exact * (1 - Decimal(repr(MOST_UNDERSTATED))):
        near = (exact / unit).quantize(Decimal(1), rounding=ROUND_CEILING)
    whole = near * unit
    return whole.quantize(Decimal(1)) if step >= 0 else whole.quantize(unit)


def value_with_u(value: float, u: float, *, digits: int = 2) -> tuple[Decimal, Decimal]:
    """Round a value to the last digit of its uncertainty.

    Examples
    --------
    >>> value_with_u(10.05762, 0.027)
    (Decimal('10.058'), Decimal('0.027'))
    """
    small = rounded_u(u, digits=digits)
    exponent = small.as_tuple().exponent
    unit = Decimal(1).scaleb(exponent if isinstance(exponent, int) else 0)
    return Decimal(repr(float(value))).quantize(unit, rounding=ROUND_HALF_UP), small
