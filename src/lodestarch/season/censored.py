"""Crossed effects where some results only bound: at or below the floor, or above the stop.

A fit of its own, by Laplace's method: at given variances the mean and the effects are moved to where the
density of exact results, the probability of bounds and the density of effects together are greatest (Newton),
and the integral over them is taken as that of a normal density there. Without bounds it is the restricted
likelihood itself.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from scipy.optimize import minimize
from scipy.special import log_ndtr, ndtri

from lodestarch.common.arrays import FloatArray
from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.season.effects import prepared
from lodestarch.season.equations import Equations, Solved, equations
from lodestarch.season.intervals import Ends
from lodestarch.season.reml import fit_variances
from lodestarch.season.scale import Scale, rises
from lodestarch.season.table import SeasonTable

__all__ = ["Censored", "fit_censored"]

_LEAST: Final = 1e-7
_NEWTON: Final = 40


@dataclass(frozen=True, slots=True)
class Censored:
    """Crossed effects that take bounds as bounds.

    Parameters
    ----------
    table : SeasonTable
        Rows and factors that entered.
    scale : Scale
    mean, u_mean : float or None
        On the scale; ``None`` where there is no answer.
    sds : tuple of float
        SD of each factor, the residual last.
    sd_ends : tuple of (float or None, float or None)
        Intervals from the curvature in the logarithms of the SDs.
    shares : tuple of float
    bounds : int
        Results that only bound.
    deviance : float or None
    findings : tuple of Finding
    """

    table: SeasonTable
    scale: Scale
    mean: float | None
    u_mean: float | None
    sds: tuple[float, ...]
    sd_ends: tuple[Ends, ...]
    shares: tuple[float, ...]
    bounds: int
    deviance: float | None
    findings: tuple[Finding, ...]


@dataclass(slots=True)
class _Problem:
    """What does not change while variances move; the last solution is where the next starts."""

    codes: list[np.ndarray]
    sizes: list[int]
    y: FloatArray
    way: FloatArray
    """0 for exact, -1 where the truth lies below y on the scale, +1 where above."""
    eta: FloatArray
    last: tuple[Equations, Solved] | None = None

    def deviance(self, variances: FloatArray) -> float:
        """Minus twice the Laplace approximation of the restricted log likelihood."""
        s = float(variances[-1])
        sd = math.sqrt(s)
        ratio = np.maximum(variances[:-1] / s, _LEAST)
        exact = self.way == 0.0
        large = int(np.argmax(self.sizes))
        before = math.inf
        for _ in range(_NEWTON):
            weight, work = self._working(sd)
            eq = equations(self.codes, self.sizes, work, weight, large=large)
            at = eq.solve(ratio)
            eta = np.full(self.y.size, at.rest[0])
            for k, code in enumerate(self.codes):
                eta += eq.split(k, at.rest, at.large)[code]
            moved = float(np.abs(eta - self.eta).max())
            self.eta = eta
            if moved < 1e-6 * sd or (moved > 0.9 * before and moved < 1e-4 * sd):
                break
            before = moved
        # The weights belong to the place where the effects have come to rest.
        weight, work = self._working(sd)
        eq = equations(self.codes, self.sizes, work, weight, large=large)
        at = eq.solve(ratio)
        self.last = eq, at
        penalty = sum(
            float(np.sum(eq.split(k, at.rest, at.large) ** 2)) / float(ratio[k] * s)
            for k in range(len(self.sizes))
        )
        resid = (self.y - self.eta)[exact]
        z = (self.way * (self.eta - self.y) / sd)[~exact]
        fit = float(resid @ resid) / s - 2.0 * float(log_ndtr(z).sum())
        n_exact = int(exact.sum())
        log_det = at.log_det - math.log(s) + float(np.array(self.sizes) @ np.log(ratio))
        return fit + penalty + n_exact * math.log(2.0 * math.pi * s) + log_det - math.log(2.0 * math.pi)

    def _working(self, sd: float) -> tuple[FloatArray, FloatArray]:
        """Weights and working values of one Newton step, in units of the residual variance."""
        weight, work = np.ones(self.y.size), self.y.copy()
        at = self.way != 0.0
        z = self.way[at] * (self.eta[at] - self.y[at]) / sd
        mills = np.exp(-0.5 * z**2 - 0.5 * math.log(2.0 * math.pi) - log_ndtr(z))
        w = np.maximum(mills * (mills + z), 1e-8)
        weight[at] = w
        work[at] = self.eta[at] + self.way[at] * sd * mills / w
        return weight, work


def fit_censored(table: SeasonTable, scale: Scale = Scale.SECONDS, *, probability: float = 0.95) -> Censored:
    """Estimate crossed random effects with bounds taken as bounds.

    Parameters
    ----------
    table : SeasonTable
    scale : Scale
    probability : float
        Content of the intervals.

    Returns
    -------
    Censored
        With the findings of ``effects.prepared``; ``season-no-residual`` where what is left over vanishes.

    Notes
    -----
    Laplace's method is exact without bounds and good while each level has exact results too; the tests hold
    it against simulated truth. A variance at nothing has no interval.

    References
    ----------
    .. [1] L. Tierney, J. B. Kadane, Accurate approximations for posterior moments and marginal densities,
       J. Am. Stat. Assoc. 81 (1986) 82 (recalled).
    """
    good, y, findings, stop = prepared(table, scale, bounds="kept")
    bounds = int(np.count_nonzero(~good.exact))
    none = Censored(good, scale, None, None, (), (), (), bounds, None, findings)
    if stop is not None:
        return Censored(good, scale, None, None, (), (), (), bounds, None, (*findings, stop))
    codes, sizes = [f.codes for f in good.factors], [f.size for f in good.factors]
    centre = float(y.mean())
    start = fit_variances(equations(codes, sizes, y - centre))
    total = float(start.variances.sum())
    if float(start.variances[-1]) <= 1e-6 * total:
        stop = Finding(
            "season-no-residual", Where(source=table.source or None), Severity.STOP, {"count": good.n}
        )
        return Censored(good, scale, None, None, (), (), (), bounds, None, (*findings, stop))
    # Kind 1 is "at or below" in seconds, 2 is "above"; on a falling scale they change places.
    way = np.where(good.kind == 1, -1.0, np.where(good.kind == 2, 1.0, 0.0)) * (1.0 if rises(scale) else -1.0)
    problem = _Problem(codes, sizes, y - centre, way, np.zeros(y.size))
    z = np.log(np.maximum(start.variances, 1e-3 * total))
    lowest = math.log(_LEAST * total)
    ends = [(lowest, math.log(1e3 * total))] * z.size
    options: Any = {"eps": 1e-4, "ftol": 1e-10, "maxiter": 60}
    search: Any = minimize  # the stubs know no function of a plain array
    found = search(lambda x: problem.deviance(np.exp(x)), z, method="L-BFGS-B", bounds=ends, options=options)
    best = np.asarray(found.x)
    deviance = problem.deviance(np.exp(best))
    if problem.last is None:
        return none
    variances = np.where(best <= lowest + 0.5, 0.0, np.exp(best))
    at = problem.last[1]
    u_mean = math.sqrt(float(np.exp(best[-1]) * at.inverse[0, 0]))
    return Censored(
        good, scale, centre + float(at.rest[0]), u_mean, tuple(float(v) for v in np.sqrt(variances)),
        _ends(problem, best, variances, probability), tuple(float(v) for v in variances / variances.sum()),
        bounds, deviance, findings,
    )  # fmt: skip


def _ends(problem: _Problem, best: FloatArray, variances: FloatArray, probability: float) -> tuple[Ends, ...]:
    """Intervals of the SDs from the curvature of the deviance in the logarithms of the variances."""
    free = np.flatnonzero(variances > 0.0)
    h, m = 0.02, free.size
    hessian = np.zeros((m, m))

    def at(*moves: tuple[int, float]) -> float:
        x = best.copy()
        for i, d in moves:
            x[free[i]] += d
        return problem.deviance(np.exp(x))

    centre = at()
    for i in range(m):
        hessian[i, i] = (at((i, h)) - 2.0 * centre + at((i, -h))) / h**2
        for j in range(i):
            mixed = at((i, h), (j, h)) - at((i, h), (j, -h)) - at((i, -h), (j, h)) + at((i, -h), (j, -h))
            hessian[i, j] = hessian[j, i] = mixed / (4.0 * h * h)
    ends: list[Ends] = [(None, None)] * best.size
    if m == 0 or float(np.linalg.eigvalsh(hessian)[0]) <= 0.0:
        return tuple(ends)
    error = np.sqrt(2.0 * np.diagonal(np.linalg.inv(hessian)))
    z = float(ndtri(0.5 + 0.5 * probability))
    for i, k in enumerate(free):
        sd = math.sqrt(float(variances[k]))
        ends[int(k)] = sd * math.exp(-0.5 * z * float(error[i])), sd * math.exp(0.5 * z * float(error[i]))
    return tuple(ends)
