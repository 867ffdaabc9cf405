"""Sampling a density by an ensemble of walkers.

The stretch move: a walker jumps along the line through another one, so stretched and tilted densities, as
come from data that cannot tell things apart, cost no more than round ones, and nothing is to be tuned.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from lodestarch.common.arrays import FloatArray
from lodestarch.common.errors import OutOfRange

__all__ = ["Walk", "autocorrelation_time", "walk"]


@dataclass(frozen=True, slots=True)
class Walk:
    """Where the walkers went.

    Parameters
    ----------
    samples : ndarray
        Steps by walkers by dimensions.
    log_density : ndarray
        Steps by walkers.
    accepted : float
        Share of moves taken. [1]
    evaluations : int
        Of the density.
    """

    samples: FloatArray
    log_density: FloatArray
    accepted: float
    evaluations: int


def walk(
    log_density: Callable[[FloatArray], FloatArray],
    start: FloatArray,
    steps: int,
    rng: np.random.Generator,
    *,
    stretch: float = 2.0,
) -> Walk:
    """Let an ensemble of walkers sample a density.

    Parameters
    ----------
    log_density : callable
        Takes rows of points, returns a logarithm a row; minus infinity where a point cannot be.
    start : ndarray
        Walkers by dimensions; an even number of walkers, at least twice the dimensions, no two alike.
    steps : int
        At least 1.
    rng : numpy Generator
        Source of chance.
    stretch : float
        Largest stretch of a move. 1.1 to 10.

    Raises
    ------
    OutOfRange
        When the walkers are too few, or the stretch out of range.

    Notes
    -----
    Goodman and Weare 2010 [1]_: z from g(z) ~ 1/sqrt(z) on [1/a, a], proposal x_j + z (x_k - x_j), taken
    with probability min(1, z^(d-1) p(new)/p(old)). One half of the walkers moves against the other, so a
    whole half is evaluated at once.

    References
    ----------
    .. [1] J. Goodman, J. Weare, Ensemble samplers with affine invariance, Commun. Appl. Math. Comput. Sci.
       5:65-80 (2010) (recalled).
    """
    walkers, dimensions = start.shape
    if walkers < 2 * dimensions or walkers % 2:
        raise OutOfRange("walkers", walkers, 2 * dimensions, 1e6, "1")
    if not 1.1 <= stretch <= 10.0:
        raise OutOfRange("stretch", stretch, 1.1, 10.0, "1")
    at = start.copy()
    now = log_density(at)
    half = walkers // 2
    samples, kept = np.empty((steps, walkers, dimensions)), np.empty((steps, walkers))
    taken = 0
    for step in range(steps):
        for first in (0, half):
            moving = slice(first, first + half)
            resting = at[half - first : walkers - first]
            z = ((stretch - 1.0) * rng.random(half) + 1.0) ** 2 / stretch
            partner = resting[rng.integers(0, half, half)]
            trial = partner + z[:, None] * (at[moving] - partner)
            there = log_density(trial)
            gain = (dimensions - 1.0) * np.log(z) + there - now[moving]
            take = np.log(rng.random(half)) < gain
            at[moving] = np.where(take[:, None], trial, at[moving])
            now[moving] = np.where(take, there, now[moving])
            taken += int(take.sum())
        samples[step], kept[step] = at, now
    return Walk(samples, kept, taken / (steps * walkers), walkers * (steps + 1))


def autocorrelation_time(samples: FloatArray) -> FloatArray:
    """Integrated autocorrelation time of each dimension, in steps.

    Parameters
    ----------
    samples : ndarray
        Steps by walkers by dimensions.

    Notes
    -----
    Autocorrelation averaged over walkers, summed up to the first lag that is five times the sum (Sokal's
    window). Below about 50 times this many steps it is underestimated.
    """
    steps, walkers, dimensions = samples.shape
    size = 1 << (2 * steps - 1).bit_length()
    times = np.empty(dimensions)
    for d in range(dimensions):
        x = samples[:, :, d] - samples[:, :, d].mean()
        power = np.abs(np.fft.rfft(x, n=size, axis=0)) ** 2
        c = np.fft.irfft(power.sum(axis=1), n=size)[:steps] / (walkers * np.arange(steps, 0, -1))
        if c[0] <= 0.0:
            times[d] = 1.0
            continue
        total = 2.0 * np.cumsum(c / c[0]) - 1.0
        inside = np.flatnonzero(np.arange(steps) >= 5.0 * total)
        times[d] = max(float(total[inside[0]] if inside.size else total[-1]), 1.0)
    return times
