"""Guard bands: how far inside a limit a result has to lie to be accepted."""

from __future__ import annotations

import math
from typing import Final, Literal, get_args

from scipy.special import ndtr, ndtri

from lodestarch.common.arrays import Floats, as_array, like
from lodestarch.common.errors import OutOfRange, UnknownName

__all__ = ["GUARD_FORMS", "GuardForm", "acceptance_limit", "guard_factor", "worst_specific_risk"]

GuardForm = Literal["root-sum-of-squares", "one-minus-inverse", "rp-10", "managed-two-percent"]
GUARD_FORMS: Final = get_args(GuardForm)


def acceptance_limit(limit_s: Floats, u_s: Floats, probability: float) -> Floats:
    """Smallest result at which a floor is met with a probability, flat prior. [s]

    Parameters
    ----------
    limit_s, u_s : float or ndarray
        Floor and standard uncertainty. [s]
    probability : float
        [1]  Above 0, below 1.

    Notes
    -----
    L + z_p u.

    Examples
    --------
    >>> round(acceptance_limit(300.0, 9.0, 0.95), 1), round(acceptance_limit(300.0, 12.0, 0.99), 1)
    (314.8, 327.9)
    """
    if not 0.0 < probability < 1.0:
        raise OutOfRange("probability", probability, 0.0, 1.0, "1")
    return like(limit_s, as_array(limit_s) + float(ndtri(probability)) * as_array(u_s))


def worst_specific_risk(r: float) -> float:
    """Largest chance that an accepted value lies beyond its limit, guard band r times U, U = 2 u. [1]

    Notes
    -----
    1 - Phi(2 r). Derived.

    Examples
    --------
    >>> [round(worst_specific_risk(r), 5) for r in (0.0, 0.83, 1.0, 1.5)]
    [0.5, 0.04846, 0.02275, 0.00135]
    """
    return float(ndtr(-2.0 * r))


def guard_factor(form: GuardForm, tur: float) -> float:
    """Acceptance limit over tolerance limit for a two-sided tolerance, by test-uncertainty ratio. [1]

    Parameters
    ----------
    form : str
        ``root-sum-of-squares``: sqrt(1 - 1/TUR^2). ``one-minus-inverse``: 1 - 1/TUR. ``rp-10``:
        1.25 - 1/TUR, at most 1. ``managed-two-percent``: 1 - M/TUR, M = 1.04 - exp(0.38 ln TUR - 0.54), at
        most 1: from a ratio of about 4.6 on no guard band is needed.
    tur : float
        Tolerance over expanded uncertainty U = 2 u. [1]  Above 1.

    Notes
    -----
    Forms read in a secondary copy; the last is Dobbert's, for at most 2 % false accepts.

    Examples
    --------
    >>> round(guard_factor("root-sum-of-squares", 4.0), 4), round(guard_factor("managed-two-percent", 4.0), 4)
    (0.9682, 0.9867)
    """
    if form not in GUARD_FORMS:
        raise UnknownName("guard band", form, GUARD_FORMS)
    if not (tur > 1.0 and math.isfinite(tur)):
        raise OutOfRange("tur", tur, 1.0, math.inf, "1")
    if form == "root-sum-of-squares":
        return math.sqrt(1.0 - 1.0 / tur**2)
    if form == "one-minus-inverse":
        return 1.0 - 1.0 / tur
    if form == "rp-10":
        return min(1.25 - 1.0 / tur, 1.0)
    return min(1.0 - (1.04 - math.exp(0.38 * math.log(tur) - 0.54)) / tur, 1.0)
