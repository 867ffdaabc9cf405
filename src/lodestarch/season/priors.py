"""What the season so far says of the next lot, before it is tested; silent where it does not help.

A prior is judged on results it has not seen: the table is cut into blocks in the order of time, each block is
predicted from all blocks before it, and the logarithm of the density given to what came is the score. It is
offered only where it beats a flat prior, and the plain mean of the season as well, by two standard errors.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from typing import Final

import numpy as np
from scipy.special import log_ndtr, ndtr

from lodestarch.common.arrays import FloatArray
from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.decide.prior import FlatPrior, NormalPrior
from lodestarch.precision.nesting import Index
from lodestarch.season.effects import Effects, fit_effects
from lodestarch.season.table import NO_DATE, SeasonTable

__all__ = [
    "FLAT_S", "BlockScore", "Offer", "PriorRecord", "blocks_of", "gathered", "judge_priors", "predicted",
    "prior_for", "score_block",
]  # fmt: skip

FLAT_S: Final = (60.0, 600.0)
"""Span over which the flat prior is even. [s]  60 s of stirring is the least possible; 600 is our choice."""

_BLOCKS: Final = 8
_FIRST: Final = 0.3
"""Part of the table that is learnt from before the first prediction."""
_LEAST_SCORED: Final = 30
_BINS: Final = 10
_AT_ONCE: Final = 256


class Offer(StrEnum):
    """Which prior is offered."""

    NEAR = "near"
    """From variety, place and time of the lot."""
    POOLED = "pooled"
    """From the season's mean and spread only: nearness does not help."""
    SILENT = "silent"
    """None: the season does not beat a flat prior."""


@dataclass(frozen=True, slots=True)
class BlockScore:
    """Scores of one block, predicted from all before it; not a number where nothing could be predicted.

    Parameters
    ----------
    near, pooled, flat : ndarray
        Log score of each result. [ln(1/s)]
    place : ndarray
        Probability that was given to a smaller value than came; not a number for bounds.
    """

    near: FloatArray
    pooled: FloatArray
    flat: FloatArray
    place: FloatArray


@dataclass(frozen=True, slots=True)
class PriorRecord:
    """How priors have done.

    Parameters
    ----------
    scored : int
        Results that were predicted before they were looked at.
    near, pooled, flat : float or None
        Mean log scores; greater is better.
    over_flat, u_over_flat, over_pooled, u_over_pooled : float or None
        Mean gains of the near prior with their standard errors, blocks taken as units.
    places : tuple of int
        Results by tenths of the probability given beforehand; all alike where calibrated.
    offer : Offer
    findings : tuple of Finding
    """

    scored: int
    near: float | None
    pooled: float | None
    flat: float | None
    over_flat: float | None
    u_over_flat: float | None
    over_pooled: float | None
    u_over_pooled: float | None
    places: tuple[int, ...]
    offer: Offer
    findings: tuple[Finding, ...]


def blocks_of(table: SeasonTable, blocks: int = _BLOCKS) -> tuple[SeasonTable, tuple[tuple[int, int], ...]]:
    """The table in the order of time, and where each block to predict begins and ends.

    Rows without a date keep their place in the sheet; results of one day are never parted.
    """
    dated = bool(np.all(table.day != NO_DATE)) and table.n > 0
    order = np.argsort(table.day, kind="stable") if dated else np.arange(table.n)
    ordered = table.at(order)
    cuts = np.linspace(_FIRST * table.n, table.n, blocks + 1).astype(np.int64)
    if dated:
        cuts = np.searchsorted(ordered.day, ordered.day[np.minimum(cuts, table.n - 1)], side="left")
        cuts[-1] = table.n
    cuts = np.unique(cuts)
    pairs = pairwise(cuts)
    return ordered, tuple((int(a), int(b)) for a, b in pairs if a > 0)


