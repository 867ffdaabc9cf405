"""Profile-likelihood intervals of standard deviations and of shares of variance.

An end of an interval is where the deviance, at its least over everything else, has risen by the chi-square
quantile with one degree of freedom. Along the way the signed root of the rise is nearly a straight line, so a
few secant steps find it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Final

import numpy as np
from scipy.special import chdtri

from lodestarch.common.arrays import FloatArray
from lodestarch.season.equations import Equations
from lodestarch.season.reml import Path, RemlAt, minimise

__all__ = ["Ends", "sd_interval", "share_interval"]

Ends = tuple[float | None, float | None]
"""Lower and upper end; ``None`` where the data do not bound it."""

_NOTHING: Final = 1e-7
_STEPS: Final = 20
_SHARP: Final = 0.02
"""Standard error of the logarithm of an SD below which the likelihood is a parabola there to within a
hundredth of the interval's width (a choice of ours; the tests compare the two)."""
_NEAR: Final = 0.005
"""How near to the wanted root the search stops: 0.005 in 1.96 moves a 95 % interval by 0.06 %."""


_WIDEST: Final = 3.0
"""Largest standard error with which a search begins. [1, on a logarithm]  A choice of ours."""


def _sd_path(k: int, sd: float) -> Path:
    def path(z: FloatArray) -> tuple[FloatArray, FloatArray]:
        free = np.exp(z)
        v = np.insert(free, k, sd * sd)
        return v, np.insert(np.diag(free), k, 0.0, axis=0)

    return path


def _share_path(k: int, share: float) -> Path:
    odds = share / (1.0 - share)

    def path(z: FloatArray) -> tuple[FloatArray, FloatArray]:
        free = np.exp(z)
        v = np.insert(free, k, odds * free.sum())
        return v, np.insert(np.diag(free), k, odds * free, axis=0)

    return path


def _error(fit: RemlAt, slope: FloatArray) -> float:
    """Standard error of a function of the variances, from its slope and the average information."""
    scale = np.sqrt(np.maximum(np.diagonal(fit.curvature), 1e-300))
    h = fit.curvature / np.outer(scale, scale) + 1e-9 * np.eye(scale.size)
    lean = slope / scale
    # A variance that has run to nothing leaves no curvature: then the search looks widest.
    with np.errstate(over="ignore", invalid="ignore"):
        square = 2.0 * float(lean @ np.linalg.solve(h, lean))
    return min(math.sqrt(max(square, 1e-12)), _WIDEST) if math.isfinite(square) else _WIDEST


def sd_interval(eq: Equations, fit: RemlAt, k: int, probability: float) -> Ends:
    """Interval of the standard deviation of one component (the residual is the last).

    Parameters
    ----------
    eq : Equations
    fit : RemlAt
        At its best.
    k : int
    probability : float
    """
    total = float(fit.variances.sum())
    estimate = math.sqrt(float(fit.variances[k]))
    slope = np.zeros(fit.variances.size)
    slope[k] = 0.5 / float(fit.variances[k])
    guess = _error(fit, slope)
    if guess < _SHARP:
        root = math.sqrt(float(chdtri(1.0, 1.0 - probability)))
        return estimate * math.exp(-root * guess), estimate * math.exp(root * guess)
    ends = _ends(
        eq, fit, k, probability, lambda x: _sd_path(k, math.exp(x)), math.log(estimate), guess,
        low=0.5 * math.log(_NOTHING * total), high=math.log(1e3) + 0.5 * math.log(total),
    )  # fmt: skip
    return _from(ends, math.exp, 0.0)


def share_interval(eq: Equations, fit: RemlAt, k: int, probability: float) -> Ends:
    """Interval of the share of one component in the variance of a single result."""
    share = float(fit.variances[k] / fit.variances.sum())
    share = min(max(share, _NOTHING), 1.0 - _NOTHING)
    x = math.log(share / (1.0 - share))
    total = float(fit.variances.sum())
    slope = np.full(fit.variances.size, -1.0 / (total * (1.0 - share)))
    slope[k] = 1.0 / (total * share)
    guess = _error(fit, slope)
    end = math.log(1.0 / _NOTHING)

    def of_logit(x: float) -> float:
        return 1.0 / (1.0 + math.exp(-x))

    ends = _ends(eq, fit, k, probability, lambda x: _share_path(k, of_logit(x)), x, guess, low=-end, high=end)
    low, high = _from(ends, of_logit, 0.0)
    return low, 1.0 if high is None else high


def _from(ends: Ends, back: Callable[[float], float], least: float) -> Ends:
    low, high = ends
    return least if low is None else back(low), None if high is None else back(high)


def _ends(
    eq: Equations, fit: RemlAt, k: int, probability: float, path_at: Callable[[float], Path],
    x: float, guess: float, *, low: float, high: float,
) -> Ends:  # fmt: skip
    root = math.sqrt(float(chdtri(1.0, 1.0 - probability)))
    x = max(x, low)
    others = np.log(np.delete(fit.variances, k))
    return (
        _end(eq, fit, path_at, others, x, -guess, low, root),
        _end(eq, fit, path_at, others, x, guess, high, root),
    )


def _lean(
    fit: RemlAt, path: Path, others: FloatArray, x: float, path_at: Callable[[float], Path]
) -> FloatArray:
    """How the other variances move with the one that is held, to first order."""
    _, jacobian = path(others)
    v0, v1 = path_at(x - 1e-4)(others)[0], path_at(x + 1e-4)(others)[0]
    along = (v1 - v0) / 2e-4
    h = jacobian.T @ fit.curvature @ jacobian
    h += 1e-6 * np.diag(np.maximum(np.diagonal(h), 1e-8))
    return np.clip(-np.linalg.solve(h, jacobian.T @ (fit.curvature @ along)), -2.0, 2.0)


def _end(
    eq: Equations, fit: RemlAt, path_at: Callable[[float], Path], others: FloatArray, x: float,
    step: float, limit: float, root: float,
) -> float | None:  # fmt: skip
    """Where the root of the rise reaches what is wanted, going one way from the estimate."""
    way = math.copysign(1.0, step)
    if way * (limit - x) <= 0.0:
        return None
    lean = _lean(fit, path_at(x), others, x, path_at)
    # A variance of nothing has no slope in its logarithm: it starts from where it can be called back.
    least = math.log(1e-3 * float(fit.variances.sum()))
    dead = others < least
    last = x

    def rise(at: float) -> float:
        nonlocal others, last
        start = np.where(dead, np.maximum(others, least), others + lean * (at - last))
        others, found = minimise(eq, path_at(at), start, enough=1e-3)
        last = at
        return math.sqrt(max(found.deviance - fit.deviance, 0.0))

    inner, inner_root = x, 0.0
    outer = outer_root = None
    at = x + min(root * abs(step), 6.0) * way
    for _ in range(_STEPS):
        at = min(at, limit) if way > 0 else max(at, limit)
        got = rise(at)
        if abs(got - root) < _NEAR:
            return at
        if got < root:
            if at == limit:
                return None
            inner, inner_root = at, got
        else:
            outer, outer_root = at, got
        if outer is None or outer_root is None:
            slope = inner_root / max(abs(inner - x), 1e-12)
            ahead = (root - inner_root) / slope if slope > 0.0 else 3.0
            at = inner + way * min(max(1.05 * ahead, 0.02), 3.0)
        else:
            part = (root - inner_root) / (outer_root - inner_root)
            at = inner + (outer - inner) * min(max(part, 0.05), 0.95)
    return at
