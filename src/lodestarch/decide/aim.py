"""Aim point: the number to show on one's own bench so that the other lab passes with a wanted probability."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.optimize import brentq, minimize_scalar

from lodestarch.common.errors import NoAnswer, OutOfRange
from lodestarch.decide.belief import Results
from lodestarch.decide.deciding_lab import DecidingLab
from lodestarch.decide.limits import Limits
from lodestarch.decide.odds import odds
from lodestarch.decide.prior import Prior

__all__ = ["Aim", "aim_point"]

_LEAST_S: Final = 10.0
"""No result lies below: laws of scatter by level are not asked there. [s]  A choice of ours."""


@dataclass(frozen=True, slots=True)
class Aim:
    """Numbers on the own bench with which the limit is met as often as wanted.

    Parameters
    ----------
    from_s, to_s : float
        Ends of the range; infinite where open. [s]
    wanted : float
        [1]
    best_s, best_p : float
        Where the odds are highest, and how high; infinite and 1 without a window. [s, 1]
    """

    from_s: float
    to_s: float
    wanted: float
    best_s: float
    best_p: float

    @property
    def show_s(self) -> float:
        """Smallest whole second that is enough; minus infinity without a floor. [s]"""
        # A solver's last digits must not lift a whole second to the next.
        return math.ceil(self.from_s - 1e-6) if math.isfinite(self.from_s) else self.from_s

    @property
    def show_to_s(self) -> float:
        """Largest whole second that is enough; infinity without a ceiling. [s]"""
        return math.floor(self.to_s + 1e-6) if math.isfinite(self.to_s) else self.to_s


def aim_point(
    limits: Limits,
    wanted: float,
    u_s: float | Callable[[float], float],
    *,
    deciding: DecidingLab | None = None,
    prior: Prior | None = None,
) -> Aim:
    """Find the numbers that pass with a wanted probability.

    Parameters
    ----------
    limits : Limits
    wanted : float
        [1]  Above 0, below 1.
    u_s : float or callable
        Standard uncertainty of a result here, or the law that gives it by level. [s]
    deciding : DecidingLab, optional
        The lab that must pass it; without one the true value must meet the limit.
    prior : Prior, optional

    Returns
    -------
    Aim

    Raises
    ------
    NoAnswer
        ``aim-window-narrow`` where no number has the wanted probability, with the best there is.
    OutOfRange
        A probability outside 0 to 1.

    Notes
    -----
    Under a flat prior with constant u the floor's aim is L - shift + z_p sqrt(u^2 + s^2); in general it is
    solved for (Brent), and the ends of a window on both sides of its best number.

    Examples
    --------
    >>> print(f"{aim_point(Limits(300.0), 0.95, 9.0).from_s:.1f}")
    314.8
    >>> aim_point(Limits(300.0), 0.95, 5.0, deciding=DecidingLab(5.0)).show_s
    312
    """
    if not 0.0 < wanted < 1.0:
        raise OutOfRange("wanted", wanted, 0.0, 1.0, "1")
    law = u_s if callable(u_s) else (lambda _fn_s: float(u_s))

    def p(x: float) -> float:
        got = odds(Results.of(x, law(x)), limits, prior=prior, deciding=deciding)
        return float((got.p_other_lab or got.p_true).p[0])

    low, high = limits.low_report_s, limits.high_report_s
    if math.isfinite(low) and math.isfinite(high):
        found = minimize_scalar(
            lambda x: -p(x), bounds=_reach(low, high, law, deciding), method="bounded",
            options={"xatol": 1e-6},
        )  # fmt: skip
        best, best_p = float(found.x), float(-found.fun)
        if best_p < wanted:
            raise NoAnswer(
                "aim-window-narrow", wanted_pct=100.0 * wanted, best_s=best, best_pct=100.0 * best_p
            )
        outer = _reach(low, high, law, deciding)
        return Aim(_where(p, wanted, best, outer[0]), _where(p, wanted, best, outer[1]), wanted, best, best_p)
    up = math.isfinite(low)
    limit = low if up else high
    far = 40.0 * (law(limit) + (deciding.report_sd_s if deciding else 0.0)) + abs(
        deciding.shift_s if deciding else 0.0
    )
    inside, outside = (limit + far, limit - far) if up else (limit - far, limit + far)
    inside, outside = max(inside, _LEAST_S), max(outside, _LEAST_S)
    inside = _pushed(p, wanted, limit, inside)
    end = _where(p, wanted, inside, outside)
    return Aim(end, math.inf, wanted, math.inf, 1.0) if up else Aim(-math.inf, end, wanted, -math.inf, 1.0)


def _reach(
    low: float, high: float, law: Callable[[float], float], deciding: DecidingLab | None
) -> tuple[float, float]:
    room = 10.0 * max(law(low), law(high)) + (
        10.0 * deciding.report_sd_s + abs(deciding.shift_s) if deciding else 0.0
    )
    return max(low - room, _LEAST_S), high + room


def _pushed(p: Callable[[float], float], wanted: float, limit: float, inside: float) -> float:
    """Go on outwards until the wanted probability is passed; a prior far away may need it."""
    for _ in range(8):
        if p(inside) > wanted:
            return inside
        inside = limit + 2.0 * (inside - limit)
    raise NoAnswer("aim-out-of-reach", wanted_pct=100.0 * wanted, limit_s=limit)


def _where(p: Callable[[float], float], wanted: float, inside: float, outside: float) -> float:
    if p(outside) >= wanted:
        return math.copysign(math.inf, outside - inside)
    found = brentq(lambda x: p(x) - wanted, min(inside, outside), max(inside, outside), xtol=1e-9, rtol=1e-13)
    return float(np.float64(found))
