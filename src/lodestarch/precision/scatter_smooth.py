"""The free smooth: ln SD as a broken line over ln FN, held back only by its own roughness.

It stands for "none of the three laws". Its predictive score is Laplace's approximation of the same
integral that gives the scores of the laws.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numba
import numpy as np
import numpy.typing as npt

from lodestarch.common.arrays import FloatArray
from lodestarch.precision.scatter_likelihood import Evidence
from lodestarch.precision.scatter_prior import ScatterPrior
from lodestarch.precision.scatter_shape import REFERENCE_S

__all__ = ["KNOTS_S", "SmoothPart", "smooth_parts"]

KNOTS_S: Final[FloatArray] = np.array([62.0, 80.0, 105.0, 135.0, 175.0, 230.0, 300.0, 390.0, 510.0])
"""Levels between which ln SD is straight in ln FN [s]; a choice of ours over the working span (derived)."""

_ROUGHNESS: Final = (0.35, 1.4)
"""SD of the change of slope from one stretch to the next [1]: gentle and free (derived)."""
_SLOPE: Final = (1.4, 0.7)
"""Mean and SD of the slope above 300 s [1]: 1 is constant CV, about 2.4 constant in LN (derived)."""


@dataclass(frozen=True, slots=True)
class SmoothPart:
    """One normal approximation of the free smooth.

    Parameters
    ----------
    mean, covariance : ndarray
        Of ln SD at ``KNOTS_S``.
    log_mass : float
        Predictive score with the prior weight of its roughness and share of gross errors.
    share : float
        Share of gross errors. [1]
    """

    mean: FloatArray
    covariance: FloatArray
    log_mass: float
    share: float

    def log_sd(self, fn_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Mean and SD of ln(SD in s) at levels."""
        basis = _basis(fn_s)
        var = np.einsum("ij,jk,ik->i", basis, self.covariance, basis)
        return basis @ self.mean, np.sqrt(np.maximum(var, 0.0))


def _basis(fn_s: FloatArray) -> FloatArray:
    """Hat functions in ln FN; beyond the outer knots the last value is kept."""
    x, k = np.log(np.atleast_1d(fn_s)), np.log(KNOTS_S)
    return np.column_stack([np.interp(x, k, row) for row in np.eye(KNOTS_S.size)])


def _prior_precision(prior: ScatterPrior, roughness: float) -> tuple[FloatArray, FloatArray]:
    """Mean and precision of ln SD at the knots: level at 300 s, slope above it, change of slope."""
    k = np.log(KNOTS_S)
    n = k.size
    at = int(np.argmin(np.abs(KNOTS_S - REFERENCE_S)))
    slopes = (np.eye(n)[1:] - np.eye(n)[:-1]) / np.diff(k)[:, None]
    rows = [np.eye(n)[at] / prior.log_sd, slopes[at] / _SLOPE[1]]
    target = [math.log(prior.cv * REFERENCE_S) / prior.log_sd, _SLOPE[0] / _SLOPE[1]]
    for change in np.diff(slopes, axis=0):
        rows.append(change / roughness)
        target.append(0.0)
    a = np.array(rows)
    return np.linalg.solve(a, np.array(target)), a.T @ a


