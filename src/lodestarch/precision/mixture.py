"""Quantiles of weighted atoms, and of normal quantities whose SD is uncertain."""

from __future__ import annotations

import math

import numpy as np
from scipy.special import ndtr, ndtri, stdtrit

from lodestarch.common.arrays import FloatArray

__all__ = ["half_width", "matching_dof", "weighted_quantiles"]

_DOF_MAX = 1e6


def weighted_quantiles(
    value: FloatArray, width: FloatArray, weight: FloatArray, probabilities: FloatArray
) -> FloatArray:
    """Quantiles of a mixture of uniform cells.

    Parameters
    ----------
    value : ndarray
        Middles of the cells along the last axis; leading axes are separate mixtures.
    width : ndarray
        Widths of the cells, above 0, same shape.
    weight : ndarray
        Weights along the last axis, the same for all mixtures; sum 1.
    probabilities : ndarray
        Between 0 and 1.

    Returns
    -------
    ndarray
        Leading axes of ``value``, then one axis of probabilities.

    Notes
    -----
    The distribution function is a broken line with a corner at every edge of a cell, so that sorting the
    edges gives the quantiles exactly.
    """
    v = np.asarray(value, dtype=np.float64)
    half = 0.5 * np.broadcast_to(width, v.shape)
    density = 0.5 * np.broadcast_to(weight, v.shape) / half
    edge = np.concatenate([v - half, v + half], axis=-1).reshape(-1, 2 * v.shape[-1])
    bend = np.concatenate([density, -density], axis=-1).reshape(edge.shape)
    order = np.argsort(edge, axis=-1)
    edge = np.take_along_axis(edge, order, axis=-1)
    slope = np.cumsum(np.take_along_axis(bend, order, axis=-1), axis=-1)[:, :-1]
    below = np.zeros(edge.shape)
    np.cumsum(np.maximum(slope, 0.0) * np.diff(edge, axis=-1), axis=-1, out=below[:, 1:])
    p = np.asarray(probabilities, dtype=np.float64)
    found = [np.interp(p, b / b[-1], e) for b, e in zip(below, edge, strict=True)]
    return np.asarray(found).reshape((*v.shape[:-1], p.size))


def half_width(sd: FloatArray, weight: FloatArray, probability: float) -> FloatArray:
    """Half-width of the central interval of a zero-mean normal mixture.

    Parameters
    ----------
    sd : ndarray
        SDs of the parts along the last axis; leading axes are separate mixtures. Above 0.
    weight : ndarray
        Weights along the last axis; sum 1.
    probability : float
        Content of the interval. Above 0, below 1.

    Returns
    -------
    ndarray
        One half-width per leading index: the root of sum w (2 Phi(h/s) - 1) = probability.

    Notes
    -----
    Newton's steps from z times the geometric mean of the SDs. The content outside is convex in h, so that a
    step from the left never overshoots, and one from the right lands on the left.
    """
    s = np.atleast_2d(sd)
    least = s.min(axis=-1)
    h = float(ndtri(0.5 * (1.0 + probability))) * np.exp((np.log(s) * weight).sum(axis=-1))
    for _ in range(60):
        z = h[:, None] / s
        outside = 2.0 * (ndtr(-z) * weight).sum(axis=-1)
        density = 2.0 * (np.exp(-0.5 * z * z) / s * weight).sum(axis=-1) / math.sqrt(2.0 * math.pi)
        step = (outside - (1.0 - probability)) / np.maximum(density, 1e-300)
        new = np.maximum(h + np.clip(step, -0.9 * h, 4.0 * h), 1e-3 * least)
        done = bool(np.all(np.abs(new - h) < 1e-11 * h))
        h = new
        if done:
            break
    return np.asarray(h).reshape(np.shape(sd)[:-1])


def matching_dof(factor: FloatArray, probability: float) -> FloatArray:
    """Degrees of freedom at which Student's factor equals a given coverage factor.

    Parameters
    ----------
    factor : ndarray
        Half-width over standard uncertainty. Above 0.
    probability : float
        Content of the interval.

    Returns
    -------
    ndarray
        Same shape; 1e6 stands for infinity, 0.3 is the least.
    """
    k = np.asarray(factor, dtype=np.float64)
    p = 0.5 * (1.0 + probability)
    low = np.full(k.shape, np.log(0.3))
    high = np.full(k.shape, np.log(_DOF_MAX))
    for _ in range(60):
        middle = 0.5 * (low + high)
        too_wide = stdtrit(np.exp(middle), p) > k
        low = np.where(too_wide, middle, low)
        high = np.where(too_wide, high, middle)
    return np.asarray(np.exp(0.5 * (low + high)))
