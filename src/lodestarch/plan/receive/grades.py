"""What a bin can bring: prices by tonne against the limit that its mixed LN has to keep."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from lodestarch.common.money import MoneyBySeconds
from lodestarch.method.liquefaction import ln_from_fn

__all__ = ["FLOOR_S", "Grades", "grades_of"]

FLOOR_S = 62.0
"""Lowest falling number for which a price is asked. [s]  The usual floor of a reading, common practice."""

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Grades:
    """Prices that a bin fetches while its LN stays within bounds, the dearest first.

    Parameters
    ----------
    fn_from_s, fn_to_s : ndarray, shape (k,)
        Bounds of the falling number; infinity: none above. [s]
    ln_most, ln_least : ndarray, shape (k,)
        The same as LN: at most, at least. [1]
    price : ndarray, shape (k,)
        Paid at the worst number within the bounds. [unit]
    unit : str
    """

    fn_from_s: Array
    fn_to_s: Array
    ln_most: Array
    ln_least: Array
    price: Array
    unit: str

    @property
    def size(self) -> int:
        """How many there are."""
        return int(self.price.size)


def grades_of(price: MoneyBySeconds, slope_step_s: float = 5.0) -> Grades:
    """Cut a price by tonne into grades.

    Parameters
    ----------
    price : MoneyBySeconds
        By tonne.
    slope_step_s : float
        Width into which slopes are cut; each cut pays what its worst end brings, so that the plan never
        promises more than the schedule. [s]  Above 0.

    Returns
    -------
    Grades
        Neighbouring cuts of one price are one grade; a grade that pays no more than a wider one is left out.
    """
    cuts = [FLOOR_S]
    edges = [FLOOR_S, *[float(b) for b in price.breaks_s if b > FLOOR_S]]
    for low, high in zip(edges, [*edges[1:], edges[-1] + 200.0], strict=True):
        slope = price.slope_per_s[int(price.piece_of((low + high) / 2))]
        pieces = 1 if slope == 0 else max(1, int(np.ceil((high - low) / slope_step_s)))
        cuts += [low + (high - low) * (i + 1) / pieces for i in range(pieces)]
    lows = np.array(cuts[:-1])
    highs = np.array([*cuts[1:-1], np.inf])
    inside = 1e-9
    ends = np.minimum(
        price.at(lows + inside), price.at(np.where(np.isinf(highs), lows + 200.0, highs) - inside)
    )
    found: list[tuple[float, float, float]] = []
    for low, high, paid in zip(lows, highs, ends, strict=True):
        if found and found[-1][2] == paid:
            found[-1] = (found[-1][0], float(high), float(paid))
        else:
            found.append((float(low), float(high), float(paid)))
    kept = [g for g in found if not any(_covers(o, g) for o in found if o is not g)]
    kept.sort(key=lambda g: -g[2])
    # A floor keeps its promise for every number above it while nothing dearer or as dear stops it.
    opened = [(low, _open_to(high, paid, found), paid) for low, high, paid in kept]
    low_s, high_s, paid_by = (np.array(column) for column in zip(*opened, strict=True))
    return Grades(
        low_s, high_s, np.asarray(ln_from_fn(low_s)), np.asarray(ln_from_fn(high_s)), paid_by, price.unit
    )


def _covers(wider: tuple[float, float, float], one: tuple[float, float, float]) -> bool:
    return wider[0] <= one[0] and wider[1] >= one[1] and wider[2] >= one[2]


def _open_to(high: float, paid: float, found: list[tuple[float, float, float]]) -> float:
    """Where numbers above a grade begin to pay less than it."""
    end = high
    for lower, upper, price in found:
        if lower >= end and lower == end and price >= paid:
            end = upper
    return end
