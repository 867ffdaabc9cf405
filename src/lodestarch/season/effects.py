"""How much of the spread of results goes with variety, origin, year, week, bench or analyst.

Crossed random effects: result = mean + an effect of each factor's level + what is left over, on a scale.
Effects are taken as draws from normal distributions; their variances are estimated by restricted maximum
likelihood.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from lodestarch.common.arrays import FloatArray
from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.season.equations import MOST_REST, Equations, equations
from lodestarch.season.intervals import Ends, sd_interval, share_interval
from lodestarch.season.reml import RemlAt, fit_variances
from lodestarch.season.scale import Scale, log_slope, to_scale
from lodestarch.season.table import SeasonTable, separable

__all__ = ["Effect", "Effects", "ScaleFit", "compare_scales", "fit_effects", "prepared"]

RESIDUAL: Final = "residual"
_FEW_LEVELS: Final = 5
"""Levels below which a component is hardly known (a choice of ours, as in ``precision.components``)."""
_FEW_RESULTS: Final = 3
_NOTHING: Final = 1e-6
"""Share of the variance below which a component is shown as nothing."""


@dataclass(frozen=True, slots=True)
class Effect:
    """One component of variance.

    Parameters
    ----------
    name : str
        Factor; ``residual`` for what is left over.
    levels : int
        Levels met; for the residual, the number of results.
    variance, sd : float
        On the scale of the fit.
    sd_ends : (float or None, float or None)
        Profile-likelihood interval of the SD.
    share : float
        Part of the variance of a single result. [1]
    share_ends : (float or None, float or None)
        Profile-likelihood interval of the share.
    """

    name: str
    levels: int
    variance: float
    sd: float
    sd_ends: Ends
    share: float
    share_ends: Ends


@dataclass(frozen=True, slots=True)
class Effects:
    """Crossed effects of one table.

    Parameters
    ----------
    table : SeasonTable
        The rows and factors that entered.
    scale : Scale
    mean, u_mean : float or None
        Mean on the scale with its standard uncertainty; ``None`` where there is no answer.
    effects : tuple of Effect
        In the order of the factors, the residual last; empty where there is no answer.
    probability : float
        Content of the intervals.
    deviance : float or None
        Minus twice the restricted log likelihood.
    at_floor, above : int
        Results that only bound: taken at their bound in this fit.
    fit : RemlAt or None
    counts : Equations or None
    findings : tuple of Finding
    """

    table: SeasonTable
    scale: Scale
    mean: float | None
    u_mean: float | None
    effects: tuple[Effect, ...]
    probability: float
    deviance: float | None
    at_floor: int
    above: int
    fit: RemlAt | None
    counts: Equations | None
    findings: tuple[Finding, ...]

    def solution(self, factor: int) -> FloatArray:
        """Effects of the levels of one factor, on the scale."""
        if self.fit is None or self.counts is None:
            return np.zeros(0)
        return self.counts.split(factor, self.fit.solved.rest, self.fit.solved.large)


@dataclass(frozen=True, slots=True)
class ScaleFit:
    """How well a scale suits.

    Parameters
    ----------
    scale : Scale
    deviance : float
        Minus twice the log likelihood of the seconds (of results that do not only bound), so that scales can
        be compared: smaller suits better.
    shares : tuple of float
        Shares of variance in the order of the factors, the residual last.
    """

    scale: Scale
    deviance: float
    shares: tuple[float, ...]


def prepared(
    table: SeasonTable, scale: Scale, *, bounds: str = "as read"
) -> tuple[SeasonTable, FloatArray, tuple[Finding, ...], Finding | None]:
    """Rows that can enter a fit on a scale, their values there, findings, and why there is no answer.

    Parameters
    ----------
    table : SeasonTable
    scale : Scale
    bounds : {"as read", "left out", "kept"}
        What becomes of results that only bound: taken at their bound, left out, or kept for a censored fit.
        On the scales of logarithm and liquefaction number "as read" leaves them out, because a bound
        transformed as if it were a reading pulls everything with it.
    """
    where = Where(source=table.source or None)
    good, findings = separable(table)
    n_bound = int(np.count_nonzero(~good.exact))
    found = list(findings)
    stop: Finding | None = None
    if good.n and n_bound == good.n:
        stop = Finding("season-all-bounds", where, Severity.STOP, {"count": n_bound})
        return good, np.zeros(0), tuple(found), stop
    leave = bounds == "left out" or (bounds == "as read" and scale is not Scale.SECONDS)
    if n_bound and bounds != "kept":
        share = 100.0 * n_bound / good.n
        code = "season-bounds-left-out" if leave else "season-bounds-as-read"
        found.append(Finding(code, where, Severity.CHECK, {"count": n_bound, "share_pct": share}))
        if leave:
            good, more = separable(good.at(good.exact))
            found += [f for f in more if f.code != "season-factor-within"]
    y = to_scale(scale, good.seconds_s)
    if good.n < _FEW_RESULTS:
        stop = Finding("season-results-few", where, Severity.STOP, {"count": good.n, "enough": _FEW_RESULTS})
    elif not good.factors:
        stop = Finding("season-no-factor", where, Severity.STOP, {"count": good.n})
    elif float(np.ptp(y)) <= 1e-12 * float(np.abs(y).max()):
        stop = Finding("season-values-equal", where, Severity.STOP, {"count": good.n})
    else:
        sizes = sorted(f.size for f in good.factors)
        rest = sum(sizes[:-1])
        if rest > MOST_REST:
            told: dict[str, Value] = {"levels": rest, "most": MOST_REST}
            stop = Finding("season-levels-many", where, Severity.STOP, told)
    return good, y, tuple(found), stop


def fit_effects(
    table: SeasonTable, scale: Scale = Scale.SECONDS, *, probability: float = 0.95, bounds: str = "as read",
    intervals: bool = True,
) -> Effects:  # fmt: skip
    """Estimate crossed random effects.

    Parameters
    ----------
    table : SeasonTable
        With the factors to tell apart.
    scale : Scale
    probability : float
        Content of the intervals.
    bounds : {"as read", "left out"}
        What becomes of results that only bound, see :func:`prepared`.
    intervals : bool
        ``False`` leaves the intervals out.

    Returns
    -------
    Effects
        Findings beside those of ``table.separable``: ``season-bounds-as-read``, ``season-bounds-left-out``,
        ``season-all-bounds``, ``season-results-few``, ``season-no-factor``, ``season-values-equal``,
        ``season-levels-many``, ``season-no-residual`` (no answer); ``season-levels-few``,
        ``season-effect-nothing`` (notes).

    Examples
    --------
    >>> from lodestarch.season.table import factor_of, table_of
    >>> year = factor_of("year", ["1999"] * 3 + ["2000"] * 3 + ["2001"] * 3)
    >>> e = fit_effects(table_of([310.0, 298, 305, 250, 262, 251, 341, 330, 333], [year]))
    >>> [(x.name, x.levels, round(x.sd)) for x in e.effects]
    [('year', 3, 40), ('residual', 9, 6)]
    """
    good, y, findings, stop = prepared(table, scale, bounds=bounds)
    below = int(np.count_nonzero(good.kind == 1))
    above = int(np.count_nonzero(good.kind == 2))
    none = Effects(good, scale, None, None, (), probability, None, below, above, None, None, findings)
    if stop is not None:
        return replace(none, findings=(*findings, stop))
    if _explained(good, y):
        stop = Finding(
            "season-no-residual", Where(source=table.source or None), Severity.STOP, {"count": good.n}
        )
        return replace(none, findings=(*findings, stop))
    centre = float(y.mean())
    eq = equations([f.codes for f in good.factors], [f.size for f in good.factors], y - centre)
    fit = fit_variances(eq)
    where = Where(source=table.source or None)
    if float(fit.variances[-1]) <= 1e-6 * float(fit.variances.sum()):
        stop = Finding("season-no-residual", where, Severity.STOP, {"count": good.n})
        return replace(none, findings=(*findings, stop))
    effects = _effects(good, eq, fit, probability, intervals=intervals)
    mean = centre + float(fit.solved.rest[0])
    u_mean = math.sqrt(float(fit.variances[-1] * fit.solved.inverse[0, 0]))
    return replace(
        none, mean=mean, u_mean=u_mean, effects=effects, deviance=fit.deviance, fit=fit, counts=eq,
        findings=(*findings, *_notes(effects, where)),
    )  # fmt: skip


def _explained(table: SeasonTable, y: FloatArray) -> bool:
    """Whether all values within each combination of levels are equal, and some have more than one."""
    cell = np.zeros(table.n, dtype=np.int64)
    for f in table.factors:
        _, cell = np.unique(cell * f.size + f.codes, return_inverse=True)
        cell = cell.ravel()
    count = np.bincount(cell)
    rest = y - (np.bincount(cell, weights=y) / count)[cell]
    return bool(np.any(count > 1)) and float(np.abs(rest).max()) <= 1e-9 * float(np.ptp(y))


def _effects(
    table: SeasonTable, eq: Equations, fit: RemlAt, probability: float, *, intervals: bool
) -> tuple[Effect, ...]:
    total = float(fit.variances.sum())
    names = [*((f.name, f.size) for f in table.factors), (RESIDUAL, table.n)]
    out = []
    for k, (name, levels) in enumerate(names):
        v = float(fit.variances[k])
        v = 0.0 if v < _NOTHING * total else v
        sd_ends: Ends = (None, None)
        share_ends: Ends = (None, None)
        if intervals:
            sd_ends = sd_interval(eq, fit, k, probability)
            share_ends = share_interval(eq, fit, k, probability)
        out.append(Effect(name, levels, v, math.sqrt(v), sd_ends, v / total, share_ends))
    return tuple(out)


def _notes(effects: tuple[Effect, ...], where: Where) -> list[Finding]:
    out = []
    for e in effects[:-1]:
        if e.levels < _FEW_LEVELS:
            told: dict[str, Value] = {"factor": e.name, "levels": e.levels, "enough": _FEW_LEVELS}
            out.append(Finding("season-levels-few", where, Severity.NOTE, told))
        if e.variance == 0.0:
            out.append(Finding("season-effect-nothing", where, Severity.NOTE, {"factor": e.name}))
    return out


def compare_scales(table: SeasonTable) -> tuple[ScaleFit, ...]:
    """Fit the same results on every scale and say which suits best, the best first.

    Parameters
    ----------
    table : SeasonTable

    Returns
    -------
    tuple of ScaleFit
        Empty where there is no answer. Results that only bound are left out, so that every scale sees the
        same.

    Notes
    -----
    The deviance is that of the full likelihood (not the restricted one, whose missing mean has another unit
    on every scale) at the variances of the restricted fit, plus the logarithm of the slope of the scale, so
    that all are densities of seconds.
    """
    good, _, _, stop = prepared(table, Scale.SECONDS, bounds="left out")
    if stop is not None or float(good.seconds_s.min()) <= 51.0:
        return ()
    out = []
    for scale in Scale:
        y = to_scale(scale, good.seconds_s)
        eq = equations([f.codes for f in good.factors], [f.size for f in good.factors], y - y.mean())
        fit = fit_variances(eq)
        s = float(fit.variances[-1])
        full = fit.deviance + math.log(float(fit.solved.inverse[0, 0]) * s) + math.log(2.0 * math.pi)
        full -= 2.0 * float(log_slope(scale, good.seconds_s).sum())
        shares = tuple(float(v) for v in fit.variances / fit.variances.sum())
        out.append(ScaleFit(scale, full, shares))
    return tuple(sorted(out, key=lambda f: f.deviance))
