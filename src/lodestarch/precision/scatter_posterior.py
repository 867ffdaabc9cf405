"""Posterior of the parametric laws of scatter: a grid over the scale for every shape.

Every law is a shape times one scale, so that its posterior is a one-dimensional integral, done on a grid
that sits on its peak. The integral itself is the law's predictive score: the sum over pairs of
the log density with which the law foresaw each pair from those before it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from lodestarch.common.arrays import FloatArray
from lodestarch.precision.scatter_likelihood import Evidence, posterior_on_peak
from lodestarch.precision.scatter_prior import ScatterPrior
from lodestarch.precision.scatter_shape import Shapes, shapes_between

__all__ = ["GridPosterior", "grid_posterior", "log_sum"]

_STEPS: Final = np.linspace(-5.0, 5.0, 41)
"""Grid in SDs of the peak: the trapezoid rule is exact to 1e-6 there for anything near a normal curve."""
_REFINEMENTS: Final = 12
_CONCENTRATED: Final = 0.5
"""Share of one node of q above which eight nodes are too coarse."""


@dataclass(frozen=True, slots=True)
class GridPosterior:
    """Atoms of the parametric laws, before they are weighed against the free smooth.

    Parameters
    ----------
    shapes : Shapes
        The second axis of the atoms.
    log_scale : ndarray
        Shape (gross shares, shapes, steps).
    cell : ndarray
        Same shape: width of the cell of ln(scale) that an atom stands for.
    log_mass : ndarray
        Same shape: log of likelihood times prior times cell, the prior weight of a law left out.
    """

    shapes: Shapes
    log_scale: FloatArray
    cell: FloatArray
    log_mass: FloatArray

    def law_score(self, law: int) -> float:
        """Log predictive score of one law."""
        return log_sum(self.log_mass[:, self.shapes.law == law])


def log_sum(x: FloatArray) -> float:
    """Log of the sum of exponentials."""
    peak = float(x.max())
    return peak + math.log(float(np.exp(x - peak).sum()))


def _start(data: Evidence, shape_s: FloatArray, prior: ScatterPrior) -> float:
    """Median-based scale, pulled to the prior by its precision."""
    exact = ~data.bound
    if not bool(exact.any()):
        return math.log(prior.cv)
    ratio = np.sort(data.gap_s[exact] / shape_s[exact])
    # The median of |d| is 0.6745 sqrt(2) s for a normal difference d of variance 2 s^2.
    scale = max(float(np.median(ratio)) / (0.67449 * math.sqrt(2.0)), 1e-4)
    n = float(data.count[exact].sum())
    own, prec = 1.2 * n, prior.log_sd**-2
    return (own * math.log(scale) + prec * math.log(prior.cv)) / (own + prec)


def grid_posterior(data: Evidence, prior: ScatterPrior) -> GridPosterior:
    """Posterior atoms of constant CV, constant plus proportional, and constant in LN.

    Parameters
    ----------
    data : Evidence
        May be empty: then the posterior is the prior.
    prior : ScatterPrior

    Returns
    -------
    GridPosterior

    Notes
    -----
    Eight values of the constant share q stand for its whole range until one of them holds most of the
    mass; then the eight close in on it.
    """
    low, high = 0.0, 1.0
    for _ in range(_REFINEMENTS if data.level_s.size else 0):
        shapes = shapes_between(low, high)
        weight = _node_weights(data, prior, shapes)
        best = int(np.argmax(weight))
        if weight[best] < _CONCENTRATED:
            break
        q = shapes.constant_share
        low = float(q[best - 2]) if best >= 2 else low
        high = float(q[best + 2]) if best + 2 < q.size else high
    return _on_shapes(data, prior, shapes_between(low, high))


def _node_weights(data: Evidence, prior: ScatterPrior, shapes: Shapes) -> FloatArray:
    """Weight of each constant share by Laplace's approximation, enough to see where the mass lies."""
    rows = shapes.at(data.level_s)[shapes.law == 1]
    mass = np.empty(rows.shape[0])
    start = _start(data, rows[0], prior)
    middle = np.zeros(1)
    for j, row in enumerate(rows):
        parts = np.empty(len(prior.gross_shares))
        for e, (share, weight) in enumerate(zip(prior.gross_shares, prior.gross_weights, strict=True)):
            u, sd, value = posterior_on_peak(
                data, row, share, prior.gross_factor, math.log(prior.cv), prior.log_sd, start, middle
            )
            parts[e] = float(value[0]) + math.log(sd * math.sqrt(2.0 * math.pi) * weight)
            start = float(u[0])
        mass[j] = log_sum(parts) + math.log(shapes.node_weight[j])
    return np.asarray(np.exp(mass - log_sum(mass)))


def _on_shapes(data: Evidence, prior: ScatterPrior, shapes: Shapes) -> GridPosterior:
    empty = not data.level_s.size
    at_levels = np.ones((shapes.weight.size, 0)) if empty else shapes.at(data.level_s)
    shares = (0.0,) if empty else prior.gross_shares
    weights = (1.0,) if empty else prior.gross_weights
    log_scale = np.empty((len(shares), shapes.weight.size, _STEPS.size))
    cells = np.empty_like(log_scale)
    log_mass = np.empty_like(log_scale)
    start = _start(data, at_levels[0], prior)
    for j, row in enumerate(at_levels):
        for e, (share, weight) in enumerate(zip(shares, weights, strict=True)):
            u, sd, value = posterior_on_peak(
                data, row, share, prior.gross_factor, math.log(prior.cv), prior.log_sd, start, _STEPS
            )
            cell = sd * (_STEPS[1] - _STEPS[0])
            log_scale[e, j], cells[e, j] = u, cell
            log_mass[e, j] = value + math.log(cell * weight * shapes.weight[j])
            start = float(u[u.size // 2])
    return GridPosterior(shapes, log_scale, cells, log_mass)
