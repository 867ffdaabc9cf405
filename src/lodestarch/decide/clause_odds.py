"""Odds of several loads or sublots under the clauses that judge them together.

Each sublot has its own result with an independent uncertainty; what the deciding lab's reports have in common
(bias, drift, pressure) moves all of them at once and is integrated over last.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.special import log_ndtr, ndtr, roots_hermitenorm

from lodestarch.common.arrays import FloatArray, as_array
from lodestarch.common.errors import NoAnswer, OutOfRange
from lodestarch.decide.deciding_lab import DecidingLab
from lodestarch.decide.limits import Limits, chance_between
from lodestarch.method.liquefaction import LN_NUMERATOR, LN_OFFSET_S, ln_from_fn, u_of_ln

__all__ = [
    "Sublots",
    "composite_odds",
    "composite_seconds",
    "every_sublot_odds",
    "minimum_odds",
    "weighted_average_odds",
    "worst_of_odds",
]

_NODES: Final = 41
_Z, _W = roots_hermitenorm(_NODES)
_WEIGHTS: Final = _W / math.sqrt(2.0 * math.pi)


@dataclass(frozen=True, slots=True)
class Sublots:
    """Results of the parts of a cargo.

    Parameters
    ----------
    value_s : ndarray
        Exact results. [s]
    u_s : ndarray
        Independent standard uncertainties. [s]  Above 0.
    share : ndarray
        By mass, sums to 1. [1]
    """

    value_s: FloatArray
    u_s: FloatArray
    share: FloatArray

    @classmethod
    def of(cls, value_s: npt.ArrayLike, u_s: npt.ArrayLike, tonnes: npt.ArrayLike | None = None) -> Sublots:
        """Take results with their masses; equal ones where none are given.

        Raises
        ------
        NoAnswer
            ``sublots-none`` without results.
        OutOfRange
            A value that is not finite, an uncertainty or mass not above 0.
        """
        value = np.atleast_1d(as_array(value_s))
        if value.size == 0:
            raise NoAnswer("sublots-none")
        u = np.broadcast_to(as_array(u_s), value.shape)
        mass = np.ones(value.size) if tonnes is None else np.atleast_1d(as_array(tonnes))
        for name, column, good in (
            ("value_s", value, np.isfinite(value)),
            ("u_s", u, np.isfinite(u) & (u > 0.0)),
            ("tonnes", mass, np.isfinite(mass) & (mass > 0.0)),
        ):
            if not good.all():
                raise OutOfRange(
                    name, float(column[~good][0]), 0.0, math.inf, "t" if name == "tonnes" else "s"
                )
        if mass.shape != value.shape:
            raise OutOfRange("masses", float(mass.size), float(value.size), float(value.size), "1")
        return cls(value, np.asarray(u, dtype=np.float64), mass / mass.sum())


def weighted_average_odds(
    sublots: Sublots, limits: Limits, deciding: DecidingLab | None = None
) -> tuple[float, float | None]:
    """Odds that the average by tonnes meets the limits: of the true values, and as the deciding lab reports.

    Returns
    -------
    p_true, p_other_lab : float, float or None
        [1]

    Notes
    -----
    The average is normal with variance sum w^2 u^2; each sublot is reported once, which adds sum w^2 s^2 and
    the lasting part once.
    """
    mean = float(sublots.share @ sublots.value_s)
    var = float(sublots.share**2 @ sublots.u_s**2)
    true = chance_between(mean, math.sqrt(var), limits.low_s, limits.high_s)[0]
    if deciding is None:
        return float(true), None
    own = float(np.sum(sublots.share**2)) * deciding.sd_s**2
    sd = math.sqrt(var + own + deciding.lasting_sd_s**2)
    other = chance_between(mean + deciding.shift_s, sd, limits.low_report_s, limits.high_report_s)[0]
    return float(true), float(other)


def every_sublot_odds(
    sublots: Sublots, limits: Limits, deciding: DecidingLab | None = None
) -> tuple[float, float | None]:
    """Odds that every sublot meets the limits.

    Notes
    -----
    A product over sublots of Phi differences, for each value of the lasting part; that is integrated by
    Gauss and Hermite.
    """

    def all_of(sd_s: FloatArray, shift_s: float, low_s: float, high_s: float) -> float:
        return float(np.prod(chance_between(sublots.value_s + shift_s, sd_s, low_s, high_s)[0]))

    true = all_of(sublots.u_s, 0.0, limits.low_s, limits.high_s)
    if deciding is None:
        return true, None
    sd = np.hypot(sublots.u_s, deciding.sd_s)
    reports = (limits.low_report_s, limits.high_report_s)
    return true, _over_lasting(deciding, lambda shift: all_of(sd, shift, *reports))


def worst_of_odds(mean_s: float, sd_s: float, n: int, limits: Limits) -> float:
    """Odds that every one of n reports on uniform grain meets the limits.

    Examples
    --------
    Grain of 310 s, reports with sd 10 s, 20 sublots, none under 300:

    >>> print(f"{1 - worst_of_odds(310.0, 10.0, 20, Limits(300.0)):.3f}")
    0.968
    """
    one = float(chance_between(mean_s, sd_s, limits.low_report_s, limits.high_report_s)[0])
    return one**n


def composite_seconds(sublots: Sublots) -> tuple[float, float, float, float]:
    """Seconds computed for the composite, with mean, standard deviation and skewness of its LN.

    Returns
    -------
    seconds, mean_ln, sd_ln, skewness : float
        Seconds of the plain mix of the results [s]; belief on the mix's LN. [1]

    Notes
    -----
    LN adds by mass. With x the result, E LN = LN (1 + u^2/(x - 50)^2 + 3 u^4/(x - 50)^4), the first terms of
    the normal mean of 6000/(f - 50); the sd has its second-order term likewise, and the third cumulant is
    6 * 6000^3 u^4/(x - 50)^7 to first order.
    """
    ln = np.asarray(ln_from_fn(sublots.value_s), dtype=np.float64)
    ratio = (sublots.u_s / (sublots.value_s - LN_OFFSET_S)) ** 2
    mean = float(sublots.share @ (ln * (1.0 + ratio + 3.0 * ratio**2)))
    first = np.asarray(u_of_ln(sublots.value_s, sublots.u_s), dtype=np.float64)
    sd = float(np.sqrt(sublots.share**2 @ (first**2 * (1.0 + 8.0 * ratio))))
    third = float(sublots.share**3 @ (6.0 * ln**3 * ratio**2))
    return LN_NUMERATOR / float(sublots.share @ ln) + LN_OFFSET_S, mean, sd, third / sd**3


def composite_odds(
    sublots: Sublots, limits: Limits, deciding: DecidingLab | None = None
) -> tuple[float, float | None]:
    """Odds that the composite by mass meets the limits.

    Notes
    -----
    The LN of the mix is taken as normal with its skewness as first correction (Edgeworth):
    F(z) = Phi(z) - (skewness/6) (z^2 - 1) phi(z). The deciding lab tests the composite once;
    its error adds in seconds, so the mix's LN is integrated over.

    That grain mixes by LN is a plan, not a measured law.
    """
    _, mean, sd, skewness = composite_seconds(sublots)
    low = (_ln_of_limit(limits.high_s, -math.inf) - mean) / sd
    high = (_ln_of_limit(limits.low_s, math.inf) - mean) / sd
    true = min(max(_skewed(high, skewness) - _skewed(low, skewness), 0.0), 1.0)
    if deciding is None:
        return true, None
    ln = np.maximum(mean + sd * _Z, 1e-6)
    seconds = LN_NUMERATOR / ln + LN_OFFSET_S
    reports = (limits.low_report_s, limits.high_report_s)
    p = chance_between(seconds + deciding.shift_s, deciding.report_sd_s, *reports)[0]
    skewed = _WEIGHTS * (1.0 + skewness / 6.0 * (_Z**3 - 3.0 * _Z))
    return true, min(max(float(p @ skewed), 0.0), 1.0)


def _skewed(z: float, skewness: float) -> float:
    if not math.isfinite(z):
        return float(z > 0.0)
    density = math.exp(-0.5 * z * z) / math.sqrt(2.0 * math.pi)
    return float(ndtr(z)) - skewness / 6.0 * (z * z - 1.0) * density


def minimum_odds(
    sublots: Sublots, limits: Limits, sublot_at_least_s: float, deciding: DecidingLab | None = None
) -> tuple[float, float | None]:
    """Odds that the average meets its floor and no sublot lies under a lower one.

    Parameters
    ----------
    sublots : Sublots
    limits : Limits
        Of the average.
    sublot_at_least_s : float
        Floor of every sublot, taken as stated. [s]
    deciding : DecidingLab, optional

    Notes
    -----
    P(every sublot reaches its floor) times P(average meets its limits | they do); given that, each sublot is
    a truncated normal, and their average is taken as normal with its exact mean and variance.
    """
    true = _minimum(sublots, 0.0, 0.0, sublot_at_least_s, (limits.low_s, limits.high_s))
    if deciding is None:
        return true, None
    reports = (limits.low_report_s, limits.high_report_s)
    sd = deciding.sd_s
    return true, _over_lasting(deciding, lambda d: _minimum(sublots, d, sd, sublot_at_least_s, reports))


def _minimum(
    sublots: Sublots, shift_s: float, own_sd_s: float, floor_s: float, between: tuple[float, float]
) -> float:
    sd = np.hypot(sublots.u_s, own_sd_s)
    mean = sublots.value_s + shift_s
    a = (floor_s - mean) / sd
    # Mills ratio by logarithms, so that a sublot far below its floor does not divide by nothing.
    rate = np.exp(-0.5 * a * a - 0.5 * math.log(2.0 * math.pi) - log_ndtr(-a))
    cut_mean = mean + sd * rate
    cut_var = sd**2 * np.maximum(1.0 + a * rate - rate**2, 0.0)
    average = float(sublots.share @ cut_mean)
    spread = math.sqrt(float(sublots.share**2 @ cut_var))
    return float(np.prod(ndtr(-a))) * float(chance_between(average, spread, *between)[0])


def _over_lasting(deciding: DecidingLab, chance: Callable[[float], float]) -> float:
    if deciding.lasting_sd_s == 0.0:
        return chance(deciding.shift_s)
    at = deciding.shift_s + deciding.lasting_sd_s * _Z
    return float(sum(w * chance(float(s)) for w, s in zip(_WEIGHTS, at, strict=True)))


def _ln_of_limit(limit_s: float, without: float) -> float:
    if not math.isfinite(limit_s):
        return without
    return math.inf if limit_s <= LN_OFFSET_S else LN_NUMERATOR / (limit_s - LN_OFFSET_S)
