"""Results for a question to the season: from a file, or from the records."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import polars as pl

from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.records.engine import Records
from lodestarch.season.table import FLOOR_S
from lodestarch.sheets.season_sheet import SeasonSheet, of_frame, read_season_sheet

__all__ = ["SeasonAsked", "from_file", "from_records"]

RECORDS = "records"


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
    parts: list[pl.DataFrame] = []
    with records.view() as view:
        for line in view.list_days():
            kept = view.load_day(line.day_id).parts
            known = kept.samples.select(
                "sample", pl.col("kind").alias("sample_kind"), "grower", "origin", "variety", "harvest_date"
            )
            bench = kept.readings.group_by("sample").agg(pl.col("analyst").first(), pl.col("bath").first())
            results = kept.results.filter(pl.col("seconds").is_not_null())
            parts.append(
                results.select("sample", "seconds", "kind", "comparable_key")
                .join(known, on="sample", how="left")
                .join(bench, on="sample", how="left")
            )
    return _together(parts, asked.factors, asked.floor_s)


def _together(parts: Sequence[pl.DataFrame], factors: Sequence[str], floor_s: float | None) -> SeasonSheet:
    empty = pl.DataFrame(
        schema={
            "sample": pl.String(), "seconds": pl.Float64(), "kind": pl.Int8(), "comparable_key": pl.String(),
            "sample_kind": pl.String(), "grower": pl.String(), "origin": pl.String(), "variety": pl.String(),
            "harvest_date": pl.Date(), "analyst": pl.String(), "bath": pl.String(),
        }
    )  # fmt: skip
    whole = pl.concat([empty, *(p.select(empty.columns).cast(empty.schema) for p in parts)])
    whole = whole.filter(~pl.col("sample_kind").fill_null("load").is_in(["check", "retest"]))
    # A later day's result of a sample stands in place of an earlier one.
    whole = whole.unique("sample", keep="last", maintain_order=True)
    whole, left_out = _one_basis(whole)
    whole = whole.rename({"kind": "result_kind"}).with_row_index("row", offset=1)
    whole = whole.with_columns(pl.col("row").cast(pl.Int64))
    sheet = of_frame(
        whole, RECORDS, value="seconds", kind="result_kind", date="harvest_date", factors=factors,
        floor_s=floor_s,
    )  # fmt: skip
    if not left_out:
        return sheet
    told = Finding("season-not-comparable", Where(source=RECORDS), Severity.CHECK, {"count": left_out})
    return replace(sheet, findings=(*sheet.findings, told))


def _one_basis(whole: pl.DataFrame) -> tuple[pl.DataFrame, int]:
    """Results made on the basis and portion of most, and how many were made on another."""
    if whole.is_empty():
        return whole, 0
    most = whole["comparable_key"].fill_null("").value_counts(sort=True)["comparable_key"][0]
    kept = whole.filter(pl.col("comparable_key").fill_null("") == most)
    return kept, whole.height - kept.height
