"""Restricted maximum likelihood of crossed effects, by average information.

Minus twice the restricted log likelihood, constants included, with one mean:
(n - 1) log(2 pi s) + log|C| + sum q_k log g_k + y'Py / s, where s is the residual variance, g_k = s_k/s.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np

from lodestarch.common.arrays import FloatArray
from lodestarch.season.equations import Equations, Solved

__all__ = ["Path", "RemlAt", "evaluate", "fit_variances", "free_path", "minimise"]

_LEAST: Final = 1e-9
"""Least ratio of a variance to the residual one that is told from nothing."""
_STEPS: Final = 80


@dataclass(frozen=True, slots=True)
class RemlAt:
    """Restricted likelihood at given variances.

    Parameters
    ----------
    variances : ndarray
        One a factor, then the residual one.
    deviance : float
        Minus twice the restricted log likelihood.
    gradient : ndarray
        Of the deviance by each variance.
    curvature : ndarray
        Average information: of the deviance, about twice that of the log likelihood.
    solved : Solved
    """

    variances: FloatArray
    deviance: float
    gradient: FloatArray
    curvature: FloatArray
    solved: Solved


def evaluate(eq: Equations, variances: FloatArray) -> RemlAt:
    """Restricted likelihood with its gradient and average information.

    Parameters
    ----------
    eq : Equations
    variances : ndarray
        One a factor, then the residual one; all above 0.

    References
    ----------
    .. [1] A. R. Gilmour, R. Thompson, B. R. Cullis, Average information REML, Biometrics 51 (1995) 1440
       (recalled; the formulas are checked against differences in the tests).
    """
    s = float(variances[-1])
    ratio = variances[:-1] / s
    at = eq.solve(ratio)
    n, k = eq.weight, len(eq.sizes)
    sizes = np.array(eq.sizes, dtype=np.float64)
    deviance = (
        (n - 1.0) * math.log(2.0 * math.pi * s) + at.log_det + float(sizes @ np.log(ratio)) + at.square / s
    )
    effects = [eq.split(i, at.rest, at.large) for i in range(k)]
    squares = np.array([float(u @ u) for u in effects])
    by_factor = (sizes - at.traces / ratio - squares / (s * ratio)) / (ratio * s)
    by_residual = (n - 1.0 - at.square / s - float(variances[:-1] @ by_factor)) / s
    gradient = np.append(by_factor, by_residual)
    return RemlAt(variances, deviance, gradient, _information(eq, at, variances, effects), at)


def _information(eq: Equations, at: Solved, variances: FloatArray, effects: list[FloatArray]) -> FloatArray:
    """f_i' P f_j, with f_k = Z_k u_k / s_k and f_e = residuals / s."""
    k, s = len(effects), float(variances[-1])
    rest = np.zeros((eq.rest.shape[0], k))
    large = np.zeros((eq.count.size, k))
    for i, u in enumerate(effects):
        if i == eq.large:
            large[:, i] = u / variances[i]
        else:
            rest[eq.slice_of(i), i] = u / variances[i]
    w_rest, w_large = eq.times(rest, large)
    squares = rest.T @ w_rest + large.T @ w_large
    # Residuals: W'r = diag(1/g) u, r'r = y'y - 2 u'W'y + u'W'W u.
    more, of_large = eq.ratios_on_diagonal(variances[:-1] / s)
    r_rest, r_large = more * at.rest, of_large * at.large
    m_rest, m_large = eq.times(at.rest, at.large)
    rr = (
        eq.square - 2.0 * float(at.rest @ eq.sum_rest + at.large @ eq.sum_large)
        + float(at.rest @ m_rest + at.large @ m_large)
    )  # fmt: skip
    cross = (rest.T @ r_rest + large.T @ r_large) / s
    full = np.empty((k + 1, k + 1))
    full[:k, :k] = squares
    full[:k, k] = full[k, :k] = cross
    full[k, k] = rr / s**2
    v_rest = np.column_stack([w_rest, r_rest / s])
    v_large = np.column_stack([w_large, r_large / s])
    b_rest, b_large = eq.back(at, v_rest, v_large)
    out = (full - v_rest.T @ b_rest - v_large.T @ b_large) / s
    return np.asarray(0.5 * (out + out.T))


