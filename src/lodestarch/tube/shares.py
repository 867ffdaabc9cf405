"""Shares of variance: first-order and total Sobol indices of a bench's stray inputs.

The estimator is general (any function of independent numbers between 0 and 1); the tube is one such.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from lodestarch.common.arrays import FloatArray
from lodestarch.common.errors import OutOfRange
from lodestarch.tube.bench import Bench
from lodestarch.tube.curves import activity_for
from lodestarch.tube.ensemble import seconds
from lodestarch.tube.inputs import TubeArrays, TubeInputs
from lodestarch.tube.parameters import ParameterSet
from lodestarch.tube.standing import Limit
from lodestarch.tube.trust import limits_of, with_limits

__all__ = ["BenchShares", "Shares", "bench_shares", "sobol_shares"]


@dataclass(frozen=True, slots=True)
class Shares:
    """Sobol indices.

    Parameters
    ----------
    first, total : ndarray
        First-order and total index of each number. [1]
    first_u, total_u : ndarray
        Their standard uncertainties, by bootstrap over the base points. [1]
    mean, variance : float
        Of the function.
    evaluations : int
        Of the function: N (d + 2).
    """

    first: FloatArray
    first_u: FloatArray
    total: FloatArray
    total_u: FloatArray
    mean: float
    variance: float
    evaluations: int


def sobol_shares(
    function: Callable[[FloatArray], FloatArray],
    dimensions: int,
    points: int,
    rng: np.random.Generator,
    *,
    resamples: int = 200,
) -> Shares:
    """Estimate the Sobol indices of a function of independent numbers between 0 and 1.

    Parameters
    ----------
    function : callable
        Takes rows of numbers between 0 and 1, returns a value a row.
    dimensions : int
        Numbers in a row. 1 to 50.
    points : int
        Base points N, rounded up to a power of two. 16 to 2²⁰.
    rng : numpy Generator
        Scrambles the points and draws the bootstrap.
    resamples : int
        Bootstrap samples.

    Notes
    -----
    With f_A, f_B and f_ABi (A with column i of B) on scrambled Sobol' points: S_i = mean f_B (f_ABi - f_A)/V
    (Saltelli and others 2010, [1]_), T_i = mean (f_A - f_ABi)²/(2V) (Jansen 1999, [2]_). f is centred first,
    which leaves S_i unbiased and makes it steadier.

    References
    ----------
    .. [1] A. Saltelli and others, Variance based sensitivity analysis of model output, Comput. Phys. Commun.
       181:259-270 (2010), Table 2 (recalled).
    .. [2] M. J. W. Jansen, Analysis of variance designs for model output, Comput. Phys. Commun. 117:35-43
       (1999) (recalled).
    """
    from scipy.stats import qmc  # noqa: PLC0415  # SciPy only where shares are computed

    if not 1 <= dimensions <= 50:
        raise OutOfRange("dimensions", dimensions, 1, 50, "1")
    if not 16 <= points <= 2**20:
        raise OutOfRange("points", points, 16, 2**20, "1")
    power = int(np.ceil(np.log2(points)))
    n = 2**power
    both = qmc.Sobol(2 * dimensions, scramble=True, rng=rng).random_base2(power)
    a, b = both[:, :dimensions], both[:, dimensions:]
    fa, fb = function(a), function(b)
    fab = np.empty((dimensions, n))
    for i in range(dimensions):
        mixed = a.copy()
        mixed[:, i] = b[:, i]
        fab[i] = function(mixed)
    mean = float(np.mean(np.concatenate((fa, fb))))
    fa, fb, fab = fa - mean, fb - mean, fab - mean

    def indices(rows: FloatArray | slice) -> tuple[FloatArray, FloatArray, float]:
        fa_, fb_, fab_ = fa[rows], fb[rows], fab[:, rows]
        variance = float(np.var(np.concatenate((fa_, fb_))))
        if variance == 0.0:
            return np.zeros(dimensions), np.zeros(dimensions), 0.0
        first = np.mean(fb_ * (fab_ - fa_), axis=1) / variance
        total = 0.5 * np.mean((fa_ - fab_) ** 2, axis=1) / variance
        return first, total, variance

    first, total, variance = indices(slice(None))
    again = [indices(rng.integers(0, n, n))[:2] for _ in range(resamples)]
    spread = np.std(np.array(again), axis=0, ddof=1)
    return Shares(first, spread[0], total, spread[1], mean, variance, n * (dimensions + 2))


@dataclass(frozen=True, slots=True)
class BenchShares:
    """Which stray input makes how much of the scatter of a reading, by the model.

    Parameters
    ----------
    reading_s : float
        The reading without any straying. [s]
    keys : tuple of str
        Inputs that stray.
    shares : Shares
        In the order of ``keys``; mean [s] and variance [s²] are those of the reading.
    """

    reading_s: float
    keys: tuple[str, ...]
    shares: Shares
    limits: tuple[Limit, ...]


def bench_shares(
    reading_s: float,
    inputs: TubeInputs,
    params: ParameterSet,
    bench: Bench,
    rng: np.random.Generator,
    *,
    points: int = 2048,
) -> BenchShares:
    """Shares of a reading's variance by stray input, for a stated bench.

    Raises
    ------
    NoAnswer
        Where the set cannot read that much or that little.

    Notes
    -----
    Inputs are independent. The model's own part is not in it: neither its constants nor what it leaves out.
    """
    tube = inputs.with_activity(activity_for(reading_s, inputs, params))
    base = TubeArrays.like(tube, params)
    keys = tuple(bench.spreads)

    def reads(uniform: FloatArray) -> FloatArray:
        drawn = {
            key: bench.spreads[key].draw(float(getattr(base, key)), uniform[:, j])
            for j, key in enumerate(keys)
        }
        return seconds(TubeArrays.like(tube, params, **drawn), params)

    shares = sobol_shares(reads, len(keys), points, rng)
    return BenchShares(reading_s, keys, shares, with_limits(limits_of(inputs, params), Limit.NO_MEASUREMENT))
