"""A season as open data: CSV that says what it is in its columns, with nothing that names a customer."""

from __future__ import annotations

import io
import zipfile
from dataclasses import dataclass
from datetime import date
from typing import Final

import polars as pl

from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.season.open_rows import LEAST_GROWERS, OPEN, SMALLEST_CELL, OpenRows, open_rows
from lodestarch.sheets.safe_cells import csv_bytes
from lodestarch.sheets.season_sheet import SeasonSheet
from lodestarch.words.catalogues import term
from lodestarch.work.season.answers import RatingAnswer
from lodestarch.work.season.asked import RECORDS

__all__ = ["OpenData", "OpenTerms", "open_season", "ratings_csv", "zipped"]

_DISTRICTS: Final = ("origin", "district", "site", "location")
"""Columns that stand for a district. A field, farm or plot names its grower and is never given."""

_GROWERS: Final = ("grower", "farm", "customer", "owner", "producer")
_PEOPLE: Final = frozenset({*_GROWERS, "analyst"})
_VARIETIES: Final = ("variety", "cultivar", "sorte")
_KINDS: Final = {0: "exact", 1: "at or below", 2: "above"}
_UNITS: Final = {"season": "a", "week": "1", "falling_number_s": "s"}
_STAMP: Final = (1980, 1, 1, 0, 0, 0)
"""Of every file in the archive, so that the same season gives the same bytes."""


@dataclass(frozen=True, slots=True)
class OpenTerms:
    """Under what it is given.

    Parameters
    ----------
    licence : str
        As it is to stand in the data; empty: not stated.
    publisher : str
        Who gives it; empty: not stated.
    smallest, growers : int
        As in ``season.open_rows``.
    names : bool
        With the growers' names.
    """

    licence: str = ""
    publisher: str = ""
    smallest: int = SMALLEST_CELL
    growers: int = LEAST_GROWERS
    names: bool = False


@dataclass(frozen=True, slots=True)
class OpenData:
    """Files by name, what became of the rows, and what has to be looked at; no files where nothing may go."""

    files: dict[str, bytes]
    rows: OpenRows
    findings: tuple[Finding, ...]


def open_season(sheet: SeasonSheet, terms: OpenTerms) -> OpenData:
    """Make the open data of a table of results.

    Parameters
    ----------
    sheet : SeasonSheet
    terms : OpenTerms

    Returns
    -------
    OpenData
        ``season.csv``, ``dictionary.csv`` and ``about.csv``. With ``season-open-licence`` (no licence is
        stated), ``season-open-none`` (no row may be given), and what ``season.open_rows`` finds.

    Raises
    ------
    OutOfRange
        When a least number is not 1 to 1000.
    """
    frame = _frame(sheet)
    source = sheet.table.source if sheet.table is not None else ""
    rows = open_rows(frame, smallest=terms.smallest, growers=terms.growers, names=terms.names, source=source)
    found = [*sheet.findings, *rows.findings]
    where = Where(source=source or None)
    if not rows.given:
        found.append(Finding("season-open-none", where, Severity.STOP, {}))
        return OpenData({}, rows, tuple(found))
    if not terms.licence.strip():
        found.append(Finding("season-open-licence", where, Severity.CHECK, {}))
    columns = [c for c in OPEN if c != "grower" or terms.names]
    files = {
        "season.csv": csv_bytes(columns, rows.frame.select(columns).iter_rows()),
        "dictionary.csv": _dictionary(columns, terms),
        "about.csv": _about(rows, terms, source),
    }
    return OpenData(files, rows, tuple(found))


def _frame(sheet: SeasonSheet) -> pl.DataFrame:
    """The table in ``OPEN``; what is no number of seconds is left out."""
    if sheet.table is None:
        return pl.DataFrame(schema=OPEN)
    table, texts = sheet.table, sheet.texts

    def text(names: tuple[str, ...]) -> list[str | None]:
        column = next((c for c in names if c in texts.columns), None)
        return [None] * table.n if column is None else [v or None for v in texts[column].to_list()]

    days = [date.fromordinal(d + _EPOCH) if d > -_EPOCH else None for d in table.day.tolist()]
    years = text((sheet.year,)) if sheet.year else [None] * table.n
    frame = pl.DataFrame(
        {
            "season": [d.year if d else _year(y) for d, y in zip(days, years, strict=True)],
            "week": [d.isocalendar().week if d else None for d in days],
            "district": text(_DISTRICTS),
            "variety": text(_VARIETIES),
            "falling_number_s": table.seconds_s.tolist(),
            "kind": [_KINDS[k] for k in table.kind.tolist()],
            "grower": text(_GROWERS),
        },
        schema=OPEN,
    )
    return frame.filter(pl.col("falling_number_s").is_finite() & (pl.col("falling_number_s") > 0.0))


_EPOCH: Final = date(1970, 1, 1).toordinal()


def _year(text: str | None) -> int | None:
    return int(text) if text and text.isascii() and text.isdigit() and len(text) == 4 else None


def _dictionary(columns: list[str], terms: OpenTerms) -> bytes:
    licence = terms.licence.strip() or None
    kinds = {pl.Int64(): "whole number", pl.Float64(): "number", pl.String(): "text"}
    return csv_bytes(
        ("column", "meaning", "unit", "type", "missing", "provenance", "licence"),
        [
            (
                c, term(f"season-open.meaning-{c}"), _UNITS.get(c), kinds[OPEN[c]], "empty cell",
                term(f"season-open.provenance-{c}"), licence,
            )
            for c in columns
        ],
    )  # fmt: skip


def _about(rows: OpenRows, terms: OpenTerms, source: str) -> bytes:
    said = term("season-open.source-records" if source == RECORDS else "season-open.source-file")
    return csv_bytes(
        ("field", "value"),
        [
            ("title", term("season-open.title")),
            ("licence", terms.licence.strip() or None),
            ("publisher", terms.publisher.strip() or None),
            ("source", said),
            ("rows_given", rows.given),
            ("rows_coarser", rows.coarser),
            ("rows_withheld", rows.withheld),
            ("smallest_cell_results", terms.smallest),
            ("smallest_cell_growers", terms.growers),
            ("growers_named", terms.names),
            ("encoding", "UTF-8, RFC 4180; a quote before =, +, - or @ keeps spreadsheets from calculating"),
        ],
    )


def zipped(data: OpenData) -> bytes:
    """All files in one archive; the same data give the same bytes."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in data.files.items():
            archive.writestr(zipfile.ZipInfo(name, _STAMP), content, zipfile.ZIP_DEFLATED)
    return out.getvalue()


_RATING_COLUMNS = (
    "factor", "level", "rated", "results", "trials", "seasons", "estimate_s", "low_s", "high_s", "interval",
    "reliability", "limit_s", "below_limit",
)  # fmt: skip


def ratings_csv(answer: RatingAnswer) -> str:
    """Every level that is rated or not, with the numbers behind it; growers and analysts stay out."""
    rows = [
        (
            r.factor, x.level, x.rated, x.results, x.trials, x.seasons, _short(x.estimate_s, 1),
            _short(x.low_s, 1), _short(x.high_s, 1), r.probability, _short(x.reliability, 3), r.limit_s,
            _short(x.below, 3),
        )
        for r in answer.ratings
        if r.factor not in _PEOPLE
        for x in r.lines
    ]  # fmt: skip
    return csv_bytes(_RATING_COLUMNS, rows).decode("utf-8")


def _short(value: float | None, decimals: int) -> float | None:
    return None if value is None else round(value, decimals)
