"""Ratings of varieties and origins: shrunken estimates, with what stands behind each.

Never a bare ranking: each level carries the number of its results, of its site-years and seasons, its
reliability, an interval, and the probability that its next result falls below a limit. One site-year is no
rating.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.special import ndtr, ndtri

from lodestarch.common.arrays import FloatArray
from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.precision.nesting import Index
from lodestarch.season.effects import Effects
from lodestarch.season.scale import Scale, from_scale, rises, to_scale
from lodestarch.season.table import Factor, SeasonTable

__all__ = ["Rating", "Ratings", "distinct_under", "rate"]

_LEAST_TRIALS: Final = 2
"""Site-years below which a level is not rated: one site-year is no rating (a rule of the house)."""


@dataclass(frozen=True, slots=True)
class Rating:
    """One level.

    Parameters
    ----------
    level : str
    results, trials, seasons : int
        Results behind it; site-years (or the cells of all other factors) in which they lie; years.
    mean_s : float
        Plain mean of its results, bounds taken at their bound; shown for comparison only. [s]
    estimate_s, low_s, high_s : float or None
        Shrunken level among average surroundings, with its interval; ``None`` where it is not rated. [s]
    effect, u_effect : float or None
        Deviation from the mean on the scale of the fit, and its standard uncertainty.
    reliability : float or None
        1 - (variance left)/(variance among levels): 0 where the data say nothing, 1 where all. [1]
    below : float or None
        Probability that its next result, in surroundings not met before, lies below the limit. [1]
    """

    level: str
    results: int
    trials: int
    seasons: int
    mean_s: float
    estimate_s: float | None
    low_s: float | None
    high_s: float | None
    effect: float | None
    u_effect: float | None
    reliability: float | None
    below: float | None

    @property
    def rated(self) -> bool:
        """Whether there is a rating."""
        return self.estimate_s is not None


@dataclass(frozen=True, slots=True)
class Ratings:
    """All levels of one factor, in the order of their estimates, those not rated last.

    Parameters
    ----------
    factor : str
    limit_s : float
        Limit of ``below``. [s]
    probability : float
        Content of the intervals.
    lines : tuple of Rating
    findings : tuple of Finding
    """

    factor: str
    limit_s: float
    probability: float
    lines: tuple[Rating, ...]
    findings: tuple[Finding, ...]


def distinct_under(factor: Factor, other: Index) -> Index:
    """How many different numbers of another column each level meets.

    Examples
    --------
    >>> from lodestarch.season.table import factor_of
    >>> distinct_under(factor_of("v", ["A", "A", "B"]), np.array([3, 4, 4])).tolist()
    [2, 1]
    """
    pairs = np.unique(np.stack([factor.codes, other]), axis=1)
    return np.bincount(pairs[0], minlength=factor.size).astype(np.int64)


def _cells(table: SeasonTable, but: int) -> Index:
    """A number for each combination of levels of the other factors."""
    cell = np.zeros(table.n, dtype=np.int64)
    for k, f in enumerate(table.factors):
        if k != but:
            _, cell = np.unique(cell * f.size + f.codes, return_inverse=True)
            cell = cell.ravel()
    return cell


def rate(
    fitted: Effects, factor: str, *, limit_s: float, year: str | None = None, one_season: bool = False
) -> Ratings:
    """Rate the levels of one factor.

    Parameters
    ----------
    fitted : Effects
        With that factor.
    factor : str
    limit_s : float
        Limit that matters to the user. [s]  Above 50.
    year : str, optional
        Factor that stands for the season; seasons are not counted without it.
    one_season : bool
        All results are of one season, so that there is no such factor in the fit.

    Returns
    -------
    Ratings
        With ``season-rating-none`` (the fit gives no answer, or lacks the factor),
        ``season-rating-one-trial`` (levels that are not rated), ``season-rating-nothing`` (the levels do not
        differ beyond chance).

    Notes
    -----
    The estimate is the best linear unbiased prediction; its variance and that of a next result hold the
    uncertainty of the mean, of the level and (for a next result) of every other factor and of what is left
    over. Those of the variances themselves are not in it.
    """
    where = Where(source=fitted.table.source or None, field=factor)
    index = next((i for i, f in enumerate(fitted.table.factors) if f.name == factor), -1)
    if fitted.fit is None or fitted.counts is None or fitted.mean is None or index < 0:
        stop = Finding("season-rating-none", where, Severity.STOP, {"factor": factor})
        return Ratings(factor, limit_s, fitted.probability, (), (stop,))
    f = fitted.table.factors[index]
    lines, few = _lines(fitted, index, f, limit_s, year, one_season=one_season)
    found = []
    if few:
        told: dict[str, Value] = {"factor": factor, "count": few, "levels": f.size}
        found.append(Finding("season-rating-one-trial", where, Severity.CHECK, told))
    if fitted.effects[index].variance == 0.0:
        found.append(Finding("season-rating-nothing", where, Severity.CHECK, {"factor": factor}))
    return Ratings(factor, limit_s, fitted.probability, lines, tuple(found))


def _lines(
    fitted: Effects, index: int, f: Factor, limit_s: float, year: str | None, *, one_season: bool
) -> tuple[tuple[Rating, ...], int]:
    assert fitted.fit is not None  # noqa: S101 - the caller has looked
    assert fitted.counts is not None  # noqa: S101
    assert fitted.mean is not None  # noqa: S101
    v = fitted.fit.variances
    residual, own = float(v[-1]), float(v[index])
    effect = fitted.solution(index)
    left, with_mean = fitted.counts.variances(fitted.fit.solved, index)
    of_mean = float(fitted.fit.solved.inverse[0, 0])
    u_level = np.sqrt(np.maximum(residual * (of_mean + left + 2.0 * with_mean), 0.0))
    others = float(v.sum()) - own
    level = fitted.mean + effect
    below = _below(fitted.scale, level, np.sqrt(u_level**2 + others), limit_s)
    z = float(ndtri(0.5 + 0.5 * fitted.probability))
    ends = [from_scale(fitted.scale, np.asarray(level + side * z * u_level)) for side in (-1.0, 1.0)]
    low, high = np.minimum(*ends), np.maximum(*ends)
    at = from_scale(fitted.scale, level)
    results = np.bincount(f.codes, minlength=f.size)
    trials = distinct_under(f, _cells(fitted.table, index)) if len(fitted.table.factors) > 1 else results
    seasons = np.full(f.size, int(one_season), dtype=np.int64)
    if year is not None and fitted.table.has(year) and year != f.name:
        seasons = distinct_under(f, fitted.table.factor(year).codes)
    plain = np.bincount(f.codes, weights=fitted.table.seconds_s, minlength=f.size) / results
    order = np.argsort(-at, kind="stable")
    rated: list[Rating] = []
    unrated: list[Rating] = []
    for i in order:
        enough = int(trials[i]) >= _LEAST_TRIALS
        reliability = min(max(1.0 - residual * float(left[i]) / own, 0.0), 1.0) if own > 0.0 else 0.0
        line = Rating(
            f.labels[i], int(results[i]), int(trials[i]), int(seasons[i]), float(plain[i]),
            float(at[i]) if enough else None, float(low[i]) if enough else None,
            float(high[i]) if enough else None, float(effect[i]) if enough else None,
            float(math.sqrt(residual * float(left[i]))) if enough else None,
            reliability if enough else None, float(below[i]) if enough else None,
        )  # fmt: skip
        (rated if enough else unrated).append(line)
    return (*rated, *unrated), len(unrated)


def _below(scale: Scale, level: FloatArray, sd: FloatArray, limit_s: float) -> FloatArray:
    limit = float(to_scale(scale, limit_s))
    z = (limit - level) / sd
    return np.asarray(ndtr(z if rises(scale) else -z))