@numba.njit(cache=True)
def _score(
    log_sd: float, gap_s: float, is_bound: bool, share: float, factor: float, rounding: float
) -> tuple[float, float, float]:
    """Log likelihood of one pair with its slope and information in ln SD."""
    own = 2.0 * math.exp(2.0 * log_sd)
    v = own + rounding
    part = own / v
    if is_bound:
        z = gap_s / math.sqrt(v)
        tail = 0.5 * math.erfc(z / math.sqrt(2.0))
        wide = 0.5 * math.erfc(z / (factor * math.sqrt(2.0)))
        hazard = math.exp(-0.5 * z * z) / math.sqrt(2.0 * math.pi) / tail if z < 30.0 else z + 1.0 / z
        density = math.log(max((1.0 - share) * tail + share * wide, 1e-300))
        return density, part * z * hazard, part * part * z * hazard * max(1.0 + z * (hazard - z), 0.0)
    x = gap_s * gap_s / v
    odds = share / (1.0 - share) / factor * math.exp(min(0.5 * (1.0 - factor**-2) * x, 600.0))
    # Part of the information and of the square that belongs to a good pair rather than a gross one.
    good = (1.0 + odds / (factor * factor)) / (1.0 + odds)
    density = -0.5 * math.log(2.0 * math.pi * v) - 0.5 * x + math.log1p(-share) + math.log1p(odds)
    return density, part * (x * good - 1.0), 2.0 * part * part * good


@numba.njit(cache=True)
def _sums(
    basis: FloatArray,
    gap_s: FloatArray,
    bound: npt.NDArray[np.bool_],
    count: FloatArray,
    beta: FloatArray,
    share: float,
    factor: float,
    rounding: float,
    gradient: FloatArray,
    information: FloatArray,
) -> float:
    """Log likelihood; its gradient and information are added to what is handed in."""
    total = 0.0
    k = beta.size
    for i in range(gap_s.size):
        eta = 0.0
        for a in range(k):
            eta += basis[i, a] * beta[a]
        density, slope, info = _score(eta, gap_s[i], bound[i], share, factor, rounding)
        total += count[i] * density
        for a in range(k):
            if basis[i, a] != 0.0:
                gradient[a] += count[i] * slope * basis[i, a]
                for b in range(k):
                    information[a, b] += count[i] * info * basis[i, a] * basis[i, b]
    return total


def _newton(
    data: Evidence,
    basis: FloatArray,
    mean: FloatArray,
    precision: FloatArray,
    start: FloatArray,
    share: float,
    factor: float,
) -> tuple[FloatArray, FloatArray, float]:
    """Peak of the penalised likelihood, its curvature, and its height."""
    beta, value = start, -math.inf
    curvature = precision
    for _ in range(60):
        pull = precision @ (beta - mean)
        gradient, curvature = -pull, precision.copy()
        rounding = data.resolution_s**2 / 6.0
        now = -0.5 * float((beta - mean) @ pull) + float(
            _sums(
                basis, data.gap_s, data.bound, data.count, beta, share, factor, rounding,
                gradient, curvature,
            )
        )  # fmt: skip
        if abs(now - value) < 1e-7 * max(1.0, abs(now)):
            return beta, curvature, now
        value = now
        step = np.linalg.solve(curvature, gradient)
        beta = beta + step * min(1.0, 1.0 / float(np.abs(step).max()))
    return beta, curvature, value


def smooth_parts(data: Evidence, prior: ScatterPrior) -> tuple[SmoothPart, ...]:
    """Fit the free smooth for each roughness and share of gross errors.

    Parameters
    ----------
    data : Evidence
        With at least one pair.
    prior : ScatterPrior

    Returns
    -------
    tuple of SmoothPart
        ``log_mass`` comparable with ``GridPosterior.log_mass``.
    """
    basis = _basis(data.level_s)
    parts = []
    for roughness in _ROUGHNESS:
        mean, precision = _prior_precision(prior, roughness)
        beta = mean
        for share, weight in zip(prior.gross_shares, prior.gross_weights, strict=True):
            beta, curvature, height = _newton(data, basis, mean, precision, beta, share, prior.gross_factor)
            # Laplace: the integral of a peak is its height times the ratio of the volumes.
            ratio = 0.5 * float(np.linalg.slogdet(precision)[1] - np.linalg.slogdet(curvature)[1])
            mass = float(height) + ratio + math.log(weight / len(_ROUGHNESS))
            parts.append(SmoothPart(beta, np.asarray(np.linalg.inv(curvature)), mass, share))
    return tuple(parts)
