"""How much malt lowers a falling number to a target, from one or two trial additions of that malt.

Linear in LN: a dose d moves LN by s d, with the slope s measured on that flour with that malt; there is no
default slope. Fungal amylase is not seen by the falling number and has no dose here.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from lodestarch.common.errors import NoAnswer, OutOfRange
from lodestarch.method.liquefaction import LN_OFFSET_S, ln_from_fn, u_of_ln

__all__ = ["FAR_BEYOND", "STICKY_FROM", "Dose", "Trial", "dose_to_reach"]

_COVER: Final = 1.96
"""Normal quantile of an interval of 95 %."""
FAR_BEYOND: Final = 1.5
"""A dose beyond the largest trial, times this, is an extrapolation. Ours."""
STICKY_FROM: Final = 50.0
"""Dose above which dough gets sticky where the falling number is about 300 s. [g/100 kg]  Published in a
handbook on flour treatment, which is not neutral."""


@dataclass(frozen=True, slots=True)
class Trial:
    """One trial addition: grams of malt per 100 kg, and what the flour then read. [g/100 kg, s]"""

    grams_per_100kg: float
    seconds_s: float


@dataclass(frozen=True, slots=True)
class Dose:
    """A computed dose.

    Parameters
    ----------
    grams_per_100kg : float
    low, high : float or None
        Interval of 95 % from the errors of the readings; ``high`` ``None``: no upper end, the trials leave
        open whether the malt acts at all. [g/100 kg]
    slope_ln : float
        LN for each gram per 100 kg.
    """

    grams_per_100kg: float
    low: float
    high: float | None
    slope_ln: float


def dose_to_reach(target_s: float, now_s: float, trials: Sequence[Trial], *, cv: float = 0.02) -> Dose:
    """Compute a dose.

    Parameters
    ----------
    target_s, now_s : float
        Target, and the flour without malt. [s]  Above 50, the target below.
    trials : sequence of Trial
        At least one.
    cv : float
        Standard deviation of each reading over its value. [1]

    Raises
    ------
    NoAnswer
        ``dose-no-trials``; ``dose-target-above``: malt never raises a falling number; ``dose-no-effect``: the
        trials did not lower it.
    OutOfRange
        Seconds at 50 or below, doses not above 0, a negative cv.

    Notes
    -----
    With L the liquefaction numbers, s = sum(d (L_d - L_0))/sum(d^2) and D = (L_target - L_0)/s. The interval
    is Fieller's for a ratio of normal values, with the covariance that both have through L_0 [1]_.

    References
    ----------
    .. [1] E. C. Fieller, Some problems in interval estimation, Journal of the Royal Statistical Society B 16
       (1954) 175-185; recalled.

    Examples
    --------
    From 400 to 250 s takes 12.857 LN:

    >>> dose = dose_to_reach(250.0, 400.0, [Trial(50.0, 300.0)], cv=0.0)
    >>> round(dose.grams_per_100kg, 2), round(dose.slope_ln * dose.grams_per_100kg, 3)
    (93.75, 12.857)
    """
    if not trials:
        raise NoAnswer("dose-no-trials")
    for name, value in (
        ("target_s", target_s),
        ("now_s", now_s),
        *(("trial_s", t.seconds_s) for t in trials),
    ):
        if not (value > LN_OFFSET_S and math.isfinite(value)):
            raise OutOfRange(name, value, LN_OFFSET_S, math.inf, "s")
    for trial in trials:
        if not (trial.grams_per_100kg > 0.0 and math.isfinite(trial.grams_per_100kg)):
            raise OutOfRange("trial dose", trial.grams_per_100kg, 0.0, math.inf, "g/100 kg")
    if not (cv >= 0.0 and math.isfinite(cv)):
        raise OutOfRange("cv", cv, 0.0, math.inf, "1")
    if not target_s < now_s:
        raise NoAnswer("dose-target-above", target_s=target_s, now_s=now_s)
    squares = math.fsum(t.grams_per_100kg**2 for t in trials)
    weights = [t.grams_per_100kg / squares for t in trials]
    base = ln_from_fn(now_s)
    slope = math.fsum(w * (ln_from_fn(t.seconds_s) - base) for w, t in zip(weights, trials, strict=True))
    if not slope > 0.0:
        raise NoAnswer("dose-no-effect", now_s=now_s)
    wanted = ln_from_fn(target_s) - base
    base_v = u_of_ln(now_s, cv * now_s) ** 2
    slope_v = math.fsum(
        (w * u_of_ln(t.seconds_s, cv * t.seconds_s)) ** 2 for w, t in zip(weights, trials, strict=True)
    )
    slope_v += sum(weights) ** 2 * base_v
    low, high = _fieller(wanted, slope, base_v, slope_v, sum(weights) * base_v)
    return Dose(wanted / slope, max(low, 0.0), high, slope)


def _fieller(a: float, s: float, a_v: float, s_v: float, cov: float) -> tuple[float, float | None]:
    """Ends of the interval of a/s."""
    k = _COVER**2
    lead = s * s - k * s_v
    middle = a * s - k * cov
    last = a * a - k * a_v
    root = math.sqrt(max(middle * middle - lead * last, 0.0))
    if lead <= 0.0:
        # The slope may be nothing: whatever the trials say, no dose is ruled out from above.
        return (last / (middle + root) if middle + root > 0.0 else 0.0), None
    return (middle - root) / lead, (middle + root) / lead
