"""Odds of one load: the true value, a retest here, and the lab that decides."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum, StrEnum
from typing import Final

import numpy as np
import numpy.typing as npt

from lodestarch.common.arrays import FloatArray
from lodestarch.common.errors import OutOfRange
from lodestarch.decide.belief import Belief, Results, belief
from lodestarch.decide.deciding_lab import DecidingLab
from lodestarch.decide.limits import Limits
from lodestarch.decide.prior import FlatPrior, Prior
from lodestarch.method.reading import Kind

__all__ = [
    "MAKES_IT",
    "UNDER",
    "Chance",
    "LotState",
    "Odds",
    "Retest",
    "Says",
    "lot_states",
    "odds",
    "state_of",
]

MAKES_IT: Final = 0.95
"""Odds at the deciding lab from which a lot makes it. [1]  A setting of ours."""

UNDER: Final = 0.05
"""Odds at or below which it is under or over. [1]  A setting of ours."""


class Says(IntEnum):
    """What a stated chance says."""

    EXACT = 0
    AT_LEAST = 1
    AT_MOST = 2
    NOT_EVALUATED = 3


class LotState(StrEnum):
    """State of a lot at the lab that decides."""

    MAKES_IT = "makes-it"
    TOO_CLOSE = "too-close"
    UNDER = "under"
    OVER = "over"
    NOT_EVALUATED = "not-evaluated"


@dataclass(frozen=True, slots=True)
class Chance:
    """Chance that a limit is met, with what it says.

    Parameters
    ----------
    p : ndarray
        [1]  NaN where not evaluated.
    under, over : ndarray
        Chances of missing the floor and of passing the ceiling. [1]
    says : ndarray of int
        :class:`Says`.
    """

    p: FloatArray
    under: FloatArray
    over: FloatArray
    says: npt.NDArray[np.int_]


@dataclass(frozen=True, slots=True)
class Retest:
    """A second test here.

    Parameters
    ----------
    sd_s : float or None
        Standard deviation of what is drawn anew; ``None``: as large as that part of the first result. [s]
    shared_s : float
        Standard deviation of what both results have in common: sample, lab. [s]  Not above u.
    """

    sd_s: float | None = None
    shared_s: float = 0.0

    def __post_init__(self) -> None:
        for name, value in (("retest_sd_s", self.sd_s), ("shared_s", self.shared_s)):
            if value is not None and not (np.isfinite(value) and value >= 0.0):
                raise OutOfRange(name, value, 0.0, float("inf"), "s")


@dataclass(frozen=True, slots=True)
class Odds:
    """The three odds of each result.

    Parameters
    ----------
    p_true, p_same_lab : Chance
    p_other_lab : Chance or None
        ``None`` where nothing is known of the lab that decides.
    belief : NormalBelief or GridBelief
        Of the true value.
    """

    p_true: Chance
    p_same_lab: Chance
    p_other_lab: Chance | None
    belief: Belief


def odds(
    results: Results,
    limits: Limits,
    *,
    prior: Prior | None = None,
    retest: Retest | None = None,
    deciding: DecidingLab | None = None,
) -> Odds:
    """Odds that loads with these results meet a floor, a ceiling or a window.

    Parameters
    ----------
    results : Results
    limits : Limits
    prior : Prior, optional
        Flat where not given.
    retest : Retest, optional
        How a retest here is made; an independent one as uncertain as the result where not given.
    deciding : DecidingLab, optional

    Returns
    -------
    Odds

    Raises
    ------
    OutOfRange
        A shared part above the uncertainty of a result.

    Notes
    -----
    With true value f, result x, u and c^2 the variance that a retest shares:

    - ``p_true``: P(f within the limits | x).
    - ``p_same_lab``: the retest is normal about f + (c^2/u^2)(x - f) with variance
      c^2 (1 - c^2/u^2) + s^2, since part of the first error comes again.
    - ``p_other_lab``: the report is normal about f + bias + drift + pressure with variance
      s^2 + u_bias^2 + u_drift^2 + u_pressure^2.

    Under a flat prior a censored result gives a bound where its side of the limit is known, and nothing
    where it is not: a tube stopped below the limit is not evaluated.

    Examples
    --------
    >>> got = odds(Results.of(310.0, 9.0), Limits(300.0), deciding=DecidingLab(12.0))
    >>> print(f"{got.p_true.p[0]:.4f} {got.p_same_lab.p[0]:.4f} {got.p_other_lab.p[0]:.4f}")
    0.8667 0.7840 0.7475

    References
    ----------
    .. [1] JCGM 106:2012, conformance probability (recalled).
    """
    held = belief(results, prior or FlatPrior())
    says = _says(results, limits, flat=isinstance(prior or FlatPrior(), FlatPrior))
    one, none = np.ones_like(results.value_s), np.zeros_like(results.value_s)
    true = _chance(held.report(one, none, none, limits.low_s, limits.high_s), says)
    reports = (limits.low_report_s, limits.high_report_s)
    slope, shift, sd = _retest_law(results, retest or Retest())
    same = _chance(held.report(slope, shift, sd, *reports), says)
    if deciding is None:
        return Odds(true, same, None, held)
    other = held.report(one, none + deciding.shift_s, none + deciding.report_sd_s, *reports)
    return Odds(true, same, _chance(other, says), held)


def _chance(parts: tuple[FloatArray, FloatArray, FloatArray], says: npt.NDArray[np.int_]) -> Chance:
    silent = says == Says.NOT_EVALUATED.value
    p, under, over = (np.where(silent, np.nan, part) for part in parts)
    return Chance(p, under, over, says)


def _retest_law(results: Results, retest: Retest) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Slope, shift and standard deviation of a retest about the true value."""
    above = retest.shared_s > results.u_s
    if above.any():
        raise OutOfRange("shared_s", retest.shared_s, 0.0, float(results.u_s[above][0]), "s")
    shared = retest.shared_s**2
    own = results.u_s**2 - shared if retest.sd_s is None else np.full_like(results.u_s, retest.sd_s**2)
    # What a censored result says of its own error is left aside.
    again = np.where(results.kind == Kind.EXACT.value, shared / results.u_s**2, 0.0)
    return 1.0 - again, again * results.value_s, np.sqrt(shared * (1.0 - again) + own)


