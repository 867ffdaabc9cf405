"""Likelihood estimate of a sample's level from exact and censored readings, for odds and plans.

It stands beside the reported result and never replaces it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy import optimize, special

from lodestarch.common.arrays import FloatArray
from lodestarch.common.nomenclature import legal_range
from lodestarch.method.reading import Kind, Seconds
from lodestarch.method.scatter import ScatterLaw

__all__ = ["Estimate", "estimate_level"]


@dataclass(frozen=True, slots=True)
class Estimate:
    """Level with its standard uncertainty; both ``None`` where every reading is censored.

    ``u_s`` alone is ``None`` where the maximum lies at an end of the range looked at.
    """

    level_s: float | None
    u_s: float | None
    readings: int
    censored: int


_GRID: Final = np.linspace(*legal_range("seconds"), 200)
"""Levels at which the likelihood is first looked at [s]; those near the readings come on top."""


def _log_likelihood(
    level_s: FloatArray, values: FloatArray, kinds: npt.NDArray[np.int8], scatter: ScatterLaw
) -> FloatArray:
    """Log-likelihood of each level, all readings taken together."""
    sd = np.maximum(scatter.sd_s(level_s), 1e-9)
    z = (values[:, None] - level_s) / sd
    kind = kinds[:, None]
    terms = np.where(
        kind == Kind.EXACT,
        -0.5 * (z * z + np.log(2.0 * np.pi)) - np.log(sd),
        special.log_ndtr(np.where(kind == Kind.AT_OR_BELOW, z, -z)),
    )
    return np.asarray(terms.sum(axis=0))


def estimate_level(readings: Sequence[Seconds], scatter: ScatterLaw) -> Estimate:
    """Estimate the level that exact and censored readings of one sample point to.

    Parameters
    ----------
    readings : sequence of Seconds
        Readings that count. [s]  Legal 60 to 900 each.
    scatter : ScatterLaw
        Law of one tube's SD.

    Returns
    -------
    Estimate
        No level where no reading is exact: the likelihood then has no inner maximum.

    Notes
    -----
    Normal errors whose SD follows the law at the level looked for; censored readings enter by their
    probability. The maximum is sought from 60 to 900 s, first on a grid, because a law that rises steeply
    with the level gives the likelihood a long flat flank; u from the curvature there, not evaluated where
    the maximum lies at an end.

    Examples
    --------
    >>> from lodestarch.method.scatter import DEFAULT_SCATTER
    >>> e = estimate_level([Seconds(290.0, Kind.EXACT), Seconds(296.0, Kind.EXACT)], DEFAULT_SCATTER)
    >>> round(e.level_s, 1), round(e.u_s, 1)
    (292.9, 4.1)
    """
    censored = sum(r.kind is not Kind.EXACT for r in readings)
    if censored == len(readings):
        return Estimate(None, None, len(readings), censored)
    low, high = float(_GRID[0]), float(_GRID[-1])
    values = np.array([r.value_s for r in readings], dtype=np.float64)
    kinds = np.array([r.kind for r in readings], dtype=np.int8)
    margin = 4.0 * float(np.max(scatter.sd_s(values)))
    near = np.linspace(values.min() - margin, values.max() + margin, 200)
    levels = np.unique(np.clip(np.concatenate((_GRID, near, values)), low, high))
    best = int(np.argmax(_log_likelihood(levels, values, kinds, scatter)))
    bracket = (float(levels[max(best - 1, 0)]), float(levels[min(best + 1, levels.size - 1)]))

    def loss(level_s: float) -> float:
        return -float(_log_likelihood(np.array([level_s]), values, kinds, scatter)[0])

    found = optimize.minimize_scalar(loss, bounds=bracket, method="bounded", options={"xatol": 1e-6})
    level = float(found.x)
    if not low + 1e-3 < level < high - 1e-3:
        return Estimate(level, None, len(readings), censored)
    step = min(0.05 * max(scatter.sd_s(level), 1e-3), level - low, high - level)
    curvature = (loss(level + step) - 2.0 * loss(level) + loss(level - step)) / step**2
    u = 1.0 / math.sqrt(curvature) if curvature > 0 else None
    return Estimate(level, u, len(readings), censored)
