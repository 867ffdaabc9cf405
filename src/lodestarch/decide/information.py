"""Worth of information: what knowing more before choosing an outlet brings.

The idea: a test moves the predicted report at every outlet along one standard normal axis z, each by its own
gain. The best outlet is chosen at every z, so the worth is one integral of a maximum of closed forms, less
the maximum today. No simulation.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from lodestarch.common.arrays import FloatArray, as_array
from lodestarch.common.errors import NoAnswer, OutOfRange
from lodestarch.common.money import MoneyBySeconds
from lodestarch.decide.expected_money import expected_money

__all__ = ["Information", "worth_of_information"]

_SPAN: Final = 8.0
"""Standard deviations either side that are integrated; 1 - Phi(8) is 6e-16."""

_COARSEST: Final = 0.125
_FINEST: Final = 1.0 / 256.0
"""Steps of the integral, in standard deviations of what the test shows. A jump that the deciding lab blurs by
less than 1/200 of them is blurred by 1/200. Choices of ours."""

_CELLS: Final = 200_000
"""Points of the integral held at once."""


@dataclass(frozen=True, slots=True)
class Information:
    """Worth of one test for each load.

    Parameters
    ----------
    now : ndarray
        Expected money at the best outlet as things stand. [money]
    now_outlet : ndarray of int
        Which one that is.
    after : ndarray
        Expected money when the test is made before choosing, its cost left aside. [money]
    changes : ndarray
        Chance that the test changes the outlet. [1]
    """

    now: FloatArray
    now_outlet: npt.NDArray[np.intp]
    after: FloatArray
    changes: FloatArray

    @property
    def worth(self) -> FloatArray:
        """Gain of knowing first; never negative. [money]"""
        return np.asarray(np.maximum(self.after - self.now, 0.0), dtype=np.float64)


def worth_of_information(
    moneys: Sequence[MoneyBySeconds], mean_s: npt.ArrayLike, sd_s: npt.ArrayLike, gain_s: npt.ArrayLike
) -> Information:
    """Expected worth of a test before an outlet is chosen.

    Parameters
    ----------
    moneys : sequence of MoneyBySeconds
        What each outlet pays for the deciding lab's report, haul taken off. One at least.
    mean_s, sd_s : array_like, shape (outlets,) or (loads, outlets)
        Predicted report at each outlet today. [s]
    gain_s : array_like, same shape
        How far the predicted report moves when the test comes out one standard deviation high: covariance of
        report and test over the test's predictive sd (``gain``). [s]  Not above ``sd_s`` in size.

    Returns
    -------
    Information
        One value a load.

    Raises
    ------
    NoAnswer
        ``outlets-none`` without an outlet.
    OutOfRange
        A gain larger than its standard deviation.

    Notes
    -----
    after = integral of phi(z) max_a E[money_a | N(m_a + g_a z, s_a^2 - g_a^2)] dz, by the trapezoid rule in
    steps of at most an eighth, which is exact to rounding for smooth functions. Where the best outlet changes
    between two points the corner is corrected for by Euler and Maclaurin's next term, B_2(c) times half the
    step squared and the change of slope: h (d_0 d_1/(2 (d_0 - d_1)) + (d_0 - d_1)/12), d the difference of
    the two outlets times phi at either end.

    References
    ----------
    .. [1] H. Raiffa, R. Schlaifer, Applied Statistical Decision Theory, 1961: expected value of sample
       information, preposterior analysis (recalled).

    Examples
    --------
    250 a load more from 300 s up, or sold for 100 less without a test that counts:

    >>> import numpy as np
    >>> from lodestarch.common.money import constant_money
    >>> step = MoneyBySeconds(
    ...     np.array([300.0]), np.array([-250.0, 0.0]), np.zeros(2), np.array([True]), "USD"
    ... )
    >>> elsewhere = constant_money(-100.0, "USD")
    >>> got = worth_of_information([step, elsewhere], [299.0, 299.0], [9.0, 9.0], [6.0, 0.0])
    >>> print(f"{got.now[0]:.1f} {got.worth[0]:.1f}")
    -100.0 14.3
    """
    if not moneys:
        raise NoAnswer("outlets-none")
    columns = np.broadcast_arrays(as_array(mean_s), as_array(sd_s), as_array(gain_s), np.empty(len(moneys)))
    mean, sd, gain = (np.atleast_2d(a) for a in columns[:3])
    over = np.abs(gain) > sd * (1.0 + 1e-9)
    if over.any():
        raise OutOfRange("gain_s", float(gain[over][0]), 0.0, float(sd[over][0]), "s")
    today = np.stack([expected_money(money, mean[:, a], sd[:, a]) for a, money in enumerate(moneys)], axis=1)
    best = today.argmax(axis=1)
    now = today[np.arange(best.size), best]
    after, changes = now.copy(), np.zeros(best.size)
    left = np.sqrt(np.maximum(sd**2 - gain**2, 0.0))
    step = _steps(moneys, gain, left)
    for h in np.unique(step[step > 0.0]):
        rows = np.flatnonzero(step == h)
        block = max(1, int(_CELLS * h / (2.0 * _SPAN)))
        for at in range(0, rows.size, block):
            some = rows[at : at + block]
            after[some], changes[some] = _integral(
                moneys, mean[some], left[some], gain[some], best[some], float(h)
            )
    return Information(now, best, after, changes)


def _steps(moneys: Sequence[MoneyBySeconds], gain: FloatArray, left: FloatArray) -> FloatArray:
    """Step for each load, a power of two; 0 where the test moves nothing or nothing depends on it."""
    moving = np.array([money.breaks_s.size > 0 for money in moneys])
    size = np.abs(gain)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        blur = np.where((size > 0.0) & moving, left / size, np.inf).min(axis=1)
    fine = np.clip(blur / 1.2, _FINEST, _COARSEST)
    power = np.exp2(np.floor(np.log2(fine)))
    return np.where((size > 0.0).any(axis=1), power, 0.0)


def _integral(
    moneys: Sequence[MoneyBySeconds], mean: FloatArray, left: FloatArray, gain: FloatArray,
    best: npt.NDArray[np.intp], h: float,
) -> tuple[FloatArray, FloatArray]:  # fmt: skip
    z = np.arange(-_SPAN, _SPAN + 0.5 * h, h)
    weight = np.exp(-0.5 * z * z)
    weight /= weight.sum()
    least = np.abs(gain) / 200.0
    paid = np.stack(
        [
            expected_money(
                money, mean[:, a, None] + gain[:, a, None] * z, np.maximum(left, least)[:, a, None]
            )
            for a, money in enumerate(moneys)
        ]
    )
    chosen = paid.argmax(axis=0)
    top = paid.max(axis=0)
    first, second = chosen[:, :-1], chosen[:, 1:]
    row, col = np.nonzero(first != second)
    a, b = first[row, col], second[row, col]
    # Differences times density at both ends: positive where a is best, negative where b is.
    d0 = (paid[a, row, col] - paid[b, row, col]) * weight[col]
    d1 = (paid[a, row, col + 1] - paid[b, row, col + 1]) * weight[col + 1]
    turn = d0 - d1
    corner = 0.5 * d0 * d1 / np.where(turn > 0.0, turn, 1.0) + turn / 12.0
    after = top @ weight
    np.add.at(after, row, corner)
    return after, (chosen != best[:, None]) @ weight
