"""What selective retesting does to the number: test until it passes, retest only what failed.

A warning, never an offer: every rule here that looks at the result before it decides to test again moves the
number, and the move is computed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.integrate import simpson
from scipy.special import ndtr

from lodestarch.common.arrays import FloatArray
from lodestarch.common.errors import OutOfRange
from lodestarch.decide.combine import CombineRule, combined_by, money_under, passes
from lodestarch.decide.expected_money import expected_money

__all__ = [
    "Selected",
    "UntilPass",
    "best_of_bias",
    "selective_retest",
    "third_when_failed",
    "until_it_passes",
]

_Z: Final = np.linspace(-9.0, 9.0, 3601)
_PHI: Final = np.exp(-0.5 * _Z**2) / math.sqrt(2.0 * math.pi)
_STEP: Final = float(_Z[1] - _Z[0])


def best_of_bias(tests: int) -> float:
    """Expected best of k independent tests above the true value, in standard deviations of one. [1]

    Notes
    -----
    k times the integral of z phi(z) Phi(z)^(k - 1).

    Examples
    --------
    >>> [round(best_of_bias(k), 4) for k in (1, 2, 3)]
    [0.0, 0.5642, 0.8463]
    """
    if tests < 1:
        raise OutOfRange("tests", tests, 1, math.inf, "1")
    return float(tests * np.sum(_Z * _PHI * ndtr(_Z) ** (tests - 1)) * _STEP) + 0.0


@dataclass(frozen=True, slots=True)
class UntilPass:
    """Testing until a result passes, at most k times.

    Parameters
    ----------
    p_one : float
        Chance that one honest test passes. [1]
    p_pass : float
        Chance that one of k does. [1]
    best_bias_s : float
        Expected excess of the best of all k over the true value. [s]
    kept_bias_s : float
        Expected excess of the number kept, which is the first that passes, else the best. [s]
    tests : float
        Expected number of tests.
    """

    p_one: float
    p_pass: float
    best_bias_s: float
    kept_bias_s: float
    tests: float


def until_it_passes(true_s: float, sd_s: float, limit_s: float, tests: int) -> UntilPass:
    """What testing until a floor is passed does to a load of a true value.

    Parameters
    ----------
    true_s, sd_s, limit_s : float
        True value, standard deviation of a test, smallest report that passes. [s]  ``sd_s`` above 0.
    tests : int
        Most that are made.

    Notes
    -----
    With a = (limit - true)/sd and q = Phi(a): passes 1 - q^k; the first that passes has excess
    sd phi(a)/(1 - q), and the best of k that all fail has excess k sd int_{-inf}^{a} z phi Phi^(k-1) dz.

    Examples
    --------
    >>> got = until_it_passes(291.0, 9.0, 300.0, 2)
    >>> print(f"{got.p_one:.4f} {got.p_pass:.4f}")
    0.1587 0.2921
    """
    if tests < 1:
        raise OutOfRange("tests", tests, 1, math.inf, "1")
    a = _standardised(true_s, sd_s, limit_s)
    q = float(ndtr(a))
    z = np.linspace(min(-9.0, a - 1.0), a, 4001)
    density = np.exp(-0.5 * z * z) / math.sqrt(2.0 * math.pi)
    failing = tests * float(np.trapezoid(z * density * ndtr(z) ** (tests - 1), z))
    passing = math.exp(-0.5 * a * a) / math.sqrt(2.0 * math.pi) * sum(q**i for i in range(tests))
    made = sum(q**i for i in range(tests))
    return UntilPass(
        1.0 - q, 1.0 - q**tests, sd_s * best_of_bias(tests), sd_s * (passing + failing), float(made)
    )


@dataclass(frozen=True, slots=True)
class Selected:
    """Number kept when a second test is made only after a first that failed.

    Parameters
    ----------
    bias_s : float
        Expected number kept less the true value. [s]
    p_pass : float
        [1]
    """

    bias_s: float
    p_pass: float


def selective_retest(true_s: float, sd_s: float, limit_s: float) -> dict[str, Selected]:
    """Bias and chance of passing by what is done with a second test after a first that failed.

    Returns
    -------
    dict
        ``single``; ``replaces``, ``best-kept``, ``averaged`` after a failure only; ``both-always`` averaged.

    Notes
    -----
    With a = (L - mu)/sd: replaced sd phi(a); averaged sd phi(a)/2; best kept
    sd (phi(a) + int_{-inf}^{a} phi(x) (x Phi(x) + phi(x)) dx). Chances: 1 - Phi(a)^2 for the first two,
    1 - Phi(a) + P(x < a, (x + y)/2 >= a) averaged, 1 - Phi(a sqrt 2) always averaged.
    """
    a = _standardised(true_s, sd_s, limit_s)
    q, density = float(ndtr(a)), math.exp(-0.5 * a * a) / math.sqrt(2.0 * math.pi)
    x = np.linspace(min(-9.0, a - 1.0), a, 4001)
    phi = np.exp(-0.5 * x * x) / math.sqrt(2.0 * math.pi)
    kept = float(np.trapezoid(phi * (x * ndtr(x) + phi), x))
    mean_passes = float(np.trapezoid(phi * ndtr(x - 2.0 * a), x))
    return {
        "single": Selected(0.0, 1.0 - q),
        "replaces": Selected(sd_s * density, 1.0 - q * q),
        "best-kept": Selected(sd_s * (density + kept), 1.0 - q * q),
        "averaged": Selected(0.5 * sd_s * density, 1.0 - q + mean_passes),
        "both-always": Selected(0.0, float(ndtr(-a * math.sqrt(2.0)))),
    }


def third_when_failed(rule: CombineRule, true_s: float, sd_s: float, limit_s: float) -> Selected:
    """Bias and chance of passing when a third test is made only after a pair whose mean failed.

    Parameters
    ----------
    rule : CombineRule
        Of the three.
    true_s, sd_s, limit_s : float
        As :func:`until_it_passes`.

    Notes
    -----
    Over the half difference and the mean of the pair, which are independent with sd/sqrt(2), by Simpson's
    rule; the third is a closed form at each.
    """
    _standardised(true_s, sd_s, limit_s)
    root = sd_s / math.sqrt(2.0)
    halves = np.linspace(0.0, 6.0, 33)  # of a symmetric difference: counted twice
    over = (limit_s - true_s) / root
    failing = np.linspace(min(-6.0, over - 1.0), over, 65)
    ok = passes(limit_s, math.inf)
    bias, met = np.zeros((halves.size, failing.size)), np.zeros((halves.size, failing.size))
    for i, half in enumerate(root * halves):
        for j, m in enumerate(true_s + root * failing):
            counts = combined_by(rule, [m - half, m + half])
            bias[i, j] = float(expected_money(counts, true_s, sd_s)) - true_s
            met[i, j] = float(expected_money(money_under(ok, counts), true_s, sd_s))
    weight = 2.0 * _density(halves)[:, None] * _density(failing)

    def over_pairs(values: FloatArray) -> float:
        return float(simpson(simpson(values * weight, x=failing, axis=1), x=halves))

    passed = float(ndtr(-over))
    stands = root * math.exp(-0.5 * over * over) / math.sqrt(2.0 * math.pi)
    return Selected(
        stands + over_pairs(bias),
        passed + over_pairs(met),
    )


def _density(z: FloatArray) -> FloatArray:
    return np.asarray(np.exp(-0.5 * z * z) / math.sqrt(2.0 * math.pi), dtype=np.float64)


def _standardised(true_s: float, sd_s: float, limit_s: float) -> float:
    if not (sd_s > 0.0 and math.isfinite(sd_s)):
        raise OutOfRange("sd_s", sd_s, 0.0, math.inf, "s")
    return (limit_s - true_s) / sd_s
