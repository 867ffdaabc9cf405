"""What a fit of scatter by level says: the frozen law, how the laws did, SDs with intervals by level."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from lodestarch.common.arrays import FloatArray, Floats, as_array, like
from lodestarch.common.errors import OutOfRange
from lodestarch.common.findings import Finding
from lodestarch.method.scatter import ScatterKind, ScatterLaw
from lodestarch.precision.mixture import half_width, matching_dof, weighted_quantiles
from lodestarch.precision.scatter_shape import Shapes
from lodestarch.precision.scatter_smooth import SmoothPart

__all__ = ["LawScore", "ScatterFit", "ScatterSummary", "SdAtLevel"]

_TABLE: Final = np.geomspace(60.0, 900.0, 65)
_NORMAL: Final = np.linspace(-4.0, 4.0, 33)


@dataclass(frozen=True, slots=True)
class LawScore:
    """How one law did.

    Parameters
    ----------
    kind : str
        ``table`` is the free smooth.
    score : float or None
        Log predictive density of the pairs, each foreseen from the ones before; ``None`` where the law did
        not compete.
    weight : float
        Posterior probability in the choice of one law, among those that compete. [1]
    law : ScatterLaw or None
        Its fitted parameters.
    """

    kind: ScatterKind
    score: float | None
    weight: float
    law: ScatterLaw | None


@dataclass(frozen=True, slots=True)
class SdAtLevel:
    """SD of one reading at a level, with its interval.

    Parameters
    ----------
    fn_s, sd_s, low_s, high_s : float
        Level, median, and ends of the interval. [s]
    probability : float
        Content of the interval. [1]
    dof : float
        Degrees of freedom with which the SD enters a budget.
    """

    fn_s: float
    sd_s: float
    low_s: float
    high_s: float
    probability: float
    dof: float


@dataclass(frozen=True, slots=True)
class ScatterSummary:
    """What a fit says, in plain values that can be printed or kept.

    Parameters
    ----------
    law : ScatterLaw
    choices : tuple of LawScore
    levels : tuple of SdAtLevel
    given, used, exact, one_sided : int
    prior_weight, gross_share, resolution_s : float
        As in ``ScatterFit``.
    """

    law: ScatterLaw
    choices: tuple[LawScore, ...]
    levels: tuple[SdAtLevel, ...]
    given: int
    used: int
    exact: int
    one_sided: int
    prior_weight: float
    gross_share: float
    resolution_s: float


@dataclass(frozen=True, slots=True)
class ScatterFit:
    """Scatter of one tube by level, as a lab's pairs tell it.

    Parameters
    ----------
    law : ScatterLaw
        Law with the best predictive score (and its prior weight), frozen.
    choices : tuple of LawScore
        Every law that stood for choice, best first.
    given, used, exact, one_sided : int
        Pairs given; used; with both tubes exact; with one tube at the floor or stopped.
    prior_weight : float
        Share of the stated default in the scale. [1]  1 without pairs.
    gross_share : float
        Expected share of pairs with a gross error. [1]
    resolution_s : float
        Rounding recognised in the readings and kept out of the scatter. [s]
    findings : tuple of Finding
    """

    law: ScatterLaw
    choices: tuple[LawScore, ...]
    given: int
    used: int
    exact: int
    one_sided: int
    prior_weight: float
    gross_share: float
    resolution_s: float
    findings: tuple[Finding, ...]
    _shapes: Shapes
    _log_scale: FloatArray
    _cell: FloatArray
    _weight: FloatArray
    _shape: npt.NDArray[np.int64]
    _smooth: tuple[SmoothPart, ...]
    _smooth_weight: tuple[float, ...]

    def _atoms(self, fn_s: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Logarithm of the SD of every atom at levels, its cell (both levels by atoms), and weights."""
        log_shape = np.log(self._shapes.at(fn_s))[self._shape]
        parts = [(self._log_scale[:, None] + log_shape).T]
        cells = [np.broadcast_to(self._cell, parts[0].shape)]
        weights = [self._weight]
        normal = np.exp(-0.5 * _NORMAL**2)
        normal /= normal.sum()
        for part, weight in zip(self._smooth, self._smooth_weight, strict=True):
            mean, sd = part.log_sd(fn_s)
            parts.append(mean[:, None] + sd[:, None] * _NORMAL)
            cells.append(np.broadcast_to(sd[:, None] * (_NORMAL[1] - _NORMAL[0]), parts[-1].shape))
            weights.append(weight * normal)
        return np.concatenate(parts, axis=1), np.concatenate(cells, axis=1), np.concatenate(weights)

    def sd_quantiles_s(self, fn_s: FloatArray, probabilities: FloatArray) -> FloatArray:
        """Quantiles of the SD of one reading at levels. [s]

        Parameters
        ----------
        fn_s : ndarray
            Levels. [s]  Legal 60 to 900.
        probabilities : ndarray
            Between 0 and 1.

        Returns
        -------
        ndarray
            Shape (levels, probabilities).
        """
        atoms, cells, weight = self._atoms(_levels(fn_s))
        return np.asarray(np.exp(weighted_quantiles(atoms, cells, weight, np.asarray(probabilities))))

    def sd_s(self, fn_s: Floats) -> Floats:
        """Median of the SD of one reading, averaged over the laws. [s]"""
        return like(fn_s, self._by_table(as_array(fn_s), "sd", 0.95, 1))

    def half_width_s(self, fn_s: Floats, tubes: int = 2, probability: float = 0.95) -> Floats:
        """Half-width of the interval for the bench's long-run mean from the mean of ``tubes`` readings. [s]

        Parameters
        ----------
        fn_s : float or ndarray
            Mean of the readings. [s]  Legal 60 to 900.
        tubes : int
            Readings in the mean. At least 1.
        probability : float
            Content. Above 0, below 1.

        Notes
        -----
        Repeatability alone: grinding, sampling, moisture and the rest are further lines of a budget.
        """
        return like(fn_s, self._by_table(as_array(fn_s), "half", probability, tubes))

    def u_s(self, fn_s: Floats, tubes: int = 2) -> Floats:
        """Standard uncertainty of the mean of ``tubes`` readings, from scatter and rounding alone. [s]"""
        sd = as_array(self.sd_s(fn_s))
        return like(fn_s, np.sqrt((sd**2 + self.resolution_s**2 / 12.0) / tubes))

    def dof(self, fn_s: Floats, tubes: int = 2) -> Floats:
        """Degrees of freedom that give Student's factor the width of the 95 % interval."""
        factor = as_array(self.half_width_s(fn_s, tubes)) / as_array(self.u_s(fn_s, tubes))
        return like(fn_s, matching_dof(factor, 0.95))

    def at_levels(self, fn_s: npt.ArrayLike, probability: float = 0.90) -> tuple[SdAtLevel, ...]:
        """SD with interval and degrees of freedom at a few levels, ready to print."""
        levels = _levels(np.atleast_1d(np.asarray(fn_s, dtype=np.float64)))
        tail = 0.5 * (1.0 - probability)
        q = self.sd_quantiles_s(levels, np.array([tail, 0.5, 1.0 - tail]))
        dof = np.atleast_1d(self.dof(levels))
        return tuple(
            SdAtLevel(float(x), float(m), float(lo), float(hi), probability, float(v))
            for x, (lo, m, hi), v in zip(levels, q, dof, strict=True)
        )

    def summary(self, fn_s: npt.ArrayLike, probability: float = 0.90) -> ScatterSummary:
        """Plain values at a few levels, without the atoms of the posterior."""
        levels = self.at_levels(fn_s, probability)
        return ScatterSummary(
            self.law, self.choices, levels, self.given, self.used, self.exact, self.one_sided,
            self.prior_weight, self.gross_share, self.resolution_s,
        )  # fmt: skip

    def _by_table(self, fn_s: FloatArray, what: str, probability: float, tubes: int) -> FloatArray:
        """Compute a few levels exactly; read many from a table over ln FN."""
        flat = _levels(fn_s.ravel())
        levels = flat if flat.size <= _TABLE.size else _TABLE
        if what == "sd":
            values = self.sd_quantiles_s(levels, np.array([0.5]))[:, 0]
        else:
            atoms, _, weight = self._atoms(levels)
            rounding = self.resolution_s**2 / 12.0
            sd = np.sqrt((np.exp(2.0 * atoms) + rounding) / tubes)
            values = half_width(sd, weight, probability)
        if levels is _TABLE:
            values = np.exp(np.interp(np.log(flat), np.log(_TABLE), np.log(values)))
        return np.asarray(values.reshape(fn_s.shape))


def _levels(fn_s: FloatArray) -> FloatArray:
    x = np.asarray(fn_s, dtype=np.float64)
    bad = x[~((x >= 60.0) & (x <= 900.0))]
    if bad.size:
        raise OutOfRange("fn_s", float(bad.flat[0]), 60.0, 900.0, "s")
    return x
