"""Money over the odds: what a price that moves with the seconds brings on average.

The idea: a function of straight pieces is its first piece, plus at every break a jump and a change of slope.
Under a normal report the jump is paid with the chance of lying above the break, and the change of slope with
the mean excess over it. Both are closed forms, so that no schedule needs a simulation.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr

from lodestarch.common.arrays import FloatArray, as_array
from lodestarch.common.errors import OutOfRange
from lodestarch.common.money import MoneyBySeconds

__all__ = ["breaks_as_jumps", "expected_money", "expected_money_rounded", "expected_moneys", "money_sd"]

_BLOCK: Final = 16_384
"""Results worked on at once: their few arrays stay in a core's cache. A choice of ours."""

_REACH: Final = 9.0
"""Standard deviations beyond which a normal report is not looked for; 1 - Phi(9) is 1e-19."""

_MIDPOINT: Final = (-1 / 24, 7 / 5760, -31 / 967_680, 127 / 154_828_800, -73 / 3_503_554_560)
"""Coefficients B_2k(1/2)/(2k)! of the midpoint rule's remainder. [1]  Derived: Euler and Maclaurin."""

_ROOT_TWO_PI: Final = math.sqrt(2.0 * math.pi)


def breaks_as_jumps(money: MoneyBySeconds) -> tuple[FloatArray, FloatArray]:
    """Return, for every break, the jump of the amount there and the change of slope.

    Returns
    -------
    jump : ndarray
        Amount just above the break minus that just below. [money]
    bend : ndarray
        Slope above minus slope below. [money/s]
    """
    bend = np.diff(money.slope_per_s)
    return np.diff(money.intercept) + bend * money.breaks_s, bend


def _density(z: FloatArray) -> FloatArray:
    return np.asarray(np.exp(-0.5 * z * z) / _ROOT_TWO_PI, dtype=np.float64)


def _checked(mean_s: npt.ArrayLike, sd_s: npt.ArrayLike) -> tuple[FloatArray, FloatArray, tuple[int, ...]]:
    mean, sd = np.broadcast_arrays(as_array(mean_s), as_array(sd_s))
    bad = sd[~((sd >= 0.0) & np.isfinite(sd))]
    if bad.size:
        raise OutOfRange("sd_s", float(bad.flat[0]), 0.0, math.inf, "s")
    off = mean[~np.isfinite(mean)]
    if off.size:
        raise OutOfRange("mean_s", float(off.flat[0]), 0.0, math.inf, "s")
    return mean.ravel(), sd.ravel(), mean.shape


def _blocks(n: int) -> Iterator[slice]:
    return (slice(at, min(at + _BLOCK, n)) for at in range(0, n, _BLOCK))


def _add_break(out: FloatArray, z: FloatArray, sd: FloatArray, jump: float, bend: float) -> None:
    """Add what one break pays at standardised distances z above the mean."""
    above = ndtr(-z)
    if bend != 0.0:
        out += (bend * sd) * (_density(z) - z * above)
    if jump != 0.0:
        out += jump * above


def expected_money(money: MoneyBySeconds, mean_s: npt.ArrayLike, sd_s: npt.ArrayLike) -> FloatArray:
    """Mean amount when the deciding lab's report is normal and not rounded.

    Parameters
    ----------
    money : MoneyBySeconds
    mean_s : array_like
        Mean of the predicted report. [s]  Finite.
    sd_s : array_like
        Its standard deviation. [s]  At least 0; 0 pays the amount at the mean.

    Returns
    -------
    ndarray
        Shape of ``mean_s`` and ``sd_s`` broadcast together. [money]

    Raises
    ------
    OutOfRange
        A standard deviation that is negative or not finite, a mean that is not finite.

    Notes
    -----
    With breaks B_j, jumps J_j and changes of slope K_j there, and z_j = (B_j - m)/s::

        E = a_0 + b_0 m + sum_j [ J_j (1 - Phi(z_j)) + K_j s (phi(z_j) - z_j (1 - Phi(z_j))) ]

    Derived: integration by parts of the pieces against the normal density. Which side owns a break does not
    matter unless ``sd_s`` is 0.

    Examples
    --------
    Full price from 300 s up, 25 less below; a report of mean 305 s, sd 10 s is below with chance 0.3085:

    >>> import numpy as np
    >>> step = MoneyBySeconds(
    ...     np.array([300.0]), np.array([-25.0, 0.0]), np.zeros(2), np.array([True]), "USD"
    ... )
    >>> print(f"{float(expected_money(step, 305.0, 10.0)):.4f}")
    -7.7134
    """
    mean, sd, shape = _checked(mean_s, sd_s)
    out = np.empty(mean.size)
    jump, bend = breaks_as_jumps(money)
    for part in _blocks(mean.size):
        m, s = mean[part], sd[part]
        known = s <= 0.0
        scale = np.where(known, 1.0, s)
        paid = money.intercept[0] + money.slope_per_s[0] * m
        for at, j, k in zip(money.breaks_s, jump, bend, strict=True):
            _add_break(paid, (at - m) / scale, s, float(j), float(k))
        out[part] = np.where(known, money.at(m), paid) if known.any() else paid
    return out.reshape(shape)


