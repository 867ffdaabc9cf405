"""Likelihood estimate of a sample's level from exact and censored readings, for odds and plans.

It stands beside the reported result and never replaces it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from scipy import optimize, stats

from lodestarch.common.nomenclature import legal_range
from lodestarch.method.reading import Kind, Seconds
from lodestarch.method.scatter import ScatterLaw

__all__ = ["Estimate", "estimate_level"]


@dataclass(frozen=True, slots=True)
class Estimate:
    """Level with its standard uncertainty; both ``None`` where every reading is censored."""

    level_s: float | None
    u_s: float | None
    readings: int
    censored: int


def _log_likelihood(level_s: float, readings: Sequence[Seconds], scatter: ScatterLaw) -> float:
    sd = max(scatter.sd_s(level_s), 1e-9)
    total = 0.0
    for reading in readings:
        z = (reading.value_s - level_s) / sd
        if reading.kind is Kind.EXACT:
            total += float(stats.norm.logpdf(z)) - math.log(sd)
        elif reading.kind is Kind.AT_OR_BELOW:
            total += float(stats.norm.logcdf(z))
        else:
            total += float(stats.norm.logsf(z))
    return total


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
    probability. The maximum is sought from 60 to 900 s; u from the curvature there.

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
    low, high = legal_range("seconds")

    def loss(level_s: float) -> float:
        return -_log_likelihood(level_s, readings, scatter)

    best = optimize.minimize_scalar(loss, bounds=(low, high), method="bounded", options={"xatol": 1e-6})
    level = float(best.x)
    step = 0.05 * max(scatter.sd_s(level), 1e-3)
    curvature = (loss(level + step) - 2.0 * loss(level) + loss(level - step)) / step**2
    u = 1.0 / math.sqrt(curvature) if curvature > 0 else None
    return Estimate(level, u, len(readings), censored)
