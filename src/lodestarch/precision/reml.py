"""Restricted likelihood of nested variance components, by one sweep from the leaves to the root.

The idea: give every node the four numbers 1'V^-1 1, 1'V^-1 y, y'V^-1 y and log det V of the values under it.
Adding a component common to a node is a rank-one change of V, so that (Sherman and Morrison) each number
changes by a closed form; children add up. One sweep costs one pass over the data whatever the nesting, and
nothing has to be balanced. Derivatives ride along by the chain rule.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numba
import numpy as np

from lodestarch.common.arrays import FloatArray
from lodestarch.precision.nesting import Index, Nesting

__all__ = ["Flat", "RemlFit", "fit_reml", "flatten", "minimise_over", "reml_deviance"]

_H: Final = 1e-5
_STEPS: Final = 60


@numba.njit(cache=True)
def _sweep(
    parent: Index, offset: Index, size: Index, y: FloatArray, ratio: FloatArray
) -> tuple[float, float, float, float, FloatArray, FloatArray, FloatArray, FloatArray]:
    """Four sums at the root and their derivatives by each ratio, for centred y and a residual variance of 1.

    ``parent`` holds the parents of all levels end to end, outermost first, the values' own last; level i
    begins at ``offset[i]`` and has ``size[i]`` nodes.
    """
    k = ratio.size
    n = size[k - 1]
    a, b = np.zeros(n), np.zeros(n)
    da, db = np.zeros((k, n)), np.zeros((k, n))
    dc, dd = np.zeros(k), np.zeros(k)
    c, d = 0.0, 0.0
    for i in range(y.size):
        node = parent[offset[k] + i]
        a[node] += 1.0
        b[node] += y[i]
        c += y[i] * y[i]
    for level in range(k - 1, -1, -1):
        r = ratio[level]
        m = size[level - 1] if level > 0 else 1
        up_a, up_b = np.zeros(m), np.zeros(m)
        up_da, up_db = np.zeros((k, m)), np.zeros((k, m))
        for j in range(size[level]):
            node = parent[offset[level] + j]
            grow = 1.0 + r * a[j]
            square = b[j] * b[j]
            c -= r * square / grow
            d += math.log(grow)
            up_a[node] += a[j] / grow
            up_b[node] += b[j] / grow
            for i in range(level, k):
                dgrow = r * da[i, j]
                slope = 2.0 * r * b[j] * db[i, j] / grow
                if i == level:
                    dgrow += a[j]
                    slope += square / grow
                dc[i] -= slope - r * square * dgrow / (grow * grow)
                dd[i] += dgrow / grow
                up_da[i, node] += da[i, j] / grow - a[j] * dgrow / (grow * grow)
                up_db[i, node] += db[i, j] / grow - b[j] * dgrow / (grow * grow)
        a, b, da, db = up_a, up_b, up_da, up_db
    return a[0], b[0], c, d, da[:, 0].copy(), db[:, 0].copy(), dc, dd


@dataclass(frozen=True, slots=True)
class Flat:
    """A nesting laid end to end, with its values centred so that sums of squares lose no digits."""

    parent: Index
    offset: Index
    size: Index
    y: FloatArray

    def root(
        self, ratio: FloatArray
    ) -> tuple[float, float, float, float, FloatArray, FloatArray, FloatArray, FloatArray]:
        """Sums at the root for variances in units of the residual variance."""
        return _sweep(self.parent, self.offset, self.size, self.y, np.ascontiguousarray(ratio))


def flatten(nesting: Nesting) -> Flat:
    """Lay a nesting end to end."""
    lengths = [p.size for p in nesting.parent]
    offset = np.concatenate([[0], np.cumsum(lengths)]).astype(np.int64)
    return Flat(
        np.concatenate(nesting.parent).astype(np.int64),
        offset,
        np.array(nesting.sizes, dtype=np.int64),
        nesting.value - nesting.value.mean(),
    )


def reml_deviance(nesting: Nesting | Flat, variances: FloatArray) -> tuple[float, FloatArray]:
    """Minus twice the restricted log likelihood, constants included, and its gradient by each variance.

    Parameters
    ----------
    nesting : Nesting
    variances : ndarray
        One per factor, outermost first, then the residual one; none negative, the residual above 0.
    """
    flat = nesting if isinstance(nesting, Flat) else flatten(nesting)
    residual = float(variances[-1])
    ratio = np.asarray(variances[:-1], dtype=np.float64) / residual
    a, b, c, d, da, db, dc, dd = flat.root(ratio)
    n = flat.y.size
    square = (c - b**2 / a) / residual
    value = square + n * math.log(residual) + d + math.log(a / residual) + _constant(n)
    slope = (dc - 2.0 * b * db / a + b**2 * da / a**2) / residual
    by_ratio = slope + dd + da / a
    by_residual = (n - 1 - square - float(ratio @ by_ratio)) / residual
    return value, np.append(by_ratio / residual, by_residual)


def _constant(n: int) -> float:
    """Part of the deviance that no variance moves."""
    return (n - 1) * math.log(2.0 * math.pi)


@dataclass(frozen=True, slots=True)
class RemlFit:
    """Restricted maximum likelihood estimate.

    Parameters
    ----------
    variances : ndarray
        One per factor, outermost first, then the residual.
    mean, u_mean : float
        Generalised least-squares mean and its standard uncertainty.
    deviance : float
        Minus twice the restricted log likelihood at the estimate.
    """

    variances: FloatArray
    mean: float
    u_mean: float
    deviance: float


def fit_reml(nesting: Nesting) -> RemlFit:
    """Estimate nested variance components.

    Parameters
    ----------
    nesting : Nesting
        With at least one node that holds two values, and not all values equal.

    Returns
    -------
    RemlFit

    Notes
    -----
    Newton's steps in the logarithms of the variances, from three starts; a variance that runs to nothing is
    set to 0.
    """
    total = float(nesting.value.var(ddof=1))
    flat = flatten(nesting)
    k = len(nesting.names)
    best, value = np.full(k + 1, total / (k + 1)), math.inf
    for share in (0.5, 0.1, 0.9):
        start = np.append(np.full(k, total * share / k), total * (1.0 - share))
        found, deviance = minimise_over(flat, start, tuple(range(k + 1)))
        if deviance < value - 1e-9:
            best, value = found, deviance
    nothing = np.where(best < 1e-7 * best.sum(), 0.0, best)
    nothing[-1] = best[-1]
    if bool(np.any(nothing != best)):
        free = tuple(int(i) for i in np.flatnonzero(nothing > 0.0))
        best, value = minimise_over(flat, nothing, free)
    a, b, *_ = flat.root(best[:-1] / best[-1])
    mean = float(nesting.value.mean()) + b / a
    return RemlFit(best, mean, math.sqrt(float(best[-1]) / a), value)


def minimise_over(
    nesting: Nesting | Flat, start: FloatArray, free: tuple[int, ...], *, enough: float = 0.0
) -> tuple[FloatArray, float]:
    """Least deviance over some variances, the others held.

    Parameters
    ----------
    nesting : Nesting
    start : ndarray
        All variances; those in ``free`` above 0.
    free : tuple of int
        Indices that may move.
    enough : float
        Stop once a step lowers the deviance by less than this; 0 goes on until nothing moves.

    Returns
    -------
    variances : ndarray
    deviance : float

    Notes
    -----
    Levenberg's damping of Newton's steps in the logarithms; the Hessian by differences of the exact gradient.
    """
    flat = nesting if isinstance(nesting, Flat) else flatten(nesting)
    index = np.array(free, dtype=np.int64)
    variances = np.asarray(start, dtype=np.float64).copy()
    lowest = math.log(1e-12 * float(variances.sum()))

    def at(z: FloatArray) -> tuple[float, FloatArray]:
        trial = variances.copy()
        trial[index] = np.exp(z)
        value, gradient = reml_deviance(flat, trial)
        return value, gradient[index] * trial[index]

    z = np.log(variances[index])
    value, gradient = at(z)
    damping = 1e-3
    for _ in range(_STEPS):
        hessian = np.stack([(at(z + e)[1] - at(z - e)[1]) / (2.0 * _H) for e in np.eye(index.size) * _H])
        hessian = 0.5 * (hessian + hessian.T)
        least = float(np.linalg.eigvalsh(hessian)[0])
        while True:
            shift = max(0.0, 1e-6 - least) + damping
            step = np.clip(-np.linalg.solve(hessian + shift * np.eye(index.size), gradient), -2.0, 2.0)
            new = np.maximum(z + step, lowest)
            new_value, new_gradient = at(new)
            if new_value <= value + 1e-11 * abs(value):
                damping = max(0.1 * damping, 1e-9)
                break
            damping *= 10.0
            if damping > 1e6:
                return variances, value
        moved = float(np.abs(new - z).max())
        gained = value - new_value
        z, value, gradient = new, new_value, new_gradient
        variances[index] = np.exp(z)
        if moved < 1e-8 or gained < enough:
            break
    return variances, value
