"""Linear propagation of uncertainty (GUM), with effective degrees of freedom and second-order terms."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import stdtrit

from lodestarch.common.arrays import FloatArray
from lodestarch.common.errors import LodestarchError, OutOfRange

__all__ = ["Combined", "Propagated", "combine", "coverage_factor", "propagate", "second_order_variance"]

Model = Callable[[FloatArray], npt.ArrayLike]
"""A function of the inputs along the first axis of an array; trailing axes are separate evaluations."""


@dataclass(frozen=True, slots=True)
class Combined:
    """Combined standard uncertainties of one or many results.

    Parameters
    ----------
    u : ndarray
        Combined standard uncertainty, in the unit of the contributions.
    dof : ndarray
        Effective degrees of freedom; infinity where every contribution has infinitely many.
    share : ndarray
        Share of each contribution in the variance, along the last axis; sums to 1 where u is above 0.
    """

    u: FloatArray
    dof: FloatArray
    share: FloatArray


def combine(u: npt.ArrayLike, dof: npt.ArrayLike) -> Combined:
    """Combine independent contributions.

    Parameters
    ----------
    u : array_like
        Contributions ``|c_i| u(x_i)`` along the last axis. None negative.
    dof : array_like
        Their degrees of freedom, same shape or broadcast to it; infinity allowed. Above 0.

    Returns
    -------
    Combined

    Raises
    ------
    OutOfRange
        When a contribution is negative or a number of degrees of freedom is not above 0.

    Notes
    -----
    u_c^2 = sum u_i^2; nu_eff = u_c^4/sum(u_i^4/nu_i) (Welch-Satterthwaite), eq. (G.2b) of [1]_.

    Examples
    --------
    >>> result = combine([3.0, 4.0], [float("inf"), 10.0])
    >>> round(float(result.u), 2), round(float(result.dof), 1)
    (5.0, 24.4)

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 5.1.2 and G.4.1; read in secondary copies of its examples.
    """
    part = np.asarray(u, dtype=np.float64)
    nu = np.broadcast_to(np.asarray(dof, dtype=np.float64), part.shape)
    if part.size and not bool(np.all(part >= 0.0)):
        raise OutOfRange("u", float(part[~(part >= 0.0)].flat[0]), 0.0, math.inf, "unit of the result")
    if nu.size and not bool(np.all(nu > 0.0)):
        raise OutOfRange("dof", float(nu[~(nu > 0.0)].flat[0]), 0.0, math.inf, "1")
    # Scale by the largest first: fourth powers of small numbers underflow.
    largest = np.maximum(part.max(axis=-1, keepdims=True, initial=0.0), 1e-300)
    v = (part / largest) ** 2
    total = v.sum(axis=-1)
    with np.errstate(divide="ignore", invalid="ignore"):
        effective = total**2 / (v * v / nu).sum(axis=-1)
    zero = total == 0.0
    share = v / np.where(zero, 1.0, total)[..., None]
    return Combined(
        np.asarray(largest[..., 0] * np.sqrt(total)), np.where(zero, np.inf, effective), np.asarray(share)
    )


def coverage_factor(dof: npt.ArrayLike, probability: float = 0.95, *, truncate: bool = True) -> FloatArray:
    """Student's factor for a central interval.

    Parameters
    ----------
    dof : array_like
        Degrees of freedom, above 0; infinity allowed.
    probability : float
        Content. Above 0, below 1.
    truncate : bool
        Use the next lower whole number (GUM G.4.1); numbers below 1 stay as they are.

    Examples
    --------
    >>> [round(float(k), 3) for k in coverage_factor([16.75, float("inf")], 0.99)]
    [2.921, 2.576]
    """
    nu = np.asarray(dof, dtype=np.float64)
    whole = np.where((nu >= 1.0) & np.isfinite(nu) & truncate, np.floor(nu), nu)
    # Above 1e9 Student's distribution is the normal one to every digit a double holds.
    return np.asarray(stdtrit(np.minimum(whole, 1e9), 0.5 * (1.0 + probability)))


@dataclass(frozen=True, slots=True)
class Propagated:
    """One propagated result.

    Parameters
    ----------
    value, u, dof : float
        Result, combined standard uncertainty, effective degrees of freedom.
    sensitivity : tuple of float
        Partial derivative by each input.
    contribution : tuple of float
        Signed c_i u(x_i).
    u_second_order : float
        The same u with the next terms of the Taylor series.
    """

    value: float
    u: float
    dof: float
    sensitivity: tuple[float, ...]
    contribution: tuple[float, ...]
    u_second_order: float


def _at(model: Model, x: FloatArray) -> FloatArray:
    y = np.asarray(model(x), dtype=np.float64)
    if y.shape != x.shape[1:]:
        raise LodestarchError(f"the model gave shape {y.shape} for {x.shape[1:]} evaluations")
    return y


def _sensitivities(model: Model, x: FloatArray, u: FloatArray) -> FloatArray:
    """Five-point differences with steps of 2 % of each u: error of fourth order in the step."""
    n = x.size
    h = np.where(u > 0.0, 0.02 * u, np.maximum(1e-6 * np.abs(x), 1e-9))
    grid = np.repeat(x[:, None], 4 * n, axis=1)
    for i in range(n):
        grid[i, 4 * i : 4 * i + 4] += h[i] * np.array([-2.0, -1.0, 1.0, 2.0])
    y = _at(model, grid).reshape(n, 4)
    return np.asarray((y[:, 0] - 8.0 * y[:, 1] + 8.0 * y[:, 2] - y[:, 3]) / (12.0 * h))


def second_order_variance(model: Model, x: FloatArray, u: FloatArray) -> float:
    """Second-order part of the variance for independent inputs.

    Notes
    -----
    sum_ij [ (f_ij)^2/2 + f_i f_ijj ] u_i^2 u_j^2, the note to 5.1.2 of the GUM (normal inputs). Differences
    with steps of a tenth of each u.
    """
    n = x.size
    h = np.where(u > 0.0, 0.1 * u, 1.0)
    offsets = np.array([-2.0, -1.0, 0.0, 1.0, 2.0])
    total = 0.0
    for i in range(n):
        for j in range(n):
            if u[i] == 0.0 or u[j] == 0.0:
                continue
            grid = np.repeat(x[:, None], 25, axis=1)
            a, b = (o.ravel() for o in np.meshgrid(offsets, offsets, indexing="ij"))
            grid[i] += a * h[i]
            if i != j:
                grid[j] += b * h[j]
            f = _at(model, grid).reshape(5, 5)
            if i == j:
                line = f[:, 0]
                f_i = (line[0] - 8.0 * line[1] + 8.0 * line[3] - line[4]) / (12.0 * h[i])
                f_ij = (-line[0] + 16.0 * line[1] - 30.0 * line[2] + 16.0 * line[3] - line[4]) / (
                    12.0 * h[i] ** 2
                )
                f_ijj = (-line[0] + 2.0 * line[1] - 2.0 * line[3] + line[4]) / (2.0 * h[i] ** 3)
            else:
                f_i = (f[3, 2] - f[1, 2]) / (2.0 * h[i])
                f_ij = (f[3, 3] - f[3, 1] - f[1, 3] + f[1, 1]) / (4.0 * h[i] * h[j])
                second = (f[:, 3] - 2.0 * f[:, 2] + f[:, 1]) / h[j] ** 2
                f_ijj = (second[3] - second[1]) / (2.0 * h[i])
            total += (0.5 * f_ij**2 + f_i * f_ijj) * u[i] ** 2 * u[j] ** 2
    return float(total)


def propagate(
    model: Model,
    x: Sequence[float],
    u: Sequence[float],
    *,
    dof: Sequence[float] | None = None,
    correlation: npt.ArrayLike | None = None,
) -> Propagated:
    """Propagate standard uncertainties through a model to first order, and say what second order adds.

    Parameters
    ----------
    model : callable
        Takes an array of inputs (inputs, evaluations), returns one value per evaluation.
    x, u : sequence of float
        Estimates and standard uncertainties, each in its own unit.
    dof : sequence of float, optional
        Degrees of freedom; infinite when left out.
    correlation : array_like, optional
        Correlation matrix of the inputs; independent when left out. With correlation the effective degrees
        of freedom still take the inputs as independent, as the GUM does not define another formula.

    Returns
    -------
    Propagated

    Raises
    ------
    LodestarchError
        When the sequences differ in length or the model does not return one value per evaluation.

    Examples
    --------
    >>> r = propagate(lambda x: x[0] * x[1], [2.0, 3.0], [0.1, 0.2])
    >>> round(r.value, 3), round(r.u, 3)
    (6.0, 0.5)

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), clause 5 and G.4; read in secondary copies of its examples.
    """
    at, sd = np.asarray(x, dtype=np.float64), np.asarray(u, dtype=np.float64)
    if at.shape != sd.shape or at.ndim != 1:
        raise LodestarchError(f"{at.size} estimates and {sd.size} uncertainties")
    nu = np.full(at.size, np.inf) if dof is None else np.asarray(dof, dtype=np.float64)
    c = _sensitivities(model, at, sd)
    part = c * sd
    combined = combine(np.abs(part), nu)
    variance = float(combined.u) ** 2
    if correlation is not None:
        variance = float(part @ np.asarray(correlation, dtype=np.float64) @ part)
    second = second_order_variance(model, at, sd)
    return Propagated(
        float(_at(model, at[:, None])[0]),
        math.sqrt(variance),
        float(combined.dof),
        tuple(float(v) for v in c),
        tuple(float(v) for v in part),
        math.sqrt(max(variance + second, 0.0)),
    )
