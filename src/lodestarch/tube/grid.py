"""Steps in time of the kernels, and what they cost in accuracy."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from lodestarch.common.arrays import FloatArray

__all__ = ["FAST", "FINE", "Grid"]


@dataclass(frozen=True, slots=True)
class Grid:
    """Steps in time.

    Parameters
    ----------
    waiting_s, stirring_s : float
        Longest step before stirring and while stirring. [s]
    first_s : float
        First step after release. [s]
    each : int
        Steps taken before the step is doubled.
    longest_s : float
        Longest step after release. [s]
    settled_s : float
        From here on the tube stands at the bath's temperature, and the fall goes on at its speed. [s]
    """

    waiting_s: float
    stirring_s: float
    first_s: float
    each: int
    longest_s: float
    settled_s: float = 2000.0

    def row(self) -> FloatArray:
        """Return the row that the kernels read."""
        return np.array(
            [self.waiting_s, self.stirring_s, self.first_s, self.each, self.longest_s, self.settled_s],
            dtype=np.float64,
        )

    def halved(self) -> Grid:
        """Return the grid with every step halved: what is left of the error shows in the difference."""
        return replace(
            self, waiting_s=0.5 * self.waiting_s, stirring_s=0.5 * self.stirring_s,
            first_s=0.5 * self.first_s, longest_s=0.5 * self.longest_s, each=2 * self.each,
        )  # fmt: skip

    def rows_after_release(self) -> int:
        """Rows that a stored curve needs at most."""
        total, now, h = 2, 0.0, self.first_s
        while now <= self.settled_s:
            total += self.each
            now += self.each * h
            h = 2.0 * h if 2.0 * h <= self.longest_s else h
        return total


FAST: Final = Grid(2.5, 2.5, 1.0, 6, 16.0)
"""About 0.003 s off at worst over the working range; for ensembles."""
FINE: Final = Grid(1.0, 1.0, 0.5, 8, 8.0)
"""About 0.0006 s off at worst; for one tube."""