def predicted(fitted: Effects, codes: Sequence[Index]) -> tuple[FloatArray, FloatArray]:
    """Mean and SD of the next result of each row, on the scale of the fit.

    Parameters
    ----------
    fitted : Effects
        With an answer.
    codes : sequence of ndarray of int64
        Level of each row by factor of the fit; -1 for a level not met before.
    """
    assert fitted.fit is not None  # noqa: S101 - the caller has looked
    assert fitted.counts is not None  # noqa: S101
    assert fitted.mean is not None  # noqa: S101
    eq, solved, v = fitted.counts, fitted.fit.solved, fitted.fit.variances
    m = codes[0].size
    mean = np.full(m, fitted.mean)
    variance = np.full(m, float(v[-1]))
    for k, code in enumerate(codes):
        known = code >= 0
        mean[known] += fitted.solution(k)[code[known]]
        variance[~known] += float(v[k])
    for first in range(0, m, _AT_ONCE):
        part = slice(first, min(first + _AT_ONCE, m))
        width = part.stop - part.start
        rest, large = np.zeros((eq.rest.shape[0], width)), np.zeros((eq.count.size, width))
        rest[0] = 1.0
        at = np.arange(width)
        for k, code in enumerate(codes):
            own = code[part]
            known = own >= 0
            if k == eq.large:
                large[own[known], at[known]] = 1.0
            else:
                rest[eq.start[k] + own[known], at[known]] = 1.0
        b_rest, b_large = eq.back(solved, rest, large)
        left = np.einsum("ij,ij->j", rest, b_rest) + np.einsum("ij,ij->j", large, b_large)
        variance[part] += float(v[-1]) * left
    return mean, np.sqrt(variance)


def score_block(table: SeasonTable, start: int, stop: int) -> BlockScore:
    """Predict the rows from ``start`` to ``stop`` from all before them, and score what came.

    Parameters
    ----------
    table : SeasonTable
        In the order of time.
    start, stop : int
    """
    new = table.at(np.arange(start, stop))
    none = np.full(new.n, np.nan)
    fitted = fit_effects(table.at(np.arange(start)), intervals=False)
    if fitted.fit is None:
        return BlockScore(none, none, none, none)
    codes = []
    for f in fitted.table.factors:
        there = {label: i for i, label in enumerate(f.labels)}
        own = new.factor(f.name)
        # The last place answers for what is not stated: a code of -1.
        to = np.array([*(there.get(label, -1) for label in own.labels), -1], dtype=np.int64)
        codes.append(to[own.codes])
    mean, sd = predicted(fitted, codes)
    y = fitted.table.seconds_s
    plain = (
        np.full(new.n, float(y.mean())),
        np.full(new.n, float(y.std(ddof=1)) * math.sqrt(1.0 + 1.0 / y.size)),
    )
    near = _score(new, mean, sd)
    place = np.where(new.exact, ndtr((new.seconds_s - mean) / sd), np.nan)
    low, high = FLAT_S
    flat = np.full(new.n, -math.log(high - low))
    flat[new.kind == 1] = np.log(np.clip((new.seconds_s[new.kind == 1] - low) / (high - low), 1e-3, 1.0))
    flat[new.kind == 2] = np.log(np.clip((high - new.seconds_s[new.kind == 2]) / (high - low), 1e-3, 1.0))
    return BlockScore(near, _score(new, *plain), flat, place)


def _score(new: SeasonTable, mean: FloatArray, sd: FloatArray) -> FloatArray:
    z = (new.seconds_s - mean) / sd
    out = -0.5 * z**2 - np.log(sd) - 0.5 * math.log(2.0 * math.pi)
    out = np.where(new.kind == 1, log_ndtr(z), out)
    return np.asarray(np.where(new.kind == 2, log_ndtr(-z), out))


