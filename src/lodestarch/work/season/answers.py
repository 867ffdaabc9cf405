"""Answers to questions to the season."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from lodestarch.common.errors import UnknownName
from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.season.blends import BlendRecord, compare_blends
from lodestarch.season.censored import Censored, fit_censored
from lodestarch.season.effects import Effects, ScaleFit, compare_scales, fit_effects
from lodestarch.season.faults import Fault, find_faults
from lodestarch.season.indicators import IndicatorRecord, explain
from lodestarch.season.local_fit import MARGIN
from lodestarch.season.ratings import Ratings, rate
from lodestarch.season.scale import Scale
from lodestarch.sheets.blend_sheet import read_blends
from lodestarch.sheets.season_sheet import SeasonSheet
from lodestarch.sheets.weather_sheet import joined, read_weather

__all__ = [
    "BlendAnswer", "EffectsAnswer", "FaultAnswer", "IndicatorAnswer", "RatingAnswer", "blends_of",
    "effects_of", "faults_of", "indicators_of", "ratings_of", "scale_named",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class EffectsAnswer:
    """Effects of a table; ``effects`` is ``None`` where it cannot be read."""

    effects: Effects | None
    censored: Censored | None
    scales: tuple[ScaleFit, ...]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class RatingAnswer:
    """Ratings of one or more factors."""

    ratings: tuple[Ratings, ...]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class IndicatorAnswer:
    """Weather beside results; ``None`` where the table cannot be read."""

    record: IndicatorRecord | None
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class FaultAnswer:
    """Suspicions; ``looked`` is False where the table cannot be read or holds too little."""

    faults: tuple[Fault, ...]
    results: int
    looked: bool
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class BlendAnswer:
    """Own blends held against the law."""

    record: BlendRecord
    findings: tuple[Finding, ...]


def scale_named(name: str) -> Scale:
    """A scale by its name.

    Raises
    ------
    UnknownName
        When there is none.
    """
    if name not in {s.value for s in Scale}:
        raise UnknownName("scale", name, tuple(s.value for s in Scale))
    return Scale(name)


def effects_of(
    sheet: SeasonSheet, *, scale: Scale = Scale.SECONDS, probability: float = 0.95, censored: bool = False,
    compare: bool = True,
) -> EffectsAnswer:  # fmt: skip
    """Shares of variance of each factor.

    Parameters
    ----------
    sheet : SeasonSheet
    scale : Scale
    probability : float
        Content of the intervals.
    censored : bool
        Fit once more with bounds taken as bounds.
    compare : bool
        Say how well each scale suits.
    """
    if sheet.table is None:
        return EffectsAnswer(None, None, (), sheet.findings)
    fitted = fit_effects(sheet.table, scale, probability=probability)
    answered = fitted.fit is not None
    apart = fit_censored(sheet.table, scale, probability=probability) if censored and answered else None
    scales = compare_scales(sheet.table) if compare and answered else ()
    return EffectsAnswer(fitted, apart, scales, (*sheet.findings, *fitted.findings))


def ratings_of(
    sheet: SeasonSheet, *, of: Sequence[str] = (), limit_s: float = 250.0, scale: Scale = Scale.SECONDS,
    probability: float = 0.95, fitted: Effects | None = None,
) -> RatingAnswer:  # fmt: skip
    """Ratings of the levels of factors: all but the season and its weeks where none is named.

    ``fitted`` is the fit of the same table where it has been made.

    Raises
    ------
    UnknownName
        When a factor is named that the table does not have.
    """
    if sheet.table is None:
        return RatingAnswer((), sheet.findings)
    fitted = fitted or fit_effects(sheet.table, scale, probability=probability, intervals=False)
    met = tuple(f.name for f in sheet.table.factors)
    for name in of:
        if name not in met:
            raise UnknownName("factor", name, met)
    kept = {f.name for f in fitted.table.factors}
    names = of or tuple(n for n in met if n not in {sheet.year, sheet.week} and n in kept)
    if not names and fitted.fit is not None:
        names = tuple(kept)
    one = sheet.year in met and sheet.table.factor(sheet.year).size == 1
    made = tuple(rate(fitted, n, limit_s=limit_s, year=sheet.year or None, one_season=one) for n in names)
    found = (*sheet.findings, *fitted.findings, *(f for r in made for f in r.findings))
    if fitted.fit is None:
        made = ()
        found = (*sheet.findings, *fitted.findings)
    return RatingAnswer(made, found)


def indicators_of(
    sheet: SeasonSheet, files: Sequence[tuple[str, bytes]], *, mapping: Mapping[str, str] | None = None,
    dates: str = "iso", fahrenheit: bool = False, inches: bool = False, fits: Sequence[str] = (),
    margin: float = MARGIN,
) -> IndicatorAnswer:  # fmt: skip
    """Weather beside results.

    Parameters
    ----------
    sheet : SeasonSheet
    files : sequence of (str, bytes)
        A station's files: daily, monthly, or one of each.
    mapping, dates, fahrenheit, inches
        As in ``sheets.weather_sheet.read_weather``.
    fits, margin
        As in ``season.indicators.explain``.
    """
    if sheet.table is None:
        return IndicatorAnswer(None, sheet.findings)
    read = [
        read_weather(data, name, mapping=mapping, dates=dates, fahrenheit=fahrenheit, inches=inches)
        for name, data in files
    ]
    found = [*sheet.findings, *(f for r in read for f in r.findings)]
    stations = [r.weather for r in read if r.weather is not None]
    if len(stations) < len(files):
        return IndicatorAnswer(None, tuple(found))
    record = explain(sheet.table, joined(stations) if stations else None, fits=fits, margin=margin)
    if not files:
        found.append(Finding("season-no-weather", Where(source=sheet.table.source), Severity.NOTE))
    told = {f.code for f in record.findings}
    found = [f for f in found if f.code not in told or f.code != "season-dates-none"]
    return IndicatorAnswer(record, (*found, *record.findings))


def faults_of(sheet: SeasonSheet) -> FaultAnswer:
    """Faults in the data, each with its evidence."""
    if sheet.table is None:
        return FaultAnswer((), 0, looked=False, findings=sheet.findings)
    faults, notes = find_faults(sheet.table)
    few = any(f.code == "season-faults-few" for f in notes)
    found = (*sheet.findings, *(f.finding for f in faults), *notes)
    return FaultAnswer(faults, sheet.table.n, looked=not few, findings=found)


def blends_of(
    data: bytes, name: str, *, cap_s: float | None, probability: float = 0.9, floor_s: float | None = None
) -> BlendAnswer:
    """Own blends predicted against measured."""
    sheet = read_blends(data, name, floor_s=floor_s)
    record = compare_blends(sheet.blends, cap_s=cap_s, probability=probability, source=name)
    return BlendAnswer(record, (*sheet.findings, *record.findings))


def probability_fault(probability: float) -> Finding | None:
    """What is wrong with the content of an interval, if anything."""
    if 0.5 <= probability <= 0.999:
        return None
    told: dict[str, Value] = {"probability": probability}
    return Finding("season-probability", Where(field="probability"), Severity.STOP, told)
