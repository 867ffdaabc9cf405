"""Results as a table, for whoever wants to reckon with them elsewhere."""

from __future__ import annotations

import io

import polars as pl

from lodestarch.method.table import RESULTS, conform, empty
from lodestarch.records.engine import Records
from lodestarch.sheets.safe_cells import csv_bytes

__all__ = ["results_csv", "results_parquet", "results_table"]


def results_table(records: Records) -> pl.DataFrame:
    """Every kept result: ``day_id``, ``read_at``, then the columns of ``method.table.RESULTS``."""
    parts = []
    with records.view() as view:
        for line in view.list_days():
            kept = view.load_day(line.day_id).parts.results
            moment = pl.lit(line.read_at.isoformat()).alias("read_at")
            parts.append(kept.select(pl.lit(line.day_id).alias("day_id"), moment, *RESULTS))
    if not parts:
        frame = conform(empty(RESULTS), RESULTS)
        return frame.select(pl.lit("").alias("day_id"), pl.lit("").alias("read_at"), *RESULTS)
    return pl.concat(parts)


def results_csv(records: Records) -> bytes:
    """Results as CSV (RFC 4180); text that a spreadsheet would take for a formula is guarded."""
    frame = results_table(records)
    return csv_bytes(frame.columns, frame.iter_rows())


def results_parquet(records: Records) -> bytes:
    """Results as Parquet."""
    out = io.BytesIO()
    results_table(records).write_parquet(out)
    return out.getvalue()