def gathered(scores: Sequence[BlockScore], source: str = "") -> PriorRecord:
    """Judge from the scores of all blocks.

    Returns
    -------
    PriorRecord
        With ``season-prior-few`` (too few results to judge: silent), ``season-prior-silent``,
        ``season-prior-pooled``.
    """
    where = Where(source=source or None)
    good = [s for s in scores if np.isfinite(s.near).any()]
    near = np.concatenate([s.near for s in good]) if good else np.zeros(0)
    keep = np.isfinite(near)
    n = int(keep.sum())
    if n < _LEAST_SCORED or len(good) < 3:
        told: dict[str, Value] = {"count": n, "enough": _LEAST_SCORED}
        few = Finding("season-prior-few", where, Severity.NOTE, told)
        return PriorRecord(n, None, None, None, None, None, None, None, (), Offer.SILENT, (few,))
    pooled = np.concatenate([s.pooled for s in good])[keep]
    flat = np.concatenate([s.flat for s in good])[keep]
    place = np.concatenate([s.place for s in good])
    unit = np.concatenate([np.full(s.near.size, i) for i, s in enumerate(good)])[keep]
    near = near[keep]
    over_flat, u_flat = _gain(near - flat, unit)
    over_pooled, u_pooled = _gain(near - pooled, unit)
    pooled_gain, u_pooled_gain = _gain(pooled - flat, unit)
    bins = np.clip((place[np.isfinite(place)] * _BINS).astype(np.int64), 0, _BINS - 1)
    places = tuple(int(c) for c in np.bincount(bins, minlength=_BINS))
    if over_flat > 2.0 * u_flat and over_pooled > 2.0 * u_pooled:
        offer, remarks = Offer.NEAR, []
    elif pooled_gain > 2.0 * u_pooled_gain:
        told = {"gain": over_pooled, "u_gain": u_pooled, "count": n}
        offer, remarks = Offer.POOLED, [Finding("season-prior-pooled", where, Severity.NOTE, told)]
    else:
        told = {"gain": over_flat, "u_gain": u_flat, "count": n}
        offer, remarks = Offer.SILENT, [Finding("season-prior-silent", where, Severity.NOTE, told)]
    return PriorRecord(
        n, float(near.mean()), float(pooled.mean()), float(flat.mean()), over_flat, u_flat, over_pooled,
        u_pooled, places, offer, tuple(remarks),
    )  # fmt: skip


def _gain(difference: FloatArray, unit: Index) -> tuple[float, float]:
    """Mean difference and its standard error, results of one block moving together."""
    used, code, count = np.unique(unit, return_inverse=True, return_counts=True)
    mean = float(difference.mean())
    sums = np.bincount(code.ravel(), weights=difference) - mean * count
    m = used.size
    return mean, math.sqrt(float(sums @ sums) * m / max(m - 1, 1)) / difference.size


def judge_priors(table: SeasonTable, *, blocks: int = _BLOCKS) -> PriorRecord:
    """Judge the priors of a table on results that they have not seen.

    Parameters
    ----------
    table : SeasonTable
        With what is near: variety, origin, week.
    blocks : int
        Parts to predict, at least 3.
    """
    ordered, parts = blocks_of(table, blocks)
    return gathered([score_block(ordered, a, b) for a, b in parts], table.source)


def prior_for(
    record: PriorRecord, fitted: Effects, levels: Mapping[str, str], *, u_s: float = 0.0
) -> NormalPrior | FlatPrior:
    """The prior of the true value of one lot.

    Parameters
    ----------
    record : PriorRecord
        Of the same table.
    fitted : Effects
        On the scale of seconds.
    levels : mapping of str to str
        Its level by factor; a level not met, or none, leaves that factor's whole spread.
    u_s : float
        Standard uncertainty of a single result, which is no part of the true value's spread. [s]

    Returns
    -------
    NormalPrior or FlatPrior
        Flat where the record is silent.
    """
    if record.offer is Offer.SILENT or fitted.fit is None or fitted.mean is None:
        return FlatPrior()
    factors = fitted.table.factors
    if record.offer is Offer.POOLED:
        levels = {}
    codes = [
        np.array([f.labels.index(levels[f.name]) if levels.get(f.name) in f.labels else -1]) for f in factors
    ]
    mean, sd = predicted(fitted, codes)
    spread = max(float(sd[0]) ** 2 - u_s**2, (0.2 * float(sd[0])) ** 2)
    return NormalPrior(float(mean[0]), math.sqrt(spread))
