"""The model behind ``place_effects``: normal equations, and a mixture over the unknown spread of places."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.special import stdtr, stdtrit

from lodestarch.common.arrays import FloatArray

__all__ = ["RATIO", "Mixture", "Normal", "centring", "groups", "mixture", "normal_equations", "quantile"]

RATIO: Final = np.geomspace(0.02, 3.0, 49)
"""Spread of places over scatter of one tube: the grid on which it is integrated."""
_PRIOR_RATIO: Final = 0.3
"""Scale of the half-normal prior of that ratio (a choice of ours): places that differ by a third of a tube's
scatter are usual, by as much as the scatter itself rare."""


@dataclass(frozen=True, slots=True)
class Normal:
    """Normal equations of the places with the samples taken out."""

    info: FloatArray
    score: FloatArray
    square: float
    dof: float
    used: npt.NDArray[np.bool_]


def normal_equations(
    which: npt.NDArray[np.int64],
    where: npt.NDArray[np.int64],
    y: FloatArray,
    sd: FloatArray,
    n_places: int,
) -> Normal:
    """Information and score of the places: within-sample sums less their sample means."""
    w = 1.0 / sd**2
    n_samples = int(which.max(initial=-1)) + 1
    pairs = which * n_places + where
    weight = np.bincount(pairs, weights=w, minlength=n_samples * n_places).reshape(n_samples, n_places)
    total = weight.sum(axis=1)
    mean = np.bincount(which, weights=w * y, minlength=n_samples) / np.maximum(total, 1e-300)
    r = y - mean[which]
    info = np.diag(weight.sum(axis=0)) - (weight.T / np.maximum(total, 1e-300)) @ weight
    score = np.bincount(where, weights=w * r, minlength=n_places)
    # Readings compare places when their sample was read in more than one.
    several = (weight > 0.0).sum(axis=1) > 1
    repeated = np.bincount(which, minlength=n_samples) > 1
    dof = float(repeated[which].sum() - repeated.sum())
    return Normal(info, np.asarray(score), float((w * r * r).sum()), dof, np.asarray(several[which]))


def groups(info: FloatArray) -> npt.NDArray[np.int64]:
    """Places that are compared with each other, by way of others too."""
    linked = np.abs(info) > 1e-9 * max(float(np.abs(info).max(initial=0.0)), 1e-300)
    _, group = connected_components(coo_matrix(linked), directed=False)
    return np.asarray(group, dtype=np.int64)


@dataclass(frozen=True, slots=True)
class Mixture:
    """Posterior of the effects as a mixture of Student's t over the ratio of spreads."""

    mean: FloatArray
    width: FloatArray
    scatter: FloatArray
    mass: FloatArray
    dof: float


def mixture(e: Normal, centre: FloatArray, sd_dof: float) -> Mixture:
    """Posterior of centred effects.

    Parameters
    ----------
    e : Normal
        In units of the typical tube's scatter.
    centre : ndarray
        Matrix that reads effects against their group's mean.
    sd_dof : float
        Degrees of freedom with which the scatter is known beforehand. Above 0.

    Notes
    -----
    At each ratio of spreads the effects are normal with precision info + I/ratio^2 and the scatter has an
    inverse chi-square posterior, so that they are Student's t together; the marginal likelihood of the ratio
    is ``|I + ratio^2 info|^(-1/2) (sum of squares)^(-nu/2)``.
    """
    k = centre.shape[0]
    nu = sd_dof + e.dof
    log_mass, means, widths, scatter = [], [], [], []
    for ratio in RATIO:
        precision = e.info + np.eye(k) / ratio**2
        cov = np.linalg.inv(precision)
        b = cov @ e.score
        square = sd_dof + e.square - float(e.score @ b)
        log_det = float(np.linalg.slogdet(precision)[1]) + 2.0 * k * math.log(ratio)
        prior = -0.5 * (ratio / _PRIOR_RATIO) ** 2 + math.log(ratio)  # the grid is even in ln ratio
        log_mass.append(-0.5 * log_det - 0.5 * nu * math.log(square) + prior)
        means.append(centre @ b)
        widths.append(np.sqrt(square / nu * np.maximum(np.diag(centre @ cov @ centre.T), 1e-300)))
        scatter.append(math.sqrt(square / nu))
    mass = np.exp(np.array(log_mass) - max(log_mass))
    return Mixture(np.array(means), np.array(widths), np.array(scatter), mass / mass.sum(), nu)


def centring(group: npt.NDArray[np.int64], count: npt.NDArray[np.int64]) -> FloatArray:
    """Effects are read against the mean of the compared places of their group."""
    centre = np.eye(group.size)
    for g in np.unique(group):
        mine = np.flatnonzero((group == g) & (count > 0))
        if mine.size:
            centre[np.ix_(mine, mine)] -= 1.0 / mine.size
    return centre


def quantile(post: Mixture, j: int, probability: float) -> float:
    """Quantile of one effect, by halving."""
    mean, width = post.mean[:, j], post.width[:, j]
    reach = float(stdtrit(post.dof, 1.0 - 1e-9)) * float(width.max())
    low, high = float(mean.min()) - reach, float(mean.max()) + reach
    for _ in range(60):
        middle = 0.5 * (low + high)
        if float(post.mass @ stdtr(post.dof, (middle - mean) / width)) < probability:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)
