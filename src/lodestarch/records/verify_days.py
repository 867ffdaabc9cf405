"""Rows that come by the day, against the digests that the log holds of them."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import Any

import polars as pl
from sqlalchemy import select

from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.records.bulk import read_frame
from lodestarch.records.day_frames import BULK, IDS_A_DAY, BulkTable, table_digest
from lodestarch.records.days_read import kept_frame
from lodestarch.records.scope import Scope
from lodestarch.records.tables import Day
from lodestarch.records.verify_chain import Fold, Progress

__all__ = ["check_days", "check_strays"]


def _batch_holds(table: BulkTable, rows: pl.DataFrame, said: dict[str, Any]) -> bool:
    part = rows.filter(pl.col("number").is_between(said["first"], said["last"]))
    found = table_digest(table, part)
    assert isinstance(found, dict)  # noqa: S101 - as table_digest makes it
    return all(found[name] == said.get(name) for name in found)


def _marks_hold(table: BulkTable, rows: pl.DataFrame, emptied: set[int]) -> bool:
    """Tell whether exactly the rows that the log calls emptied are so, and wholly so."""
    if not table.personal:
        return True
    marked = rows.filter(pl.col("personal_sha").is_not_null())
    blank = marked.select(pl.all_horizontal(pl.col(*table.personal, "salt").is_null()).all()).item()
    return set(marked["number"]) == emptied and (marked.height == 0 or bool(blank))


def _links_hold(table: BulkTable, rows: pl.DataFrame, day_no: int, site_no: int) -> bool:
    own = (pl.col("day_no") == day_no) & (pl.col("site_no") == site_no)
    if table.name in {"readings", "relisted"}:
        own &= pl.col("number") == pl.col("row")
    return bool(rows.select(own.all()).item())


def _revisions_hold(rows: pl.DataFrame, day: str, fold: Fold) -> bool:
    later = rows.filter(pl.col("revision") != 0).select("sample", "run", "position", "revision")
    return {(day, *row) for row in later.iter_rows()} == {r for r in fold.revisions if r[0] == day}


def _table_holds(scope: Scope, table: BulkTable, day: Any, fold: Fold) -> bool:
    rows = kept_frame(scope, table, day.day_no, all_columns=True)
    batches = fold.bulk.get(day.key, {}).get(table.name, [])
    if sum(said["rows"] for said in batches) != rows.height:
        return False
    if rows.height == 0:
        return True
    return (
        _links_hold(table, rows, day.day_no, scope.site_no)
        and _marks_hold(table, rows, fold.emptied.get((table.name, day.key), set()))
        and (table.name != "readings" or _revisions_hold(rows, day.key, fold))
        and all(_batch_holds(table, rows, said) for said in batches)
    )


def _readable_and_holds(scope: Scope, table: BulkTable, day: Any, fold: Fold) -> bool:
    try:
        return _table_holds(scope, table, day, fold)
    except (pl.exceptions.PolarsError, TypeError, ValueError, OverflowError):
        return False  # something stands in a column that no sheet could have put there


def check_days(
    scope: Scope, fold: Fold, progress: Progress | None, tables: Collection[str]
) -> Iterator[Finding]:
    """Compare the rows of every day and table with what the log says of them."""
    days = scope.conn.execute(
        select(Day.key, Day.day_no).where(Day.site_no == scope.site_no).order_by(Day.day_no)
    ).all()
    mine = [table for table in BULK.values() if table.name in tables]
    for done, day in enumerate(days, 1):
        for table in mine:
            if not _readable_and_holds(scope, table, day, fold):
                values = {"table": table.name, "day": day.key}
                yield Finding("sheet-rows-differ", Where(source=table.name), Severity.STOP, values)
        if progress is not None:
            progress("sheets", done, len(days))


def check_strays(scope: Scope) -> Iterator[Finding]:
    """Look for rows that belong to no day, under whichever site they say they are."""
    for table in BULK.values():
        sql = (
            f'SELECT count(*) AS n FROM "{table.name}" t LEFT JOIN days d '  # noqa: S608 - our own names
            f"ON d.day_no = t.day_no AND d.site_no = t.site_no AND t.id / {IDS_A_DAY} = d.day_no "
            "WHERE d.day_no IS NULL"
        )
        count = read_frame(scope.conn, sql, (), {"n": pl.Int64()}).item()
        if count:
            yield Finding(
                "rows-of-no-day",
                Where(source=table.name),
                Severity.STOP,
                {"table": table.name, "count": count},
            )
