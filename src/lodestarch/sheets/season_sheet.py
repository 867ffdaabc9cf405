"""Any table of results, a row a result, for questions to the season: trials, surveys, a lab's own exports.

Which column holds the seconds and which the factors is said by the user or found by name; nothing else of the
table matters, and no column is asked for beyond that.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import polars as pl

from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.season.table import FLOOR_S, NO_DATE, Factor, SeasonTable, combined, table_of
from lodestarch.sheets.columns import Column, Form
from lodestarch.sheets.csv_text import read_grid
from lodestarch.sheets.decode import decode
from lodestarch.sheets.header import LOOK_AT, MOST_COLUMNS, Names, fold
from lodestarch.sheets.take import open_sheet
from lodestarch.sheets.workbook import is_package, read_workbook

__all__ = [
    "DATE_NAMES",
    "ROLES",
    "VALUE_NAMES",
    "SeasonSheet",
    "columns_of",
    "of_frame",
    "read_rows",
    "read_season_sheet",
]

VALUE_NAMES: Final = (
    "falling_number_s", "falling_number", "fn_s", "hagberg_s", "hagberg", "hfn", "fn", "seconds", "result_s",
)  # fmt: skip
"""Columns that hold the seconds, the first that is met."""

ROLES: Final = {
    "variety": ("variety", "cultivar", "sorte"),
    "origin": ("origin", "field", "farm", "district", "site", "location", "plot", "grower"),
    "year": ("harvest_year", "year", "crop_year", "season"),
    "week": ("harvest_week", "week"),
    "bench": ("bench", "bath", "lab", "laboratory"),
    "analyst": ("analyst",),
}
"""Factors, and the columns that stand for each, the first that is met."""

DATE_NAMES: Final = ("harvest_date", "harvested", "harvested_on", "date")
"""Columns that hold the harvest date."""


@dataclass(frozen=True, slots=True)
class SeasonSheet:
    """A table as read.

    Parameters
    ----------
    table : SeasonTable or None
        ``None`` where it cannot be read.
    value : str
        Column of the seconds.
    year, week : str
        Names of the factors that stand for the season and its weeks; empty where there are none.
    texts : polars.DataFrame
        Every column as text, a row for each row of the table, for whatever else is asked of it.
    findings : tuple of Finding
    """

    table: SeasonTable | None
    value: str
    year: str
    week: str
    texts: pl.DataFrame
    findings: tuple[Finding, ...]


def _header(data: bytes, name: str) -> tuple[str, ...]:
    """The header as it stands; empty where the bytes are no table."""
    wanted = [*VALUE_NAMES, *(c for names in ROLES.values() for c in names), *DATE_NAMES]
    names = Names.of(tuple(Column(w, Form.TEXT) for w in dict.fromkeys(wanted)), None)
    if is_package(data):
        grid, _ = read_workbook(data, name, names)
        return () if grid is None else grid.header
    first = data[:200_000].rsplit(b"\n", 1)[0] if len(data) > 200_000 else data
    text = decode(first, name).text
    if text is None:
        return ()
    return read_grid("\n".join(text.split("\n")[: LOOK_AT + 1]), names).header


def columns_of(data: bytes, name: str) -> tuple[str, ...]:
    """Columns of a table by their folded names, in order; empty where the bytes are no table."""
    return tuple(fold(h) for h in _header(data, name) if h.strip())


def read_rows(
    data: bytes, name: str, forms: dict[str, Form], required: Sequence[str]
) -> tuple[pl.DataFrame | None, tuple[Finding, ...]]:
    """Read a table with all its columns: those named in their form, the others as text.

    Returns
    -------
    frame : polars.DataFrame or None
        With ``row``; rows that are refused are left out.
    findings : tuple of Finding
    """
    met = list(dict.fromkeys(columns_of(data, name)))
    columns = [Column(c, forms.get(c, Form.TEXT), required=c in required) for c in met[:MOST_COLUMNS]]
    columns += [Column(c, forms.get(c, Form.TEXT), required=True) for c in required if c not in met]
    table = open_sheet(data, name, tuple(columns), None)
    if isinstance(table, tuple):
        return None, table
    found = list(table.findings)
    found += [Finding(o.code, Where(source=name, row=o.row), Severity.STOP, o.values) for o in table.grid.odd]
    rows = table.frame["row"]
    for cell in table.cells[:200]:
        severity = Severity.STOP if cell.refuses else Severity.CHECK
        where = Where(source=name, row=int(rows[cell.index]), field=cell.column)
        found.append(Finding(cell.code, where, severity, cell.values))
    return table.frame.filter(table.taken()), tuple(found)


def _first(met: Sequence[str], names: Sequence[str]) -> str:
    return next((n for n in names if n in met), "")


def read_season_sheet(
    data: bytes, name: str, *, value: str | None = None, factors: Sequence[str] = (),
    floor_s: float | None = FLOOR_S,
) -> SeasonSheet:  # fmt: skip
    """Read a table of results; never raises on its content.

    Parameters
    ----------
    data : bytes
        CSV (comma, semicolon or tab) or xlsx.
    name : str
        File name, for findings.
    value : str, optional
        Column of the seconds; found by name (:data:`VALUE_NAMES`) where not given.
    factors : sequence of str
        Columns to tell apart; ``week`` and ``year`` come from the harvest date where there is no such column,
        ``a:b`` is two taken together. Found by name (:data:`ROLES`) where not given.
    floor_s : float or None
        At or below it a result is a bound. [s]

    Returns
    -------
    SeasonSheet
        With ``season-column-unknown`` (a column named that is not there), ``season-no-value-column``, or the
        sheet's own findings.
    """
    met = columns_of(data, name)
    where = Where(source=name)
    column = fold(value) if value else _first(met, VALUE_NAMES)
    nothing = pl.DataFrame()
    listed = ", ".join(dict.fromkeys(met)) or "–"
    if met and not column:
        stop = Finding("season-no-value-column", where, Severity.STOP, {"columns": listed})
        return SeasonSheet(None, "", "", "", nothing, (stop,))
    if met and column not in met:
        stop = Finding("season-column-unknown", where, Severity.STOP, {"column": column, "columns": listed})
        return SeasonSheet(None, column, "", "", nothing, (stop,))
    date = _first(met, DATE_NAMES)
    forms = {column: Form.SECONDS} | ({date: Form.DATE} if date else {})
    frame, findings = read_rows(data, name, forms, [column] if column else [])
    if frame is None:
        return SeasonSheet(None, column, "", "", nothing, findings)
    return of_frame(
        frame.rename({"kind": "result_kind"}) if "kind" in frame.columns else frame,
        name, value=column, kind="result_kind", date=date, factors=factors, floor_s=floor_s, before=findings,
    )  # fmt: skip


def of_frame(
    frame: pl.DataFrame, name: str, *, value: str, kind: str, date: str, factors: Sequence[str] = (),
    floor_s: float | None = FLOOR_S, before: tuple[Finding, ...] = (),
) -> SeasonSheet:  # fmt: skip
    """Results and factors from typed columns.

    Parameters
    ----------
    frame : polars.DataFrame
        With ``row``, a column of seconds and one of kinds; a date column where there is one.
    name : str
        For findings.
    value, kind, date : str
        Columns; ``date`` may be empty.
    factors : sequence of str
        As in :func:`read_season_sheet`.
    floor_s : float or None
    before : tuple of Finding
        Findings of the reading.

    Returns
    -------
    SeasonSheet
        With ``season-seconds-impossible`` (rows of 0 s or less, left out), ``season-dates-none``,
        ``season-dates-missing``, ``season-column-unknown``.
    """
    frame, impossible = _possible(frame, name, value)
    met = frame.columns
    day = np.full(frame.height, NO_DATE, dtype=np.int64)
    if date:
        day = frame[date].cast(pl.Int32).cast(pl.Int64).fill_null(NO_DATE).to_numpy().astype(np.int64)
    dated = bool(date) and bool((day != NO_DATE).any())
    texts = frame.select(pl.col(c).cast(pl.String).fill_null("") for c in met if c != "row_text")
    year = _first(met, ROLES["year"]) or ("year" if dated else "")
    week = _first(met, ROLES["week"]) or ("week" if dated else "")
    asked = [":".join(fold(p) for p in f.split(":")) for f in factors if f.strip()]
    chosen = asked or _found_by_name(met, frame, date if dated else "", year)
    found = [*before, *impossible]
    made: dict[str, Factor] = {}
    out: list[Factor] = []
    for one in dict.fromkeys(chosen):
        parts = one.split(":")
        lacking = [p for p in parts if p not in met and not (dated and p in {"year", "week"})]
        if lacking:
            listed = ", ".join(c for c in met if c not in {"row", "row_text"})
            told = {"column": lacking[0], "columns": listed}
            found.append(Finding("season-column-unknown", Where(source=name), Severity.STOP, dict(told)))
            return SeasonSheet(None, value, year, week, texts, tuple(found))
        for p in parts:
            made.setdefault(p, _factor(frame, p, date))
        out.append(combined([made[p] for p in parts]))
    if out and year and year not in made:
        made[year] = _factor(frame, year, date)
    rows = frame["row"].to_numpy()
    seconds = frame[value].cast(pl.Float64).fill_null(float("nan")).to_numpy()
    kinds = frame[kind].cast(pl.Int64).fill_null(0).to_numpy()
    table = table_of(seconds, out, kind=kinds, day=day, row=rows, floor_s=floor_s, source=name)
    if date and not dated:
        found.append(Finding("season-dates-none", Where(source=name, field=date), Severity.CHECK, {}))
    elif dated and (count := int((day == NO_DATE).sum())):
        told_of = {"count": count}
        found.append(
            Finding("season-dates-missing", Where(source=name, field=date), Severity.CHECK, dict(told_of))
        )
    return SeasonSheet(table, value, year, week, texts, tuple(found))


def _possible(frame: pl.DataFrame, name: str, value: str) -> tuple[pl.DataFrame, tuple[Finding, ...]]:
    """Rows whose seconds can be: no tube falls in 0 s or less, and such a row is no bound either."""
    wrong = frame.filter(pl.col(value) <= 0.0)
    if wrong.is_empty():
        return frame, ()
    told = {"count": wrong.height, "seconds": float(wrong[value][0])}
    where = Where(source=name, row=int(wrong["row"][0]), field=value)
    finding = Finding("season-seconds-impossible", where, Severity.STOP, dict(told))
    return frame.filter((pl.col(value) > 0.0) | pl.col(value).is_null()), (finding,)


def _found_by_name(met: Sequence[str], frame: pl.DataFrame, date: str, year: str) -> list[str]:
    chosen = [c for role, names in ROLES.items() if role != "week" and (c := _first(met, names))]
    if date and year == "year" and "year" not in chosen:
        chosen.append("year")
    if week := _first(met, ROLES["week"]):
        chosen.append(week)
    elif date:
        # Weeks tell something only where some season was cut in more than one.
        weeks = frame.select(pl.col(date).dt.year().alias("y"), pl.col(date).dt.week().alias("w")).unique()
        if weeks.drop_nulls().height > weeks.drop_nulls()["y"].n_unique():
            chosen.append("week")
    return chosen


def _factor(frame: pl.DataFrame, name: str, date: str) -> Factor:
    if name in frame.columns:
        text = frame[name].cast(pl.String).fill_null("").str.strip_chars()
    else:
        moment = frame[date]
        number = moment.dt.year() if name == "year" else moment.dt.week()
        text = number.cast(pl.String).fill_null("")
        if name == "week":
            text = text.str.zfill(2).replace("00", "")
    levels = text.unique().sort()
    kept = levels.filter(levels != "")
    codes = text.replace_strict(
        kept, pl.Series(range(kept.len()), dtype=pl.Int64), default=-1, return_dtype=pl.Int64
    )
    return Factor(name, codes.to_numpy().astype(np.int64), tuple(kept.to_list()))
