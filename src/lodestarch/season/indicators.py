"""Weather beside measured falling numbers: an explanation with its method named, and an opt-in local fit.

No number of seconds is ever computed from weather alone: a harvest without results has no line here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from lodestarch.common.errors import UnknownName
from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.season.local_fit import MARGIN, LocalFit, local_fit
from lodestarch.season.table import NO_DATE, SeasonTable
from lodestarch.season.weather import INDICATORS, Weather, indicator

__all__ = ["HARVEST_DAY", "RAIN_TELLS_MM", "Harvest", "IndicatorRecord", "explain"]

HARVEST_DAY: Final = "harvest_day"
"""Day of the year of harvest (1 January is 1): no weather, and known only when testing is possible anyway."""

RAIN_TELLS_MM: Final = 25.0
"""Rain in the 20 days before harvest from which sprouting is called plausible. [mm]  A choice of ours, not a
published threshold: no transferable figure of seconds per millimetre exists."""


@dataclass(frozen=True, slots=True)
class Harvest:
    """One harvest date of one season.

    Parameters
    ----------
    season : int
    day : int
        Days since 1970-01-01.
    results, at_bound : int
        Results, and those that only bound.
    mean_s, low_s, high_s : float
        Mean, least and greatest, bounds taken at their bound. [s]
    values : tuple of (float or None)
        Indicators in the order of ``IndicatorRecord.names``.
    missing : tuple of int
        Days missing in each one's window.
    cause : str
        ``sprouting-plausible``, ``little-rain`` or ``not-evaluated``.
    """

    season: int
    day: int
    results: int
    at_bound: int
    mean_s: float
    low_s: float
    high_s: float
    values: tuple[float | None, ...]
    missing: tuple[int, ...]
    cause: str


@dataclass(frozen=True, slots=True)
class IndicatorRecord:
    """Weather beside results.

    Parameters
    ----------
    names : tuple of str
        Indicators, the day of harvest last.
    harvests : tuple of Harvest
        By date.
    fits : tuple of LocalFit
        One for each that was asked for.
    findings : tuple of Finding
    """

    names: tuple[str, ...]
    harvests: tuple[Harvest, ...]
    fits: tuple[LocalFit, ...]
    findings: tuple[Finding, ...]


def explain(
    table: SeasonTable, weather: Weather | None, *, fits: Sequence[str] = (), margin: float = MARGIN
) -> IndicatorRecord:
    """Put weather beside results, and judge the fits asked for.

    Parameters
    ----------
    table : SeasonTable
        With harvest dates.
    weather : Weather or None
        Of one station; without it only the day of harvest is there.
    fits : sequence of str
        Predictors fixed beforehand: an indicator, ``harvest_day``, or two joined by ``+``.
    margin : float
        See ``local_fit``.

    Returns
    -------
    IndicatorRecord
        With ``season-dates-none`` (no answer), ``season-window-missing`` (an indicator that is not given for
        want of days), ``season-rain-prorated`` (rain from monthly totals), ``season-no-flowering`` (what is
        not looked at), ``season-fits-many`` (several fits tried), and the verdict of each fit.

    Raises
    ------
    UnknownName
        When a fit names no indicator.
    """
    where = Where(source=table.source or None)
    dated = table.at((table.day != NO_DATE) & np.isfinite(table.seconds_s))
    names = (*(INDICATORS if weather is not None else ()), HARVEST_DAY)
    asked = [tuple(p.strip() for p in f.split("+")) for f in fits]
    for parts in asked:
        for p in parts:
            if p not in names:
                raise UnknownName("indicator", p, names)
    if dated.n == 0:
        stop = Finding("season-dates-none", where, Severity.STOP, {})
        return IndicatorRecord(names, (), (), (stop,))
    harvests = tuple(_harvest(dated, int(d), weather) for d in np.unique(dated.day))
    found = _remarks(harvests, names, weather, where)
    made = []
    for parts in asked:
        one = local_fit(*_seasons(harvests, [names.index(p) for p in parts]), parts, margin=margin)
        made.append(one)
        found += [replace(f, where=where) for f in one.findings]
    if len(asked) > 1:
        told: dict[str, Value] = {"count": len(asked)}
        found.append(Finding("season-fits-many", where, Severity.NOTE, told))
    return IndicatorRecord(names, harvests, tuple(made), tuple(found))


def _harvest(table: SeasonTable, day: int, weather: Weather | None) -> Harvest:
    rows = table.day == day
    y = table.seconds_s[rows]
    date = np.datetime64(day, "D")
    start = date.astype("datetime64[Y]")
    values: list[float | None] = []
    missing: list[int] = []
    if weather is not None:
        for one in INDICATORS.values():
            value, lacks = indicator(weather, day, one)
            values.append(value)
            missing.append(lacks)
    rain = values[list(INDICATORS).index("rain_20")] if weather is not None else None
    values.append(float((date - start.astype("datetime64[D]")).astype(int) + 1))
    missing.append(0)
    cause = "not-evaluated"
    if rain is not None and weather is not None and not weather.rain_from_months:
        # A month spread evenly over its days does not say whether it rained before or after harvest.
        cause = "sprouting-plausible" if rain >= RAIN_TELLS_MM else "little-rain"
    return Harvest(
        int(str(start)), day, int(rows.sum()), int(np.count_nonzero(~table.exact[rows])), float(y.mean()),
        float(y.min()), float(y.max()), tuple(values), tuple(missing), cause,
    )  # fmt: skip


def _remarks(
    harvests: Sequence[Harvest], names: Sequence[str], weather: Weather | None, where: Where
) -> list[Finding]:
    found: list[Finding] = []
    for i, name in enumerate(names):
        without = sum(h.values[i] is None for h in harvests)
        if without and without < len(harvests):
            told: dict[str, Value] = {"what": name, "count": without, "harvests": len(harvests)}
            found.append(Finding("season-window-missing", where, Severity.CHECK, told))
    bounds = sum(h.at_bound for h in harvests)
    if bounds:
        total = sum(h.results for h in harvests)
        told = {"count": bounds, "share_pct": 100.0 * bounds / total}
        found.append(Finding("season-bounds-as-read", where, Severity.CHECK, told))
    if weather is not None:
        if weather.rain_from_months:
            found.append(Finding("season-rain-prorated", where, Severity.NOTE, {}))
        found.append(Finding("season-no-flowering", where, Severity.NOTE, {}))
    return found


def _seasons(harvests: Sequence[Harvest], columns: Sequence[int]) -> tuple[np.ndarray, np.ndarray]:
    """Mean and predictors of each season, its harvest dates weighted by their results."""
    seasons = sorted({h.season for h in harvests})
    y, x = np.empty(len(seasons)), np.full((len(seasons), len(columns)), np.nan)
    for i, season in enumerate(seasons):
        own = [h for h in harvests if h.season == season]
        weight = np.array([h.results for h in own], dtype=np.float64)
        y[i] = float(np.average([h.mean_s for h in own], weights=weight))
        for j, c in enumerate(columns):
            values = np.array([np.nan if h.values[c] is None else h.values[c] for h in own], dtype=np.float64)
            x[i, j] = float(np.average(values, weights=weight))
    return y, x
