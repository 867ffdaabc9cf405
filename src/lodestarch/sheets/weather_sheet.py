"""A weather station's file: a row a day, or a row a year with its monthly rain.

Columns are found by name or by a mapping; units and the order of day and month are stated, never guessed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import polars as pl

from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.season.weather import Weather, prorated
from lodestarch.sheets.header import fold
from lodestarch.sheets.season_sheet import read_rows

__all__ = ["DATE_ORDERS", "MONTHS", "WeatherSheet", "joined", "read_weather"]

NAMES: Final = {
    "date": ("date", "day", "datum"),
    "max": ("tmax", "max_c", "tmax_c", "temp_max", "maximum"),
    "min": ("tmin", "min_c", "tmin_c", "temp_min", "minimum"),
    "rain": ("rain", "rain_mm", "precipitation", "precip_mm", "prcp", "rainfall_mm"),
}
MONTHS: Final = (
    "january", "february", "march", "april", "may", "june", "july", "august", "september", "october",
    "november", "december",
)  # fmt: skip
DATE_ORDERS: Final = {"iso": "%Y-%m-%d", "day-first": "%d-%m-%Y", "month-first": "%m-%d-%Y"}
_MM_PER_INCH: Final = 25.4


@dataclass(frozen=True, slots=True)
class WeatherSheet:
    """A station's days.

    Parameters
    ----------
    weather : Weather or None
        ``None`` where the file cannot be read.
    findings : tuple of Finding
    """

    weather: Weather | None
    findings: tuple[Finding, ...]


def read_weather(
    data: bytes, name: str, *, mapping: Mapping[str, str] | None = None, dates: str = "iso",
    fahrenheit: bool = False, inches: bool = False,
) -> WeatherSheet:  # fmt: skip
    """Read a station's file; never raises on its content.

    Parameters
    ----------
    data : bytes
    name : str
        For findings.
    mapping : mapping of str to str, optional
        Which column is ``date``, ``max``, ``min``, ``rain``.
    dates : {"iso", "day-first", "month-first"}
        Order of a date; separators ``-``, ``/`` and ``.`` are taken alike.
    fahrenheit, inches : bool
        Units of temperature and rain.

    Returns
    -------
    WeatherSheet
        With ``season-weather-columns`` (no date and no months, or nothing measured),
        ``season-weather-dates`` (dates that cannot be read), ``season-weather-twice`` (a day met twice: the
        first is kept), ``season-weather-cells`` (cells that are no number, taken as missing).
    """
    frame, first = read_rows(data, name, {}, [])
    if frame is None:
        return WeatherSheet(None, first)
    where = Where(source=name)
    met = [c for c in frame.columns if c not in {"row", "row_text"}]
    chosen = {k: _pick(met, k, mapping) for k in NAMES}
    found = list(first)
    if not chosen["date"] and "year" in met and all(m in met for m in MONTHS):
        months, bad = _numbers(frame, MONTHS)
        years = frame["year"].cast(pl.Int64, strict=False).fill_null(0).to_numpy()
        good = years > 1000
        day, rain = prorated(years[good], months[good] * (_MM_PER_INCH if inches else 1.0))
        if bad:
            found.append(Finding("season-weather-cells", where, Severity.CHECK, {"count": bad}))
        order = np.argsort(day, kind="stable")
        nothing = np.full(day.size, np.nan)
        return WeatherSheet(
            Weather(day[order], nothing, nothing.copy(), rain[order], rain_from_months=True), tuple(found)
        )
    measured = [k for k in ("max", "min", "rain") if chosen[k]]
    if not chosen["date"] or not measured:
        told: dict[str, Value] = {"columns": ", ".join(met)}
        found.append(Finding("season-weather-columns", where, Severity.STOP, told))
        return WeatherSheet(None, tuple(found))
    return _daily(frame, chosen, dates, found, where, fahrenheit=fahrenheit, inches=inches)


def _pick(met: Sequence[str], key: str, mapping: Mapping[str, str] | None) -> str:
    if mapping and key in mapping:
        wanted = fold(mapping[key])
        return wanted if wanted in met else ""
    return next((n for n in NAMES[key] if n in met), "")


def _numbers(frame: pl.DataFrame, columns: Sequence[str]) -> tuple[np.ndarray, int]:
    """Columns as numbers, and how many filled cells are none; a decimal comma is taken."""
    out, bad = [], 0
    for c in columns:
        text = frame[c].cast(pl.String).fill_null("").str.strip_chars()
        value = text.str.replace(",", ".", literal=True).cast(pl.Float64, strict=False)
        empty = text.is_in(["", "*", "NA", "na", "-"])
        bad += int((value.is_null() & ~empty).sum())
        out.append(value.fill_null(float("nan")).to_numpy())
    return np.stack(out, axis=1), bad


def _daily(
    frame: pl.DataFrame, chosen: Mapping[str, str], dates: str, found: list[Finding], where: Where, *,
    fahrenheit: bool, inches: bool,
) -> WeatherSheet:  # fmt: skip
    text = frame[chosen["date"]].cast(pl.String).fill_null("").str.strip_chars().str.slice(0, 10)
    text = text.str.replace_all(r"[./]", "-")
    read = text.str.to_date(DATE_ORDERS[dates], strict=False)
    unread = int((read.is_null() & (text != "")).sum())
    if unread:
        example = str(text.filter(read.is_null() & (text != ""))[0])
        told: dict[str, Value] = {"count": unread, "value": example, "order": dates}
        grave = Severity.STOP if unread == frame.height else Severity.CHECK
        found.append(Finding("season-weather-dates", where, grave, told))
        if unread == frame.height:
            return WeatherSheet(None, tuple(found))
    good = read.is_not_null().to_numpy()
    day = read.cast(pl.Int32).cast(pl.Int64).fill_null(0).to_numpy()[good]
    columns, bad = [], 0
    for key in ("max", "min", "rain"):
        if chosen[key]:
            values, more = _numbers(frame, [chosen[key]])
            columns.append(values[:, 0][good])
            bad += more
        else:
            columns.append(np.full(day.size, np.nan))
    if bad:
        found.append(Finding("season-weather-cells", where, Severity.CHECK, {"count": bad}))
    high, low, rain = columns
    if fahrenheit:
        high, low = (high - 32.0) / 1.8, (low - 32.0) / 1.8
    if inches:
        rain = rain * _MM_PER_INCH
    kept, first = np.unique(day, return_index=True)
    if kept.size < day.size:
        twice: dict[str, Value] = {"count": int(day.size - kept.size)}
        found.append(Finding("season-weather-twice", where, Severity.CHECK, twice))
    return WeatherSheet(Weather(kept, high[first], low[first], rain[first]), tuple(found))


def joined(parts: Sequence[Weather]) -> Weather:
    """Several files of one station as one: what the first lacks comes from the next."""
    day = np.unique(np.concatenate([p.day for p in parts]))
    columns = []
    for name in ("max_c", "min_c", "rain_mm"):
        out = np.full(day.size, np.nan)
        for p in parts:
            at = np.searchsorted(day, p.day)
            out[at] = np.where(np.isnan(out[at]), getattr(p, name), out[at])
        columns.append(out)
    high, low, rain = columns
    return Weather(day, high, low, rain, rain_from_months=any(p.rain_from_months for p in parts))
