"""A programme as it is built up: columns, rows, cones.

Columns are at least zero throughout: tonnes, shares, counts, yes or no. The sense is always to minimise.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
import numpy.typing as npt

__all__ = ["INF", "Cone", "Floats", "Programme", "Where"]

INF: Final = math.inf
Floats = npt.NDArray[np.float64]
Where = npt.NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class Cone:
    """One chance constraint: ``sum(linear * x) + z * sqrt(sum((spread * x)**2)) <= limit``.

    Parameters
    ----------
    columns, linear : ndarray
        The linear part.
    spread_columns, spread : ndarray
        Columns under the root with their coefficients, none negative.
    z : float
        At least 0: with less the constraint would not be convex.
    limit : float
    apart : int
        So many of the last columns under the root are there wherever anything is: their parts of the root are
        cut before anything is known.
    """

    columns: Where
    linear: Floats
    spread_columns: Where
    spread: Floats
    z: float
    limit: float
    apart: int = 0

    def spread_at(self, x: Floats) -> float:
        """Value of the root."""
        return float(np.linalg.norm(self.spread * x[self.spread_columns]))

    def excess(self, x: Floats) -> float:
        """How far the constraint is overstepped; 0 or less: it holds."""
        return float(self.linear @ x[self.columns]) + self.z * self.spread_at(x) - self.limit


@dataclass(slots=True)
class Programme:
    """Columns, rows and cones, as they are added."""

    cost: list[Floats] = field(default_factory=list)
    low: list[Floats] = field(default_factory=list)
    high: list[Floats] = field(default_factory=list)
    whole: list[npt.NDArray[np.bool_]] = field(default_factory=list)
    group: list[Where] = field(default_factory=list)
    pool: list[Where] = field(default_factory=list)
    rows: list[tuple[Where, Floats]] = field(default_factory=list)
    row_low: list[float] = field(default_factory=list)
    row_high: list[float] = field(default_factory=list)
    cones: list[Cone] = field(default_factory=list)
    constant: float = 0.0
    columns: int = 0

    def add_columns(
        self,
        count: int,
        *,
        cost: float | Floats = 0.0,
        low: float | Floats = 0.0,
        high: float | Floats = INF,
        whole: bool = False,
        pool: Where | None = None,
    ) -> Where:
        """Add columns and return their numbers.

        ``pool``: number of what each of them draws on, given for columns most of which will be zero: all
        columns of one pool are together no more than the largest of their ends. A large programme begins with
        few of those that are added together.
        """
        for store, value in ((self.cost, cost), (self.low, low), (self.high, high)):
            store.append(np.broadcast_to(np.asarray(value, dtype=np.float64), (count,)).copy())
        self.whole.append(np.full(count, whole))
        self.group.append(np.full(count, -1 if pool is None else len(self.group)))
        self.pool.append(np.full(count, -1) if pool is None else np.asarray(pool, dtype=np.intp))
        first = self.columns
        self.columns += count
        return np.arange(first, self.columns)

    def add_column(
        self, *, cost: float = 0.0, low: float = 0.0, high: float = INF, whole: bool = False
    ) -> int:
        """Add one column and return its number."""
        return int(self.add_columns(1, cost=cost, low=low, high=high, whole=whole)[0])

    def add_row(
        self,
        columns: Where | Sequence[int],
        values: Floats | Sequence[float],
        low: float = -INF,
        high: float = INF,
    ) -> int:
        """Add ``low <= sum(values * x[columns]) <= high`` and return the row's number."""
        self.rows.append((np.asarray(columns, dtype=np.intp), np.asarray(values, dtype=np.float64)))
        self.row_low.append(low)
        self.row_high.append(high)
        return len(self.rows) - 1

    def add_cone(self, cone: Cone) -> None:
        """Add a cone; one without spread, or with a single column under the root, becomes a row."""
        kept = cone.spread > 0.0
        if cone.z <= 0.0 or not kept.any():
            self.add_row(cone.columns, cone.linear, high=cone.limit)
        elif kept.sum() == 1:  # columns are at least zero, so that the root of one square is the column
            columns = np.concatenate([cone.columns, cone.spread_columns[kept]])
            self.add_row(columns, np.concatenate([cone.linear, cone.z * cone.spread[kept]]), high=cone.limit)
        else:
            apart = int(kept[kept.size - cone.apart :].sum())
            slim = Cone(
                cone.columns,
                cone.linear,
                cone.spread_columns[kept],
                cone.spread[kept],
                cone.z,
                cone.limit,
                apart,
            )
            self.cones.append(slim)