def expected_moneys(
    moneys: Sequence[MoneyBySeconds], mean_s: npt.ArrayLike, sd_s: npt.ArrayLike
) -> FloatArray:
    """Mean amounts for many results under many functions.

    Parameters
    ----------
    moneys : sequence of MoneyBySeconds
        One a column.
    mean_s, sd_s : array_like, shape (results,) or (results, functions)
        Predicted reports; with two dimensions, one a deciding lab. [s]

    Returns
    -------
    ndarray, shape (results, functions)
        Column-major: every column is contiguous. [money of that column]
    """
    mean, sd = np.broadcast_arrays(as_array(mean_s), as_array(sd_s))
    out = np.empty((mean.shape[0], len(moneys)), order="F")
    for i, money in enumerate(moneys):
        m, s = (mean[:, i], sd[:, i]) if mean.ndim == 2 else (mean, sd)
        out[:, i] = expected_money(money, m, s)
    return out


def expected_money_rounded(
    money: MoneyBySeconds, mean_s: npt.ArrayLike, sd_s: npt.ArrayLike, *, step_s: float = 1.0
) -> FloatArray:
    """Mean amount when the deciding lab rounds its report to a step before the price is read off.

    Parameters
    ----------
    money : MoneyBySeconds
    mean_s, sd_s : array_like
        Predicted report before rounding. [s]
    step_s : float
        Step of the report; halves go up. [s]  Above 0.

    Returns
    -------
    ndarray
        Shape of ``mean_s`` and ``sd_s`` broadcast together. [money]

    Raises
    ------
    OutOfRange
        As :func:`expected_money`; a step that is not above 0.

    Notes
    -----
    A jump is paid from the first report on its upper side, k h, that is from k h - h/2. Beyond it the mean
    excess over the break is a sum of tails one step apart, taken by the midpoint rule with the remainder of
    Euler and Maclaurin (five terms) while the step is at most half the standard deviation; the first term
    left out is then below 1e-10 of a standard deviation. With a coarser step the few possible reports are
    summed one by one.

    Examples
    --------
    >>> import numpy as np
    >>> step = MoneyBySeconds(
    ...     np.array([300.0]), np.array([-25.0, 0.0]), np.zeros(2), np.array([True]), "USD"
    ... )
    >>> bool(expected_money_rounded(step, 305.0, 10.0) == expected_money(step, 305.5, 10.0))
    True
    """
    if not (step_s > 0.0 and math.isfinite(step_s)):
        raise OutOfRange("step_s", step_s, 0.0, math.inf, "s")
    mean, sd, shape = _checked(mean_s, sd_s)
    out = np.empty(mean.size)
    for part in _blocks(mean.size):
        m, s = mean[part], sd[part]
        fine = s >= 2.0 * step_s
        paid = np.empty(m.size)
        if fine.any():
            paid[fine] = _fine_steps(money, m[fine], s[fine], step_s)
        if not fine.all():
            paid[~fine] = _report_by_report(money, m[~fine], s[~fine], step_s)
        out[part] = paid
    return out.reshape(shape)


def _first_reports(money: MoneyBySeconds, step_s: float) -> FloatArray:
    """First report on the upper side of each break. [steps]"""
    at = money.breaks_s / step_s
    near = np.round(at)
    at = np.where(
        np.abs(at - near) < 1e-9, near, at
    )  # a break on a report is on it, whatever the binary form
    return np.asarray(np.where(money.upper_owns, np.ceil(at), np.floor(at) + 1.0), dtype=np.float64)


