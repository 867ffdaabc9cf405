"""The bench sheet: a row a tube.

Key of a row is (sample, run, position). An empty run is the date of ``run_at``, else ``1``; an empty
position is the order of the row within its sample and run, refused rows counted, so that mending a refused
row does not renumber the others.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import polars as pl

from lodestarch.method.table import READINGS
from lodestarch.sheets.account import ReadSheet
from lodestarch.sheets.columns import BENCH
from lodestarch.sheets.keys import refuse_twins
from lodestarch.sheets.take import account, no_sheet, open_sheet

__all__ = ["read_bench_sheet"]

_FIRST_RUN: Final = "1"
_KEY: Final = ("sample", "run", "position")


def read_bench_sheet(data: bytes, name: str, *, mapping: Mapping[str, str] | None = None) -> ReadSheet:
    r"""Read a bench sheet; never raises on its content.

    Parameters
    ----------
    data : bytes
        CSV (comma, semicolon or tab) or xlsx, told apart by content.
    name : str
        File name, for findings.
    mapping : mapping of str to str, optional
        Header names of another program and ours that they stand for (see ``mapping``).

    Returns
    -------
    ReadSheet
        Rows taken in ``method.table.READINGS``; refused rows; findings. A sheet that cannot be read at all
        has no rows and a finding of severity *stop*.

    Examples
    --------
    >>> sheet = read_bench_sheet(b"sample,seconds\n8814,287\n8814,<=62\n8815,2b7\n", "day.csv")
    >>> sheet.rows, sheet.frame.height, sheet.refused[0].code
    (3, 2, 'row-seconds-unreadable')
    """
    table = open_sheet(data, name, BENCH, mapping)
    if isinstance(table, tuple):
        return no_sheet(data, name, READINGS, table)
    table.frame = _with_places(_with_runs(table.frame))
    refuse_twins(table, _KEY, differing="row-key-twice")
    return account(table, table.frame, READINGS)


def _with_runs(frame: pl.DataFrame) -> pl.DataFrame:
    if "run" in frame.columns and not frame["run"].null_count():
        return frame
    filled = [pl.lit(_FIRST_RUN)]
    if "run_at" in frame.columns:
        filled.insert(0, pl.col("run_at").dt.strftime("%Y-%m-%d"))
    if "run" in frame.columns:
        filled.insert(0, pl.col("run"))
    return frame.with_columns(pl.coalesce(filled).alias("run"))


def _with_places(frame: pl.DataFrame) -> pl.DataFrame:
    if "position" not in frame.columns:
        frame = frame.with_columns(pl.lit(None, pl.String).alias("position"))
    stated = pl.col("position").is_not_null()
    frame = frame.with_columns(stated.alias("position_stated"))
    if frame["position_stated"].all():
        return frame
    order = pl.col("row").cum_count().over("sample", "run").cast(pl.String)
    if not frame["position_stated"].any():
        return frame.with_columns(order.alias("position"))
    mixed = frame.select(stated.any().over("sample", "run") & ~stated)
    positions = frame.select(pl.coalesce("position", order))["position"]
    if mixed.to_series().any():
        positions = _beside_stated(frame, positions)
    return frame.with_columns(positions)


def _beside_stated(frame: pl.DataFrame, positions: pl.Series) -> pl.Series:
    """Positions where some are stated and some empty: an empty one takes the lowest free number."""
    groups: dict[tuple[str, str], set[str]] = {}
    stated = frame.select("sample", "run", "position").iter_rows()
    for sample, run, position in stated:
        if position is not None:
            groups.setdefault((sample, run), set()).add(position)
    out = positions.to_list()
    for i, (sample, run, position) in enumerate(frame.select("sample", "run", "position").iter_rows()):
        used = groups.get((sample, run))
        if position is None and used:
            free = next(n for n in range(1, len(used) + 2) if str(n) not in used)
            out[i] = str(free)
            used.add(out[i])
    return pl.Series("position", out, dtype=pl.String)
