"""Results for a question to the season: from a file, or from the records."""

from __future__ import annotations

from dataclasses import dataclass, replace

import polars as pl

from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.records.engine import Records
from lodestarch.season.table import FLOOR_S
from lodestarch.sheets.season_sheet import SeasonSheet, of_frame, read_season_sheet
from lodestarch.work.season.kept import KeptSeason, read_kept

__all__ = ["RECORDS", "SeasonAsked", "from_file", "from_kept", "from_records"]

RECORDS = "records"
"""Name of the records among the sources of results."""

_COLUMNS = ("sample", "seconds", "kind", "grower", "origin", "variety", "harvest_date", "analyst", "bath")


@dataclass(frozen=True, slots=True)
class SeasonAsked:
    """How a table is to be read.

    Parameters
    ----------
    value : str or None
        Column of the seconds; found by name where not given.
    factors : tuple of str
        Columns to tell apart; found by name where empty.
    floor_s : float or None
        At or below it a result is a bound. [s]
    """

    value: str | None = None
    factors: tuple[str, ...] = ()
    floor_s: float | None = FLOOR_S


def from_file(data: bytes, name: str, asked: SeasonAsked) -> SeasonSheet:
    """Results of a file."""
    return read_season_sheet(data, name, value=asked.value, factors=asked.factors, floor_s=asked.floor_s)


def from_records(records: Records, asked: SeasonAsked) -> SeasonSheet:
    """The latest result of each sample that has one, with what its sample sheet says.

    Checks and retests stay out: they are no grain of the season.
    """
    return from_kept(read_kept(records), asked)


def from_kept(kept: KeptSeason, asked: SeasonAsked) -> SeasonSheet:
    """The same from what was read of the records."""
    whole = kept.results.filter(
        pl.col("seconds").is_not_null(), ~pl.col("sample_kind").is_in(["check", "retest"])
    )
    # A later day's result of a sample stands in place of an earlier one.
    whole = whole.unique("sample", keep="last", maintain_order=True)
    held = whole.filter(pl.col("status") == "held").height
    whole, left_out = _one_basis(whole.filter(pl.col("status") != "held"))
    whole = whole.select(_COLUMNS).rename({"kind": "result_kind"}).with_row_index("row", offset=1)
    whole = whole.with_columns(pl.col("row").cast(pl.Int64))
    sheet = of_frame(
        whole, RECORDS, value="seconds", kind="result_kind", date="harvest_date", factors=asked.factors,
        floor_s=asked.floor_s,
    )  # fmt: skip
    found = list(sheet.findings)
    where = Where(source=RECORDS)
    if left_out:
        found.append(Finding("season-not-comparable", where, Severity.CHECK, {"count": left_out}))
    if held:
        found.append(Finding("season-held", where, Severity.NOTE, {"count": held}))
    return replace(sheet, findings=tuple(found))


def _one_basis(whole: pl.DataFrame) -> tuple[pl.DataFrame, int]:
    """Results made on the basis and portion of most, and how many were made on another."""
    if whole.is_empty():
        return whole, 0
    most = whole["comparable_key"].fill_null("").value_counts(sort=True)["comparable_key"][0]
    kept = whole.filter(pl.col("comparable_key").fill_null("") == most)
    return kept, whole.height - kept.height
