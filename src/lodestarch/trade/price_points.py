"""What a picture of prices is drawn from: corners of a curve, and reports of like chance."""

from __future__ import annotations

from statistics import NormalDist
from typing import Final

import numpy as np

from lodestarch.common.money import MoneyBySeconds

__all__ = ["REPORTS", "corners", "like_reports"]

REPORTS: Final = 50
"""Dots of like chance in a picture: with 50, decisions came closest to the best (Fernandes et al., CHI 2018;
published)."""

_BESIDE_S: Final = 1e-6


def corners(money: MoneyBySeconds, low_s: float, high_s: float) -> tuple[list[float], list[float]]:
    """Return the corners of a curve between two numbers, both sides of every jump. [s], [money]

    Examples
    --------
    >>> step = MoneyBySeconds(
    ...     np.array([300.0]), np.array([175.0, 200.0]), np.zeros(2), np.array([True]), "USD/t"
    ... )
    >>> corners(step, 250.0, 350.0)
    ([250.0, 300.0, 300.0, 350.0], [175.0, 175.0, 200.0, 200.0])
    """
    inside = money.breaks_s[(money.breaks_s > low_s) & (money.breaks_s < high_s)]
    beside = np.sort(np.concatenate([inside - _BESIDE_S, inside + _BESIDE_S]))
    at = np.concatenate([[low_s], beside, [high_s]])
    drawn = np.concatenate([[low_s], np.repeat(inside, 2), [high_s]])
    return drawn.tolist(), money.at(at).tolist()


def like_reports(mean_s: float, sd_s: float, count: int = REPORTS) -> tuple[float, ...]:
    """Return reports that are equally likely: quantiles at the middles of ``count`` equal parts. [s]

    Examples
    --------
    >>> [round(x, 1) for x in like_reports(300.0, 10.0, 4)]
    [288.5, 296.8, 303.2, 311.5]
    """
    if sd_s <= 0.0:
        return (mean_s,) * count
    law = NormalDist(mean_s, sd_s)
    return tuple(law.inv_cdf((i + 0.5) / count) for i in range(count))