def _fine_steps(money: MoneyBySeconds, m: FloatArray, s: FloatArray, step_s: float) -> FloatArray:
    jump, bend = breaks_as_jumps(money)
    paid = money.intercept[0] + money.slope_per_s[0] * m
    firsts = _first_reports(money, step_s)
    for at, first, j, k in zip(money.breaks_s, firsts, jump, bend, strict=True):
        report = first * step_s
        z = (report - 0.5 * step_s - m) / s
        paid += (j + k * (report - at)) * ndtr(-z)
        if k != 0.0:
            paid += k * _tails_above(report, m, s, step_s)
    return np.asarray(paid, dtype=np.float64)


def _tails_above(report_s: float, m: FloatArray, s: FloatArray, step_s: float) -> FloatArray:
    """Sum of step times chance of every threshold above a report, by the midpoint rule with its remainder."""
    z, h = (report_s - m) / s, step_s / s
    density = _density(z)
    total = density - z * ndtr(-z)
    # Derivatives of the tail: d^(2k-1) is -He_(2k-2)(z) phi(z); He by its recurrence.
    low, high = np.ones_like(z), z
    for k, c in enumerate(_MIDPOINT, start=1):
        total += c * h ** (2 * k) * low * density
        low = z * high - (2 * k - 1) * low
        high = z * low - 2 * k * high
    return np.asarray(s * total, dtype=np.float64)


def _report_by_report(money: MoneyBySeconds, m: FloatArray, s: FloatArray, step_s: float) -> FloatArray:
    reach = math.ceil(2.0 * _REACH) + 1
    report = (np.floor(m / step_s + 0.5)[:, None] + np.arange(-reach, reach + 1.0)) * step_s
    width = np.where(s > 0.0, s, 1.0)[:, None]
    low = (report - 0.5 * step_s - m[:, None]) / width
    high = (report + 0.5 * step_s - m[:, None]) / width
    # Differences of the smaller tails keep their digits far out.
    chance = np.where(low > 0.0, ndtr(-low) - ndtr(-high), ndtr(high) - ndtr(low))
    certain = (low <= 0.0) & (high > 0.0)
    chance = np.where((s > 0.0)[:, None], chance, certain)
    return np.asarray((money.at(report) * chance).sum(axis=1), dtype=np.float64)


def money_sd(money: MoneyBySeconds, mean_s: npt.ArrayLike, sd_s: npt.ArrayLike) -> FloatArray:
    """Standard deviation of the amount when the deciding lab's report is normal and not rounded.

    Returns
    -------
    ndarray
        Shape of ``mean_s`` and ``sd_s`` broadcast together. [money]

    Notes
    -----
    On a piece the amount about its own mean E is c + b t with t = (x - m)/s; its square is integrated with
    the moments of the truncated normal, int t phi = phi(low) - phi(high) and
    int t^2 phi = Phi(high) - Phi(low) + low phi(low) - high phi(high).
    """
    mean, sd, shape = _checked(mean_s, sd_s)
    out = np.zeros(mean.size)
    for part in _blocks(mean.size):
        m, s = mean[part], sd[part]
        width = np.where(s > 0.0, s, 1.0)
        centre = expected_money(money, m, s)
        low_p, low_d, low_zd = np.zeros(m.size), np.zeros(m.size), np.zeros(m.size)
        total = np.zeros(m.size)
        for i in range(money.intercept.size):
            if i < money.breaks_s.size:
                z = (money.breaks_s[i] - m) / width
                high_p, high_d = ndtr(z), _density(z)
                high_zd = z * high_d
            else:
                high_p, high_d, high_zd = np.ones(m.size), np.zeros(m.size), np.zeros(m.size)
            c = money.intercept[i] + money.slope_per_s[i] * m - centre
            b = money.slope_per_s[i] * s
            share = high_p - low_p
            total += c * c * share + 2.0 * c * b * (low_d - high_d) + b * b * (share + low_zd - high_zd)
            low_p, low_d, low_zd = high_p, high_d, high_zd
        out[part] = np.where(s > 0.0, np.sqrt(np.maximum(total, 0.0)), 0.0)
    return out.reshape(shape)