Path = Callable[[FloatArray], tuple[FloatArray, FloatArray]]
"""From free numbers to variances and their derivatives (rows: variances)."""


def free_path(z: FloatArray) -> tuple[FloatArray, FloatArray]:
    """All variances free, by their logarithms."""
    v = np.exp(z)
    return v, np.diag(v)


def minimise(
    eq: Equations, path: Path, z: FloatArray, *, enough: float = 1e-9, most: float = 2.5
) -> tuple[FloatArray, RemlAt]:
    """Least deviance along a path of variances.

    Parameters
    ----------
    eq : Equations
    path : callable
        See :data:`Path`.
    z : ndarray
        Start.
    enough : float
        Stop once a step is expected to lower the deviance by less.
    most : float
        Longest step in any free number.
    """

    def held(z: FloatArray) -> tuple[FloatArray, FloatArray]:
        v, jacobian = path(z)
        return np.maximum(v, _LEAST * v[-1]), jacobian

    v, jacobian = held(z)
    at = evaluate(eq, v)
    damping = 1e-4
    for _ in range(_STEPS):
        g = jacobian.T @ at.gradient
        h = jacobian.T @ at.curvature @ jacobian
        scale = np.diag(np.maximum(np.diagonal(h), 1e-8))
        # A variance that has run to nothing stays there until its gradient calls it back.
        stuck = (v[:-1] <= 1.01 * _LEAST * v[-1]) & (at.gradient[:-1] > 0.0)
        frozen = np.zeros(z.size, dtype=bool)
        if z.size == v.size:
            frozen[:-1] = stuck
        g = np.where(frozen, 0.0, g)
        if _expected(h + 1e-6 * scale, g) < enough:
            break
        moved = False
        while damping < 1e9:
            step = np.clip(-np.linalg.solve(h + damping * scale + 1e-10 * np.eye(z.size), g), -most, most)
            step = np.where(frozen, 0.0, step)
            new_v, new_jacobian = held(z + step)
            new = evaluate(eq, new_v)
            if new.deviance <= at.deviance + 1e-10 * abs(at.deviance):
                moved = True
                break
            damping = max(10.0 * damping, 1e-2)
        if not moved:
            break
        gained = at.deviance - new.deviance
        z, v, jacobian, at = z + step, new_v, new_jacobian, new
        damping = max(0.1 * damping, 1e-8)
        if gained < enough and float(np.abs(g @ step)) < 10.0 * enough:
            break
    return z, at


def _expected(h: FloatArray, g: FloatArray) -> float:
    """By how much a whole step is expected to lower the deviance."""
    return 0.5 * float(g @ np.linalg.solve(h, g))


def fit_variances(eq: Equations) -> RemlAt:
    """Estimate the variances; those that run to nothing come back as the least that is told from it.

    Parameters
    ----------
    eq : Equations
        Of centred values with some spread.
    """
    k = len(eq.sizes)
    mean = float(eq.sum_rest[0]) / eq.weight
    total = (eq.square - eq.weight * mean**2) / (eq.weight - 1.0)
    best: RemlAt | None = None
    for share in (0.5, 0.1):
        start = np.append(np.full(k, total * share / max(k, 1)), total * (1.0 - share))
        _, at = minimise(eq, free_path, np.log(start))
        if best is None or at.deviance < best.deviance - 1e-7:
            best = at
        if k == 0 or eq.weight > 50_000:
            break  # with so many results one start is enough
    if best is None:  # pragma: no cover - the loop always runs
        raise AssertionError
    return best