def _says(results: Results, limits: Limits, *, flat: bool) -> npt.NDArray[np.int_]:
    if not flat:
        return np.full(results.value_s.size, Says.EXACT.value)
    x, low, high = results.value_s, limits.low_s, limits.high_s
    above, below = results.kind == Kind.ABOVE.value, results.kind == Kind.AT_OR_BELOW.value
    floor_only, ceiling_only = not np.isfinite(high), not np.isfinite(low)
    at_least = (above & floor_only & (x >= low)) | (below & ceiling_only & (x <= high))
    at_most = (above & np.isfinite(high) & (x > high)) | (below & np.isfinite(low) & (x < low))
    exact = results.kind == Kind.EXACT.value
    says = np.select(
        [exact, at_least, at_most],
        [Says.EXACT.value, Says.AT_LEAST.value, Says.AT_MOST.value],
        Says.NOT_EVALUATED.value,
    )
    return np.asarray(says, dtype=np.int_)


def lot_states(chance: Chance, *, makes_it: float = MAKES_IT, under: float = UNDER) -> tuple[LotState, ...]:
    """State of each lot from its odds at the lab that decides.

    Parameters
    ----------
    chance : Chance
    makes_it, under : float
        Odds from which it makes it; odds up to which it does not. [1]
    """
    out = []
    for p, low, high, says in zip(chance.p, chance.under, chance.over, chance.says, strict=True):
        if says == Says.NOT_EVALUATED.value:
            out.append(LotState.NOT_EVALUATED)
        elif p >= makes_it and says != Says.AT_MOST.value:
            out.append(LotState.MAKES_IT)
        elif p <= under and says != Says.AT_LEAST.value:
            out.append(LotState.UNDER if low >= high else LotState.OVER)
        else:
            out.append(LotState.TOO_CLOSE if says == Says.EXACT.value else LotState.NOT_EVALUATED)
    return tuple(out)


def state_of(p: float | None, *, makes_it: float = MAKES_IT, under: float = UNDER) -> LotState:
    """State of a cargo from its odds at the lab that decides; ``None``: not evaluated."""
    if p is None:
        return LotState.NOT_EVALUATED
    if p >= makes_it:
        return LotState.MAKES_IT
    return LotState.UNDER if p <= under else LotState.TOO_CLOSE
