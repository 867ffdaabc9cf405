"""What is believed of the true value once a result is in: normal, or a weighted grid."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.special import log_ndtr

from lodestarch.common.arrays import FloatArray, as_array
from lodestarch.common.errors import OutOfRange
from lodestarch.decide.limits import chance_between
from lodestarch.decide.prior import FlatPrior, LnPrior, NormalPrior, Prior, SamplePrior
from lodestarch.method.liquefaction import LN_OFFSET_S
from lodestarch.method.reading import Kind

__all__ = ["Belief", "GridBelief", "NormalBelief", "Results", "belief", "thin_prior"]

_COARSE: Final = 900
_FINE: Final = 601
_DROP: Final = 45.0
"""A grid runs where the logarithm of the belief is within this of its peak; exp(-45) is 3e-20."""


@dataclass(frozen=True, slots=True)
class Results:
    """Results of one bench, as arrays of one length.

    Parameters
    ----------
    value_s : ndarray
        Reported seconds, or the bound of a censored result. [s]
    u_s : ndarray
        Standard uncertainty; of a censored result that of one that lies on its bound. [s]  Above 0.
    kind : ndarray of int
        ``method.reading.Kind``.
    """

    value_s: FloatArray
    u_s: FloatArray
    kind: npt.NDArray[np.int_]

    @classmethod
    def of(
        cls, value_s: npt.ArrayLike, u_s: npt.ArrayLike, kind: npt.ArrayLike = Kind.EXACT.value
    ) -> Results:
        """Take scalars or arrays.

        Raises
        ------
        OutOfRange
            A value that is not finite, an uncertainty that is not above 0.
        """
        value, u, kinds = np.broadcast_arrays(
            np.atleast_1d(as_array(value_s)), as_array(u_s), np.asarray(kind, dtype=np.int_)
        )
        for name, column, good in (
            ("value_s", value, np.isfinite(value)),
            ("u_s", u, np.isfinite(u) & (u > 0.0)),
        ):
            if not good.all():
                raise OutOfRange(name, float(column[~good][0]), 0.0, float("inf"), "s")
        return cls(value.astype(np.float64), u.astype(np.float64), kinds)


@dataclass(frozen=True, slots=True)
class NormalBelief:
    """The true value is normal. [s]"""

    mean_s: FloatArray
    sd_s: FloatArray

    def report(
        self, slope: FloatArray, shift_s: FloatArray, sd_s: FloatArray, low_s: float, high_s: float
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Chances between, under, over for a report that is normal about slope times truth plus shift."""
        sd = np.hypot(slope * self.sd_s, sd_s)
        return chance_between(slope * self.mean_s + shift_s, sd, low_s, high_s)


