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

import numpy as np

from lodestarch.common.arrays import FloatArray
from lodestarch.precision.nesting import Index, Nesting

__all__ = ["RemlFit", "fit_reml", "minimise_over", "reml_deviance"]

_H: Final = 1e-5
_STEPS: Final = 60


@dataclass(frozen=True, slots=True)
class _Root:
    """The four sums at the root, with their derivatives by each variance ratio."""

    a: float
    b: float
    c: float
    d: float
    da: FloatArray
    db: FloatArray
    dc: FloatArray
    dd: FloatArray


def _gather(parent: Index, x: FloatArray, size: int) -> FloatArray:
    """Sum children into their parents."""
    return np.asarray(np.bincount(parent, weights=x, minlength=size), dtype=np.float64)


def _sweep(nesting: Nesting, y: FloatArray, ratio: FloatArray) -> _Root:
    """Sums at the root for variances in units of the residual variance; y is centred."""
    k = len(nesting.names)
    leaf, size = nesting.parent[-1], nesting.sizes[-1]
    a: FloatArray = np.bincount(leaf, minlength=size).astype(np.float64)
    b = _gather(leaf, y, size)
    c, d = float(y @ y), 0.0
    da, db = np.zeros((k, size)), np.zeros((k, size))
    dc, dd = np.zeros(k), np.zeros(k)
    for level in range(k - 1, -1, -1):
        r = float(ratio[level])
        grow = 1.0 + r * a
        dgrow = r * da
        dgrow[level] += a
        square = b * b
        c -= float((r * square / grow).sum())
        d += float(np.log(grow).sum())
        slope = 2.0 * r * b * db / grow - r * square * dgrow / grow**2
        slope[level] += square / grow
        dc -= slope.sum(axis=1)
        dd += (dgrow / grow).sum(axis=1)
        da, db = da / grow - a * dgrow / grow**2, db / grow - b * dgrow / grow**2
        a, b = a / grow, b / grow
        up = nesting.parent[level]
        size = 1 if level == 0 else nesting.sizes[level - 1]
        a, b = _gather(up, a, size), _gather(up, b, size)
        da = np.stack([_gather(up, x, size) for x in da])
        db = np.stack([_gather(up, x, size) for x in db])
    return _Root(float(a[0]), float(b[0]), c, d, da[:, 0], db[:, 0], dc, dd)


def reml_deviance(nesting: Nesting, variances: FloatArray) -> tuple[float, FloatArray]:
    """Minus twice the restricted log likelihood, constants included, and its gradient by each variance.

    Parameters
    ----------
    nesting : Nesting
    variances : ndarray
        One per factor, outermost first, then the residual one; none negative, the residual above 0.
    """
    y = nesting.value - nesting.value.mean()
    residual = float(variances[-1])
    ratio = np.asarray(variances[:-1], dtype=np.float64) / residual
    root = _sweep(nesting, y, ratio)
    n = y.size
    square = (root.c - root.b**2 / root.a) / residual
    value = square + n * math.log(residual) + root.d + math.log(root.a / residual) + _constant(n)
    slope = (root.dc - 2.0 * root.b * root.db / root.a + root.b**2 * root.da / root.a**2) / residual
    by_ratio = slope + root.dd + root.da / root.a
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
    k = len(nesting.names)
    best, value = np.full(k + 1, total / (k + 1)), math.inf
    for share in (0.5, 0.1, 0.9):
        start = np.append(np.full(k, total * share / k), total * (1.0 - share))
        found, deviance = minimise_over(nesting, start, tuple(range(k + 1)))
        if deviance < value - 1e-9:
            best, value = found, deviance
    nothing = np.where(best < 1e-7 * best.sum(), 0.0, best)
    nothing[-1] = best[-1]
    if bool(np.any(nothing != best)):
        free = tuple(int(i) for i in np.flatnonzero(nothing > 0.0))
        best, value = minimise_over(nesting, nothing, free)
    y = nesting.value - nesting.value.mean()
    root = _sweep(nesting, y, best[:-1] / best[-1])
    mean = float(nesting.value.mean()) + root.b / root.a
    return RemlFit(best, mean, math.sqrt(float(best[-1]) / root.a), value)


def minimise_over(
    nesting: Nesting, start: FloatArray, free: tuple[int, ...], *, enough: float = 0.0
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
    index = np.array(free, dtype=np.int64)
    variances = np.asarray(start, dtype=np.float64).copy()
    lowest = math.log(1e-12 * float(variances.sum()))

    def at(z: FloatArray) -> tuple[float, FloatArray]:
        trial = variances.copy()
        trial[index] = np.exp(z)
        value, gradient = reml_deviance(nesting, trial)
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
