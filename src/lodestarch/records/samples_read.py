"""One sample with everything kept of it, the latest results, and searching by the beginning of a code."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from lodestarch.method.table import JUDGED, RESULTS, SAMPLES
from lodestarch.records.bulk import read_frame
from lodestarch.records.day_frames import to_moments
from lodestarch.records.days_read import as_kept
from lodestarch.records.issue import Issued, issued_from
from lodestarch.records.kept import fetch
from lodestarch.records.scope import Scope
from lodestarch.records.tables import Sample

__all__ = ["KeptSample", "latest_results", "open_sample", "search"]

_DAY = {"day_id": pl.String()}
_MANY = 1_000


@dataclass(frozen=True, slots=True)
class KeptSample:
    """Everything that is kept of one sample.

    Parameters
    ----------
    sample : str
    readings : polars.DataFrame
        In ``method.table.JUDGED`` with ``day_id``, ``revision`` and ``stands`` (false: a later revision took
        its place), in the order in which they were kept.
    results : polars.DataFrame
        Every version, in ``method.table.RESULTS`` with ``day_id``, the last one last.
    sheet_rows : polars.DataFrame
        What sample sheets said of it, in ``method.table.SAMPLES`` with ``day_id``.
    row : Sample or None
        What was entered of it at reception.
    issued : tuple of Issued
        Its releases, and what was issued from each.
    """

    sample: str
    readings: pl.DataFrame
    results: pl.DataFrame
    sheet_rows: pl.DataFrame
    row: Sample | None
    issued: tuple[Issued, ...]


def _of_sample(
    scope: Scope, table: str, schema: dict[str, pl.DataType], sample: str, more: dict[str, pl.DataType]
) -> pl.DataFrame:
    stored = {**{name: as_kept(kind) for name, kind in schema.items()}, **more}
    columns = ", ".join(f't."{name}"' for name in stored)
    sql = (
        f'SELECT {columns}, d."key" FROM "{table}" t JOIN days d ON d.day_no = t.day_no '  # noqa: S608 - our own names
        "WHERE t.sample = ? AND t.site_no = ? ORDER BY t.id"
    )
    frame = read_frame(scope.conn, sql, (sample, scope.site_no), {**stored, **_DAY})
    return to_moments(frame, {**schema, **more, **_DAY})


def open_sample(scope: Scope, sample: str) -> KeptSample:
    """Return everything that is kept of a sample; empty where there is nothing."""
    readings = _of_sample(scope, "readings", JUDGED, sample, {"revision": pl.Int64()})
    last = pl.col("revision") == pl.col("revision").max().over("run", "position")
    return KeptSample(
        sample,
        readings.with_columns(stands=last),
        _of_sample(scope, "results", RESULTS, sample, {}),
        _of_sample(scope, "sheet_samples", SAMPLES, sample, {}),
        fetch(scope, Sample, sample),
        tuple(issued_from(scope, sample)),
    )


def latest_results(scope: Scope, limit: int = 50, before: int | None = None) -> pl.DataFrame:
    """Return the results kept last, newest first, in ``method.table.RESULTS`` with ``day_id`` and ``id``.

    ``before``: only those with a smaller ``id``, for the next page.
    """
    stored = {**{name: as_kept(kind) for name, kind in RESULTS.items()}, "id": pl.Int64()}
    columns = ", ".join(f't."{name}"' for name in stored)
    sql = (
        f'SELECT {columns}, d."key" FROM results t JOIN days d ON d.day_no = t.day_no '  # noqa: S608 - our own names
        "WHERE t.site_no = ? AND t.id < ? ORDER BY t.id DESC LIMIT ?"
    )
    upper = 2**62 if before is None else before
    frame = read_frame(scope.conn, sql, (scope.site_no, upper, min(limit, _MANY)), {**stored, **_DAY})
    return to_moments(frame, {**RESULTS, "id": pl.Int64(), **_DAY})


def search(scope: Scope, beginning: str, limit: int = 20) -> list[tuple[str, str | None]]:
    """Return samples (with their tickets) whose code or ticket begins so, in order of code."""
    if not beginning:
        return []
    end = beginning[:-1] + chr(ord(beginning[-1]) + 1)
    found: dict[str, str | None] = {}
    for table in ("results", "readings", "samples"):
        code = "key" if table == "samples" else "sample"
        for column in (code, "ticket"):
            sql = (
                f'SELECT DISTINCT "{code}", ticket FROM {table} '  # noqa: S608 - our own names
                f'WHERE "{column}" >= ? AND "{column}" < ? AND site_no = ? ORDER BY "{column}" LIMIT ?'
            )
            schema: dict[str, pl.DataType] = {"sample": pl.String(), "ticket": pl.String()}
            rows = read_frame(scope.conn, sql, (beginning, end, scope.site_no, min(limit, _MANY)), schema)
            for sample, ticket in rows.iter_rows():
                found[sample] = found.get(sample) or ticket
    return sorted(found.items())[:limit]