@dataclass(frozen=True, slots=True)
class GridBelief:
    """The true value is one of a row of points with weights that sum to 1."""

    points_s: FloatArray
    weights: FloatArray

    @property
    def mean_s(self) -> FloatArray:
        """Mean of the true value. [s]"""
        return np.asarray((self.points_s * self.weights).sum(axis=1), dtype=np.float64)

    @property
    def sd_s(self) -> FloatArray:
        """Standard deviation of the true value. [s]"""
        away = self.points_s - self.mean_s[:, None]
        return np.asarray(np.sqrt((away * away * self.weights).sum(axis=1)), dtype=np.float64)

    def report(
        self, slope: FloatArray, shift_s: FloatArray, sd_s: FloatArray, low_s: float, high_s: float
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Chances between, under, over for a report that is normal about slope times truth plus shift."""
        mean = slope[:, None] * self.points_s + shift_s[:, None]
        between, under, over = chance_between(mean, sd_s[:, None], low_s, high_s)
        w = self.weights
        return (between * w).sum(axis=1), (under * w).sum(axis=1), (over * w).sum(axis=1)


Belief = NormalBelief | GridBelief


def belief(results: Results, prior: Prior) -> Belief:
    """Combine results with a prior.

    Parameters
    ----------
    results : Results
    prior : Prior
        One for all. Under a flat one censored results are taken at their bound: the caller says what that
        is worth (``odds``).

    Returns
    -------
    NormalBelief or GridBelief

    Notes
    -----
    Flat, exact: N(x, u^2). Normal prior, exact: mean m + k (x - m), variance k u^2, k = s^2/(s^2 + u^2).
    Otherwise prior density times likelihood on a grid: exp(-(x - f)^2/(2 u^2)) for an exact result,
    Phi((c - f)/u) at or below c, Phi((f - c)/u) above c. The grid is laid in two passes, so that neither a
    narrow prior nor a small u falls between its points.
    """
    if isinstance(prior, FlatPrior):
        return NormalBelief(results.value_s, results.u_s)
    if isinstance(prior, SamplePrior):
        points = np.broadcast_to(as_array(prior.values_s), (results.value_s.size, prior.values_s.size))
        with np.errstate(divide="ignore"):
            return _weighed(points, _log_likelihood(points, results) + np.log(as_array(prior.weights)))
    if isinstance(prior, NormalPrior) and bool(np.all(results.kind == Kind.EXACT.value)):
        k = prior.sd_s**2 / (prior.sd_s**2 + results.u_s**2)
        return NormalBelief(prior.mean_s + k * (results.value_s - prior.mean_s), np.sqrt(k) * results.u_s)
    return _on_grid(results, prior)


def _log_likelihood(points: FloatArray, results: Results) -> FloatArray:
    z = (points - results.value_s[:, None]) / results.u_s[:, None]
    kind = results.kind[:, None]
    censored = np.where(kind == Kind.ABOVE.value, log_ndtr(z), log_ndtr(-z))
    return np.asarray(np.where(kind == Kind.EXACT.value, -0.5 * z * z, censored), dtype=np.float64)


def _weighed(points: FloatArray, log_weight: FloatArray) -> GridBelief:
    peak = log_weight.max(axis=1, keepdims=True)
    weight = np.exp(log_weight - peak)
    return GridBelief(points, weight / weight.sum(axis=1, keepdims=True))


def _on_grid(results: Results, prior: NormalPrior | LnPrior) -> GridBelief:
    n = results.value_s.size
    own = np.geomspace(0.5, 20_000.0, _COARSE) + LN_OFFSET_S
    if isinstance(prior, NormalPrior):
        own = np.concatenate([own, prior.mean_s + prior.sd_s * np.linspace(-9.0, 9.0, 181)])
    about = results.value_s[:, None] + results.u_s[:, None] * np.linspace(-9.0, 9.0, 181)
    coarse = np.sort(np.concatenate([np.broadcast_to(own, (n, own.size)), about], axis=1), axis=1)
    height = prior.log_density(coarse) + _log_likelihood(coarse, results)
    high = height > height.max(axis=1, keepdims=True) - _DROP
    first = np.maximum(high.argmax(axis=1) - 1, 0)
    last = np.minimum(coarse.shape[1] - high[:, ::-1].argmax(axis=1), coarse.shape[1] - 1)
    low, top = coarse[np.arange(n), first], coarse[np.arange(n), last]
    step = np.linspace(0.0, 1.0, _FINE)
    if isinstance(prior, NormalPrior):
        points = low[:, None] + (top - low)[:, None] * step
        return _weighed(points, prior.log_density(points) + _log_likelihood(points, results))
    # A belief on LN has a long tail in seconds: equal steps of log(FN - 50), each as wide as FN - 50.
    low = np.maximum(low - LN_OFFSET_S, 1e-3)
    beyond = low[:, None] * ((top - LN_OFFSET_S) / low)[:, None] ** step
    points = beyond + LN_OFFSET_S
    return _weighed(points, prior.log_density(points) + np.log(beyond) + _log_likelihood(points, results))


def thin_prior(held: Belief, least: float = 30.0) -> npt.NDArray[np.bool_]:
    """Tell where few points of a weighted sample carry the belief.

    Returns
    -------
    ndarray of bool
        Effective number of points 1/sum w^2 below ``least``; never for a normal belief.
    """
    if isinstance(held, NormalBelief):
        return np.zeros(held.mean_s.size, dtype=np.bool_)
    return np.asarray(1.0 / (held.weights**2).sum(axis=1) < least)
