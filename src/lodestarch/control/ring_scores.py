"""Scores of a ring test (ISO 13528): z, z', zeta, E_n, and the difference in per cent."""

from __future__ import annotations

import math
from dataclasses import dataclass

from lodestarch.common.errors import OutOfRange

__all__ = ["Score", "expected_sd_horwitz", "expected_sd_of_method", "score"]


@dataclass(frozen=True, slots=True)
class Score:
    """Scores of one result.

    Parameters
    ----------
    z, z_prime, zeta, e_n : float or None
        ``None`` where what the score needs is missing. [1]
    difference, difference_pct : float
        Result minus assigned value; in per cent of it.
    share_of_allowed_pct : float
        Difference over the allowed one (3 sigma_pt). [%]
    signal : str
        ``none``, ``warning`` (beyond 2) or ``action`` (beyond 3), by z, or z' where the assigned value is
        not certain enough.
    used : str
        ``z`` or ``z-prime``.
    """

    z: float | None
    z_prime: float | None
    zeta: float | None
    e_n: float | None
    difference: float
    difference_pct: float | None
    share_of_allowed_pct: float | None
    signal: str
    used: str


def score(
    value: float,
    assigned: float,
    sigma_pt: float,
    u_assigned: float,
    *,
    u_lab: float | None = None,
    k_lab: float = 2.0,
) -> Score:
    """Score one result.

    Parameters
    ----------
    value, assigned : float
        Result and assigned value, one unit.
    sigma_pt : float
        SD for the assessment. Above 0.
    u_assigned : float
        Standard uncertainty of the assigned value. At least 0.
    u_lab : float, optional
        Standard uncertainty that the laboratory states. Above 0.
    k_lab : float
        The laboratory's own coverage factor, for E_n.

    Notes
    -----
    z = d/sigma; z' = d/sqrt(sigma^2 + u^2); zeta = d/sqrt(u_lab^2 + u^2); E_n = d/sqrt(U_lab^2 + U^2) with
    U = 2u; P_A = 100 d/(3 sigma). u is negligible below 0.3 sigma: then z is the one to use [1]_.

    References
    ----------
    .. [1] ISO 13528:2022, read in a secondary copy.

    Examples
    --------
    >>> s = score(312.0, 300.0, 5.0, 1.0, u_lab=4.0)
    >>> round(s.z, 2), round(s.zeta, 2), s.signal
    (2.4, 2.91, 'warning')
    """
    if not (math.isfinite(sigma_pt) and sigma_pt > 0.0):
        raise OutOfRange("sigma_pt", sigma_pt, 0.0, math.inf, "unit of the result")
    if not (math.isfinite(u_assigned) and u_assigned >= 0.0):
        raise OutOfRange("u_assigned", u_assigned, 0.0, math.inf, "unit of the result")
    if u_lab is not None and not (math.isfinite(u_lab) and u_lab > 0.0):
        raise OutOfRange("u_lab", u_lab, 0.0, math.inf, "unit of the result")
    d = value - assigned
    z, z_prime = d / sigma_pt, d / math.hypot(sigma_pt, u_assigned)
    certain = u_assigned < 0.3 * sigma_pt
    size = abs(z if certain else z_prime)
    return Score(
        z,
        z_prime,
        None if u_lab is None else d / math.hypot(u_lab, u_assigned),
        None if u_lab is None else d / math.hypot(k_lab * u_lab, 2.0 * u_assigned),
        d,
        100.0 * d / assigned if assigned != 0.0 else None,
        100.0 * d / (3.0 * sigma_pt),
        "action" if size >= 3.0 else "warning" if size > 2.0 else "none",
        "z" if certain else "z-prime",
    )


def expected_sd_horwitz(mass_fraction: float) -> float:
    """SD between laboratories by Horwitz, 0.02 c^0.8495, c as mass fraction. [1]

    Examples
    --------
    >>> round(expected_sd_horwitz(1e-6) / 1e-6, 3)
    0.16
    """
    if not 0.0 < mass_fraction <= 1.0:
        raise OutOfRange("mass_fraction", mass_fraction, 0.0, 1.0, "1")
    return 0.02 * math.pow(mass_fraction, 0.8495)


def expected_sd_of_method(s_reproducibility: float, s_repeatability: float, replicates: int) -> float:
    """SD for the assessment from the precision of a method: sqrt(s_R^2 - s_r^2 (1 - 1/m))."""
    if replicates < 1:
        raise OutOfRange("replicates", replicates, 1, math.inf, "1")
    v = s_reproducibility**2 - s_repeatability**2 * (1.0 - 1.0 / replicates)
    if not v > 0.0:
        raise OutOfRange("s_reproducibility", s_reproducibility, s_repeatability, math.inf, "unit")
    return math.sqrt(v)
