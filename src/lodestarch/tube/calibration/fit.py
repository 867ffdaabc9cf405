"""Least squares of the model to observations."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from lodestarch.common.arrays import FloatArray
from lodestarch.common.errors import OutOfRange
from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.common.provenance import Provenance
from lodestarch.tube.calibration.identify import Identified, identify
from lodestarch.tube.calibration.problem import Problem
from lodestarch.tube.parameters import ParameterSet
from lodestarch.tube.standing import Limit, Standing
from lodestarch.tube.trust import limits_of

__all__ = ["Estimate", "Fit", "Residual", "fit"]

_REACH = 3.0
"""How far a logarithm may move from its start: a factor of 20."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """One fitted quantity.

    Parameters
    ----------
    name : str
        Key of a constant, or ``lot NAME`` for its enzyme.
    value : float
        Estimate, in the unit of the constant.
    u_relative : float or None
        Relative standard uncertainty from the slopes; ``None`` where the data do not determine it. [1]
    """

    name: str
    value: float
    u_relative: float | None


@dataclass(frozen=True, slots=True)
class Residual:
    """One calibration residual. Never validation: the fit has seen it.

    Parameters
    ----------
    key : str
        Name of the observation.
    observed_s, modelled_s : float
        Seconds, or their difference where the observation is one. [s]
    over_u : float
        Their distance over the standard uncertainty, on the scale of comparison. [1]
    """

    key: str
    observed_s: float
    modelled_s: float
    over_u: float


@dataclass(frozen=True, slots=True)
class Fit:
    """A fitted set.

    Parameters
    ----------
    params : ParameterSet
        The fitted set, named, with its own standing.
    estimates : tuple of Estimate
        What moved.
    residuals : tuple of Residual
        Calibration residuals.
    sum_of_squares : float
        Of the residuals over their uncertainties. [1]
    freedom : int
        Observations less what moved.
    scale : float or None
        sqrt(sum of squares/freedom): above 1 the model misses by more than the stated uncertainties; ``None``
        without freedom. Uncertainties are widened by it where it is above 1. [1]
    identified : Identified
        What the data tell apart.
    theta : ndarray
        Logarithms at the end, for a posterior to start from.
    findings, limits
        ``tube-fit-underdetermined`` (check), ``tube-fit-at-bound`` (check), ``tube-fit-poor`` (check: scale
        above 3), ``tube-fit-stopped`` (check: the search did not end).
    """

    params: ParameterSet
    estimates: tuple[Estimate, ...]
    residuals: tuple[Residual, ...]
    sum_of_squares: float
    freedom: int
    scale: float | None
    identified: Identified
    theta: FloatArray
    findings: tuple[Finding, ...]
    limits: tuple[Limit, ...]


def fit(problem: Problem, name: str, *, source: str = "fit", most_steps: int = 200) -> Fit:
    """Fit by least squares.

    Parameters
    ----------
    problem : Problem
        What moves, and what it is compared with.
    name : str
        Name of the fitted set.
    source : str
        What it was fitted to, kept with every constant that moved.
    most_steps : int
        Most evaluations of the slopes. 1 to 10,000.

    Notes
    -----
    Trust-region least squares with slopes in closed form (lumped constants) or by differences. A direction
    that the data leave open stays where it started, within the tolerance of the search: the estimate of its
    parts is then not to be used, and says so.
    """
    from scipy.optimize import least_squares  # noqa: PLC0415  # SciPy only where something is fitted

    if not 1 <= most_steps <= 10000:
        raise OutOfRange("most_steps", most_steps, 1, 10000, "1")
    start = problem.start()

    def residuals(theta: FloatArray) -> FloatArray:
        return np.asarray(problem.residuals(theta[None, :])[0])

    out = least_squares(
        residuals, start, jac=problem.jacobian,
        bounds=(start - _REACH, start + _REACH), x_scale="jac", xtol=1e-10, ftol=1e-12, gtol=1e-12,
        max_nfev=most_steps,
    )  # fmt: skip
    theta = np.asarray(out.x)
    published = all(one.provenance is not Provenance.MEASURED_HERE for one in problem.observations)
    provenance = Provenance.DERIVED if published else Provenance.MEASURED_HERE
    standing = Standing.UNCALIBRATED if published else Standing.FITTED_HERE
    params = replace(problem.at(theta, name, provenance, source), fitted=problem.keys, standing=standing)
    identified = identify(problem, theta)
    squares = float(2.0 * out.cost)
    freedom = len(problem.observations) - theta.size
    scale = float(np.sqrt(squares / freedom)) if freedom > 0 else None
    return Fit(
        params,
        _estimates(problem, theta, identified, scale),
        _residuals(problem, theta),
        squares,
        freedom,
        scale,
        identified,
        theta,
        _findings(identified, scale, np.abs(theta - start).max() > 0.99 * _REACH, out.status > 0),
        limits_of(None, params),
    )


def _estimates(
    problem: Problem, theta: FloatArray, identified: Identified, scale: float | None
) -> tuple[Estimate, ...]:
    loose = {part for d in identified.directions if not d.determined for part, _ in d.parts}
    slopes = problem.jacobian(theta)
    spread = np.sqrt(np.diag(np.linalg.pinv(slopes.T @ slopes))) * max(scale or 1.0, 1.0)
    return tuple(
        Estimate(name, float(np.exp(theta[i])), None if name in loose else float(spread[i]))
        for i, name in enumerate(problem.names)
    )


def _residuals(problem: Problem, theta: FloatArray) -> tuple[Residual, ...]:
    seconds = problem.seconds(theta[None, :])[0]
    over = problem.residuals(theta[None, :])[0]
    rows, extra = [], len(problem.observations)
    for k, one in enumerate(problem.observations):
        modelled = float(seconds[k])
        if one.less is not None:
            modelled -= float(seconds[extra])
            extra += 1
        rows.append(Residual(one.key, one.seconds, modelled, float(over[k])))
    return tuple(rows)


def _findings(
    identified: Identified, scale: float | None, at_bound: bool, ended: bool
) -> tuple[Finding, ...]:
    found = []
    where = Where(field="fit")
    if not identified.whole:
        loose = [part for d in identified.directions if not d.determined for part, _ in d.parts]
        values = {"parts": ", ".join(dict.fromkeys(loose))}
        found.append(Finding("tube-fit-underdetermined", where, Severity.CHECK, values))
    if at_bound:
        found.append(Finding("tube-fit-at-bound", where, Severity.CHECK))
    if scale is not None and scale > 3.0:
        found.append(Finding("tube-fit-poor", where, Severity.CHECK, {"scale": scale}))
    if not ended:
        found.append(Finding("tube-fit-stopped", where, Severity.CHECK))
    return tuple(found)
