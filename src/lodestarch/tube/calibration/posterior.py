"""A Bayesian posterior of what a fit moves."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from lodestarch.common.arrays import FloatArray
from lodestarch.common.errors import OutOfRange
from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.tube.calibration.problem import Problem
from lodestarch.tube.calibration.sampler import autocorrelation_time, walk
from lodestarch.tube.standing import Limit
from lodestarch.tube.trust import limits_of

__all__ = ["PRIOR_U_LOG", "Margin", "Posterior", "posterior"]

PRIOR_U_LOG = 0.7
"""Prior standard deviation of every logarithm: a factor of two either way. Assumed; wide against the ranges
that the shipped sets span."""

_REACH = 5.0


@dataclass(frozen=True, slots=True)
class Margin:
    """Posterior of one quantity.

    Parameters
    ----------
    name : str
        Key of a constant, or ``lot NAME`` for its enzyme.
    median, low, high : float
        Median and the ends of the central 95 %, in the unit of the constant.
    told : float
        1 - (posterior over prior standard deviation) of the logarithm: near 0 the data said nothing. [1]
    """

    name: str
    median: float
    low: float
    high: float
    told: float


@dataclass(frozen=True, slots=True)
class Posterior:
    """Draws and what they say.

    Parameters
    ----------
    margins : tuple of Margin
        What moves, one by one.
    correlation : ndarray
        Of the logarithms.
    draws : ndarray
        Logarithms, a row a draw, thinned to near independence.
    effective : float
        Independent draws that the walk is worth, by the slowest dimension.
    ratio : float
        Spread between the halves of two walks over that within them, plus 1: near 1 they agree.
    accepted : float
        Share of moves taken. [1]
    evaluations : int
        Of the likelihood.
    findings, limits
        ``tube-walk-short`` (check) where the walks disagree or are worth fewer than 200 draws.
    """

    margins: tuple[Margin, ...]
    correlation: FloatArray
    draws: FloatArray
    effective: float
    ratio: float
    accepted: float
    evaluations: int
    findings: tuple[Finding, ...]
    limits: tuple[Limit, ...]


def posterior(
    problem: Problem,
    rng: np.random.Generator,
    *,
    centre: FloatArray | None = None,
    prior_u: Mapping[str, float] | None = None,
    walkers: int = 40,
    steps: int = 1500,
) -> Posterior:
    """Sample the posterior of a problem.

    Parameters
    ----------
    problem : Problem
        What moves, and what it is compared with; residuals are taken as independent and normal.
    rng : numpy Generator
        Source of chance.
    centre : ndarray or None
        Logarithms to start around, such as ``Fit.theta``; ``None`` takes the problem's own start. The prior
        is centred on the problem's start in any case.
    prior_u : mapping of str to float or None
        Prior standard deviations of logarithms by name, where other than ``PRIOR_U_LOG``.
    walkers, steps : int
        Size of each of the two walks; the first third is left out. At least 30 steps.

    Notes
    -----
    Normal priors on logarithms. Uncertainties of observations are as stated: where the model itself misses by
    more, widen them, or the posterior is too sure of itself (compare ``Fit.scale``).
    """
    if steps < 30:
        raise OutOfRange("steps", steps, 30, 1e7, "1")
    middle = problem.start()
    spread = np.array([(prior_u or {}).get(name, PRIOR_U_LOG) for name in problem.names])
    if not (spread > 0.0).all():
        raise OutOfRange("prior_u", float(spread.min()), 0.0, math.inf, "1")

    def log_density(thetas: FloatArray) -> FloatArray:
        away = (thetas - middle) / spread
        result = np.full(thetas.shape[0], -np.inf)
        inside = np.abs(thetas - middle).max(axis=1) < _REACH
        if inside.any():
            result[inside] = -0.5 * (problem.residuals(thetas[inside]) ** 2).sum(axis=1)
            result[inside] -= 0.5 * (away[inside] ** 2).sum(axis=1)
        return result

    around = middle if centre is None else centre
    walks = [
        walk(log_density, around + 0.1 * spread * rng.standard_normal((walkers, middle.size)), steps, rng)
        for _ in range(2)
    ]
    settled = [w.samples[steps // 3 :] for w in walks]
    times = np.max([autocorrelation_time(s) for s in settled], axis=0)
    whole = np.concatenate([s.reshape(-1, middle.size) for s in settled])
    effective = whole.shape[0] / float(times.max())
    ratio = _ratio(settled)
    thin = max(1, math.ceil(times.max()))
    draws = np.concatenate([s[::thin].reshape(-1, middle.size) for s in settled])
    found: tuple[Finding, ...] = ()
    if effective < 200.0 or ratio > 1.05:
        values = {"effective": effective, "ratio": ratio}
        found = (Finding("tube-walk-short", Where(field="fit"), Severity.CHECK, values),)
    margins = tuple(_margin(name, whole[:, i], float(spread[i])) for i, name in enumerate(problem.names))
    return Posterior(
        margins, np.atleast_2d(np.corrcoef(whole.T)), draws, effective, ratio,
        float(np.mean([w.accepted for w in walks])), sum(w.evaluations for w in walks), found,
        limits_of(None, problem.params),
    )  # fmt: skip


def _margin(name: str, logs: FloatArray, prior_u: float) -> Margin:
    median, low, high = (float(x) for x in np.exp(np.quantile(logs, (0.5, 0.025, 0.975))))
    return Margin(name, median, low, high, 1.0 - float(logs.std()) / prior_u)


def _ratio(settled: list[FloatArray]) -> float:
    """Largest over dimensions of sqrt(1 + between/within), over the halves of each walk."""
    halves = [part.reshape(-1, s.shape[2]) for s in settled for part in np.array_split(s, 2)]
    between = np.var([h.mean(axis=0) for h in halves], axis=0, ddof=1)
    within = np.mean([h.var(axis=0) for h in halves], axis=0)
    return float(np.sqrt(1.0 + between / np.maximum(within, 1e-300)).max())
