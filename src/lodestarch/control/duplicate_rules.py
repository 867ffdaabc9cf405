"""Rules for duplicates that disagree: the limit at a stated probability, and what each rule does.

Sizes are in SDs of one tube. A rule is judged by how often it accepts a pair, how many tubes it costs, and
what it leaves of a gross error.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.special import ndtr

from lodestarch.common.arrays import FloatArray, Floats, as_array, like
from lodestarch.common.errors import OutOfRange
from lodestarch.control.chart_constants import range_factor

__all__ = ["RuleCharacteristic", "agreement_limit", "fresh_pair", "p_good_pair_breaks", "third_tube"]


def agreement_limit(sd_s: Floats, *, tubes: int = 2, probability: float = 0.95) -> Floats:
    """Range of good tubes of one sample that is not exceeded with a probability. [s]

    Parameters
    ----------
    sd_s : float or ndarray
        SD of one tube at the level. [s]  At least 0.
    tubes : int
        At least 2.
    probability : float
        Above 0, below 1.

    Examples
    --------
    >>> round(agreement_limit(9.0), 1)
    24.9
    """
    return like(sd_s, np.asarray(range_factor(tubes, probability) * as_array(sd_s)))


def p_good_pair_breaks(limit_s: float, sd_s: float) -> float:
    """Probability that a pair of good tubes lies further apart than a limit. [1]

    Examples
    --------
    >>> round(p_good_pair_breaks(30.0, 9.0), 4)
    0.0184
    """
    if not (limit_s >= 0.0 and sd_s > 0.0):
        raise OutOfRange("limit_s and sd_s", min(limit_s, sd_s), 0.0, math.inf, "s")
    return 2.0 * float(ndtr(-limit_s / (math.sqrt(2.0) * sd_s)))


@dataclass(frozen=True, slots=True)
class RuleCharacteristic:
    """What a rule does when one tube of the first pair is off by a gross error.

    Parameters
    ----------
    rule : str
        ``fresh-pair`` or ``third-tube``.
    gross_sd : float
        Gross error in SDs of a tube; 0: a good pair.
    p_accepted_at_once : float
        Probability that the first pair passes: the error goes unseen. [1]
    p_settled : float
        Probability that the rule ends with a result. [1]
    tubes : float
        Expected number of tubes.
    bias_sd, sd_sd : float
        Mean and SD of the error of the final result, in SDs of a tube.
    """

    rule: Literal["fresh-pair", "third-tube"]
    gross_sd: float
    p_accepted_at_once: float
    p_settled: float
    tubes: float
    bias_sd: float
    sd_sd: float


def _accepted(limit_sd: float, gross_sd: float) -> float:
    root = math.sqrt(2.0)
    return float(ndtr((limit_sd - gross_sd) / root) - ndtr((-limit_sd - gross_sd) / root))


def _check(limit_sd: float, gross_sd: float) -> None:
    if not (math.isfinite(limit_sd) and limit_sd > 0.0):
        raise OutOfRange("limit_sd", limit_sd, 0.0, math.inf, "1")
    if not math.isfinite(gross_sd):
        raise OutOfRange("gross_sd", gross_sd, -math.inf, math.inf, "1")


def fresh_pair(limit_sd: float, gross_sd: float = 0.0, *, most_pairs: int = 2) -> RuleCharacteristic:
    """Operating characteristic of "a fresh pair, from remixed or reground meal".

    Parameters
    ----------
    limit_sd : float
        Agreement limit in SDs of a tube. Above 0.
    gross_sd : float
        Gross error of one tube of the first pair.
    most_pairs : int
        Pairs after which the rule gives up. At least 1.

    Notes
    -----
    Mean and difference of a normal pair are independent, so that a pair that passes is neither better nor
    worse for it: no bias but half the gross error where that went unseen.

    Examples
    --------
    >>> c = fresh_pair(2.772, 5.0)
    >>> round(c.p_accepted_at_once, 3), round(c.bias_sd, 2)
    (0.058, 0.15)
    """
    _check(limit_sd, gross_sd)
    if most_pairs < 1:
        raise OutOfRange("most_pairs", most_pairs, 1, math.inf, "1")
    first, good = _accepted(limit_sd, gross_sd), _accepted(limit_sd, 0.0)
    retries = most_pairs - 1
    later = (1.0 - first) * (1.0 - (1.0 - good) ** retries)
    # Pairs run after the first: 1 + (1 - a) + ... as long as none passes.
    extra = (1.0 - first) * sum((1.0 - good) ** i for i in range(retries))
    settled = first + later
    share = first / settled
    bias = share * 0.5 * gross_sd
    variance = 0.5 + share * (1.0 - share) * (0.5 * gross_sd) ** 2
    return RuleCharacteristic(
        "fresh-pair", gross_sd, first, settled, 2.0 * (1.0 + extra), bias, math.sqrt(variance)
    )


def third_tube(
    limit_sd: float,
    rng: np.random.Generator,
    gross_sd: float = 0.0,
    *,
    limit_three_sd: float | None = None,
    draws: int = 200_000,
) -> RuleCharacteristic:
    """Operating characteristic of "a single third tube".

    Parameters
    ----------
    limit_sd : float
        Agreement limit of the pair in SDs of a tube. Above 0.
    rng : numpy.random.Generator
    gross_sd : float
        Gross error of one tube of the pair.
    limit_three_sd : float, optional
        Limit of the range of three; the pair's limit times f(3)/f(2) at 95 % when left out.
    draws : int
        At least 1000.

    Notes
    -----
    After ISO 5725-6 (recalled): the pair passes, its mean; else a third tube, and the mean of all three when
    their range passes, else their median. Always settled; simulated, because range and median are not normal.
    """
    _check(limit_sd, gross_sd)
    if draws < 1000:
        raise OutOfRange("draws", draws, 1000, math.inf, "1")
    three = limit_sd * range_factor(3) / range_factor(2) if limit_three_sd is None else limit_three_sd
    x: FloatArray = rng.standard_normal((draws, 3))
    x[:, 0] += gross_sd
    passes = np.abs(x[:, 0] - x[:, 1]) <= limit_sd
    whole = np.ptp(x, axis=1) <= three
    final = np.where(passes, x[:, :2].mean(axis=1), np.where(whole, x.mean(axis=1), np.median(x, axis=1)))
    first = _accepted(limit_sd, gross_sd)
    return RuleCharacteristic(
        "third-tube", gross_sd, first, 1.0, 3.0 - first, float(final.mean()), float(final.std())
    )
