"""A lab's duplicate pairs read whole: scatter by level, limits, and the pairs that lie too far apart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.control.chart_constants import range_factor
from lodestarch.control.duplicate_rules import p_good_pair_breaks
from lodestarch.precision.pairs import clean_pairs
from lodestarch.precision.scatter_fit import fit_pairs
from lodestarch.precision.scatter_prior import DEFAULT_PRIOR, ScatterPrior
from lodestarch.precision.scatter_result import ScatterSummary, SdAtLevel

__all__ = ["LEVELS_S", "PERCENT_RULE", "DuplicateReport", "FarPair", "LevelLimit", "read_duplicates"]

PERCENT_RULE: Final = 10.0
"""Duplicates may differ by this share of their mean [%]: ISO 3093 (recalled). Loose for a good bench."""
LEVELS_S: Final = (150.0, 200.0, 250.0, 300.0, 350.0, 400.0)
"""Levels reported where none are asked for. [s]"""
_FAR: Final = 0.999
"""Probability within which the gap of a good pair lies; beyond it a pair is named (a choice of ours)."""


@dataclass(frozen=True, slots=True)
class LevelLimit:
    """What duplicates may differ by at a level.

    Parameters
    ----------
    sd : SdAtLevel
        SD of one tube with its interval.
    limit_s, limit_pct : float
        Agreement limit at the stated probability. [s, % of the level]
    p_breaks_percent_rule : float
        Probability that a good pair breaks the percentage rule. [1]
    """

    sd: SdAtLevel
    limit_s: float
    limit_pct: float
    p_breaks_percent_rule: float


@dataclass(frozen=True, slots=True)
class FarPair:
    """A pair further apart than 999 in 1,000 good ones.

    Parameters
    ----------
    row : int
        Place in what was given, from 0.
    name : str or None
    level_s, gap_s, limit_s : float
        Mean, gap, and the 99.9 % limit there. [s]
    """

    row: int
    name: str | None
    level_s: float
    gap_s: float
    limit_s: float


@dataclass(frozen=True, slots=True)
class DuplicateReport:
    """All that a lab's duplicates say.

    Parameters
    ----------
    scatter : ScatterSummary
        The fit in plain values.
    probability : float
        Of the agreement limits. [1]
    levels : tuple of LevelLimit
    far : tuple of FarPair
        Furthest apart first, at most 50.
    far_count : int
    mean_difference_s, u_mean_difference_s : float or None
        First minus second over exact pairs: a second position that runs high shows here. [s]
    findings : tuple of Finding
        Those of the fit, ``duplicates-far-apart`` for each pair named, ``duplicates-second-differs``.
    """

    scatter: ScatterSummary
    probability: float
    levels: tuple[LevelLimit, ...]
    far: tuple[FarPair, ...]
    far_count: int
    mean_difference_s: float | None
    u_mean_difference_s: float | None
    findings: tuple[Finding, ...]


def read_duplicates(
    first_s: npt.ArrayLike,
    second_s: npt.ArrayLike,
    *,
    first_kind: npt.ArrayLike | None = None,
    second_kind: npt.ArrayLike | None = None,
    names: Sequence[str] | None = None,
    probability: float = 0.95,
    at_s: Sequence[float] = LEVELS_S,
    prior: ScatterPrior = DEFAULT_PRIOR,
) -> DuplicateReport:
    """Fit the scatter, set limits, and name the pairs that lie too far apart.

    Parameters
    ----------
    first_s, second_s : array_like
        Seconds of the two tubes, or the bound where the kind is not exact. [s]  Legal 60 to 900.
    first_kind, second_kind : array_like of int, optional
        ``method.reading.Kind``.
    names : sequence of str, optional
        Sample names.
    probability : float
        Of the agreement limits. Above 0, below 1.
    at_s : sequence of float
        Levels to report. [s]
    prior : ScatterPrior

    Returns
    -------
    DuplicateReport
        Always an answer; without usable pairs it is the stated default's, and a finding says so.
    """
    pairs = clean_pairs(first_s, second_s, first_kind=first_kind, second_kind=second_kind, names=names)
    fit = fit_pairs(pairs, prior=prior)
    factor = range_factor(2, probability)
    levels = tuple(
        LevelLimit(
            line,
            factor * line.sd_s,
            100.0 * factor * line.sd_s / line.fn_s,
            p_good_pair_breaks(PERCENT_RULE / 100.0 * line.fn_s, line.sd_s),
        )
        for line in fit.at_levels(at_s)
    )
    exact = pairs.exact
    level, gap, row = pairs.level_s[exact], pairs.gap_s[exact], pairs.row[exact]
    far: tuple[FarPair, ...] = ()
    count = 0
    if level.size:
        limit = range_factor(2, _FAR) * np.asarray(fit.sd_s(level))
        over = np.flatnonzero(gap > limit)
        count = int(over.size)
        over = over[np.argsort(-(gap[over] / limit[over]), kind="stable")][:50]
        far = tuple(
            FarPair(
                int(row[i]), None if names is None else str(names[int(row[i])]),
                float(level[i]), float(gap[i]), float(limit[i]),
            )
            for i in over
        )  # fmt: skip
    shift, u_shift = _shift(pairs.first_s[exact] - pairs.second_s[exact], np.asarray(fit.sd_s(level)))
    findings = [*fit.findings, *_far_findings(far)]
    if shift is not None and u_shift is not None and abs(shift) > 3.0 * u_shift:
        values = {"difference_s": shift, "u_s": u_shift}
        findings.append(Finding("duplicates-second-differs", severity=Severity.CHECK, values=values))
    return DuplicateReport(
        fit.summary(at_s), probability, levels, far, count, shift, u_shift, tuple(findings)
    )


def _far_findings(far: tuple[FarPair, ...]) -> list[Finding]:
    return [
        Finding(
            "duplicates-far-apart", Where(row=f.row + 1, sample=f.name), Severity.CHECK,
            {"gap_s": f.gap_s, "limit_s": f.limit_s},
        )
        for f in far[:20]
    ]  # fmt: skip


def _shift(
    difference: npt.NDArray[np.float64], sd: npt.NDArray[np.float64]
) -> tuple[float | None, float | None]:
    """Mean difference weighted by level, cut at four SDs so that gross errors do not make it."""
    if difference.size < 2:
        return None, None
    spread = np.sqrt(2.0) * sd
    cut = np.clip(difference, -4.0 * spread, 4.0 * spread)
    weight = 1.0 / spread**2
    return float((weight * cut).sum() / weight.sum()), float(1.0 / np.sqrt(weight.sum()))
