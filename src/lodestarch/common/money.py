"""Money as a function of seconds: straight pieces with jumps between them.

Made from a buyer's schedules by ``trade``; integrated over the odds by ``decide``; a plain value, so that
neither has to know the other.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

__all__ = ["MoneyBySeconds", "constant_money", "sum_of_money"]

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class MoneyBySeconds:
    """An amount of money for every number that the deciding lab may report.

    On piece ``i`` the amount at ``x`` seconds is ``intercept[i] + slope_per_s[i] * x``. Piece 0 runs down and
    the last piece runs up without end.

    Parameters
    ----------
    breaks_s : ndarray, shape (n - 1,)
        Where pieces meet, rising. [s]
    intercept : ndarray, shape (n,)
        [money]
    slope_per_s : ndarray, shape (n,)
        [money/s]
    upper_owns : ndarray of bool, shape (n - 1,)
        The value exactly on a break belongs to the piece above it.
    unit : str
        What the amounts are in: ``"USD"``, ``"USD/t"``.

    Raises
    ------
    ValueError
        Shapes that do not fit together, breaks that do not rise, values that are not finite.

    Examples
    --------
    Full price from 300 s up, 25 less from 275, 50 less beneath:

    >>> import numpy as np
    >>> price = MoneyBySeconds(
    ...     breaks_s=np.array([275.0, 300.0]),
    ...     intercept=np.array([150.0, 175.0, 200.0]),
    ...     slope_per_s=np.zeros(3),
    ...     upper_owns=np.array([True, True]),
    ...     unit="USD/t",
    ... )
    >>> price.at(np.array([260.0, 275.0, 299.9, 300.0]))
    array([150., 175., 175., 200.])
    """

    breaks_s: Array
    intercept: Array
    slope_per_s: Array
    upper_owns: npt.NDArray[np.bool_]
    unit: str

    def __post_init__(self) -> None:
        n = self.intercept.size
        if n < 1 or self.slope_per_s.shape != (n,) or self.intercept.shape != (n,):
            raise ValueError("intercept and slope_per_s need one value a piece")
        if self.breaks_s.shape != (n - 1,) or self.upper_owns.shape != (n - 1,):
            raise ValueError("breaks_s and upper_owns need one value between pieces")
        if np.any(np.diff(self.breaks_s) <= 0):
            raise ValueError("breaks_s must rise")
        if not all(np.all(np.isfinite(a)) for a in (self.breaks_s, self.intercept, self.slope_per_s)):
            raise ValueError("amounts and breaks must be finite")

    def piece_of(self, fn_s: npt.ArrayLike) -> npt.NDArray[np.intp]:
        """Return the piece in which each number lies."""
        x = np.asarray(fn_s, dtype=np.float64)
        above = np.searchsorted(self.breaks_s, x, side="left")
        if self.breaks_s.size == 0:
            return np.asarray(above, dtype=np.intp)
        at = np.minimum(above, self.breaks_s.size - 1)
        on_break_above = (self.breaks_s[at] == x) & self.upper_owns[at]
        return np.asarray(above + on_break_above, dtype=np.intp)

    def at(self, fn_s: npt.ArrayLike) -> Array:
        """Return the amount at each number, in the shape of the numbers. [unit]"""
        x = np.asarray(fn_s, dtype=np.float64)
        piece = self.piece_of(x)
        return np.asarray(self.intercept[piece] + self.slope_per_s[piece] * x, dtype=np.float64)

    def times(self, factor: float, unit: str | None = None) -> MoneyBySeconds:
        """Return the function with every amount multiplied, in another unit if given."""
        return MoneyBySeconds(
            self.breaks_s,
            self.intercept * factor,
            self.slope_per_s * factor,
            self.upper_owns,
            unit or self.unit,
        )

    def plus(self, amount: float) -> MoneyBySeconds:
        """Return the function with an amount added everywhere. [unit]"""
        return MoneyBySeconds(
            self.breaks_s, self.intercept + amount, self.slope_per_s, self.upper_owns, self.unit
        )


def constant_money(amount: float, unit: str) -> MoneyBySeconds:
    """Return the function that pays the same whatever the number.

    Examples
    --------
    >>> float(constant_money(210.0, "USD/t").at(62.0))
    210.0
    """
    none = np.zeros(0)
    return MoneyBySeconds(none, np.array([amount]), np.zeros(1), np.zeros(0, dtype=np.bool_), unit)


def sum_of_money(parts: Iterable[MoneyBySeconds]) -> MoneyBySeconds:
    """Return the sum of functions in one unit.

    Raises
    ------
    ValueError
        Nothing to add; other units; a break that two functions give to different sides (shift one of them by
        less than the rounding of the deciding lab).
    """
    functions = list(parts)
    if not functions or len({f.unit for f in functions}) != 1:
        raise ValueError("functions in one unit are needed")
    breaks = np.unique(np.concatenate([f.breaks_s for f in functions]))
    owns = np.zeros(breaks.size, dtype=np.bool_)
    stated = np.zeros(breaks.size, dtype=np.bool_)
    for f in functions:
        at = np.searchsorted(breaks, f.breaks_s)
        if np.any(stated[at] & (owns[at] != f.upper_owns)):
            raise ValueError("two functions give a common break to different sides")
        owns[at] = f.upper_owns
        stated[at] = True
    inside = _inside(breaks)
    pieces = [f.piece_of(inside) for f in functions]
    return MoneyBySeconds(
        breaks,
        np.sum([f.intercept[i] for f, i in zip(functions, pieces, strict=True)], axis=0),
        np.sum([f.slope_per_s[i] for f, i in zip(functions, pieces, strict=True)], axis=0),
        owns,
        functions[0].unit,
    )


def _inside(breaks_s: Array) -> Array:
    """A point in each piece."""
    if breaks_s.size == 0:
        return np.zeros(1)
    middle = (breaks_s[:-1] + breaks_s[1:]) / 2
    return np.concatenate([[breaks_s[0] - 1.0], middle, [breaks_s[-1] + 1.0]])
