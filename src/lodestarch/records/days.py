"""Days: a bench sheet as read and judged goes in, and comes out as it was."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import polars as pl
from sqlalchemy import func, select

from lodestarch.common.canonical import Json, canonical_text, digest
from lodestarch.method.table import JUDGED, RESULTS, SAMPLES, conform
from lodestarch.records.bulk import insert_frame, read_frame, temp_table
from lodestarch.records.day_frames import (
    BULK,
    findings_frame,
    prepare,
    refused_frame,
    storable,
)
from lodestarch.records.day_values import DayParts, StoredDay
from lodestarch.records.kept import added
from lodestarch.records.lines import canonical_lines, lines_digest
from lodestarch.records.log import Entry, utc_text
from lodestarch.records.scope import Scope
from lodestarch.records.tables import Day, Reading

__all__ = ["KNOWN", "known_rows", "new_day", "next_day_no", "sort_out", "store_day", "superseded"]

KNOWN: Final[dict[str, pl.DataType]] = {
    "n": pl.Int64(),
    "reading_id": pl.Int64(),
    "revision": pl.Int64(),
    "row_text": pl.String(),
}
_KEY: Final = ("sample", "run", "position")


def known_rows(scope: Scope, readings: pl.DataFrame) -> pl.DataFrame:
    """Return which rows of a frame stand under a key that is kept already, with the text that stands there.

    Returns
    -------
    polars.DataFrame
        ``n`` (place in ``readings``, from 0), ``reading_id``, ``revision``, ``row_text`` (null where it was
        erased on request), one row a known key, in order of ``n``.
    """
    empty_frame = pl.DataFrame(schema=KNOWN)
    if readings.height == 0:
        return empty_frame
    any_kept = scope.conn.execute(select(Reading.id).where(Reading.site_no == scope.site_no).limit(1)).first()
    if any_kept is None:
        return empty_frame
    temp_table(
        scope.conn,
        "offered",
        {"n": "INTEGER PRIMARY KEY", "sample": "TEXT", "run": "TEXT", "position": "TEXT"},
    )
    insert_frame(scope.conn, "offered", readings.select(_KEY).with_row_index("n"))
    sql = (
        "SELECT o.n, r.id, r.revision, r.row_text FROM offered o JOIN readings r "
        "ON r.sample = o.sample AND r.run = o.run AND r.position = o.position AND r.site_no = ?"
    )
    found = read_frame(scope.conn, sql, (scope.site_no,), KNOWN)
    scope.conn.exec_driver_sql("DROP TABLE offered")
    return found.sort("n", "revision").unique("n", keep="last", maintain_order=True)


def sort_out(scope: Scope, readings: pl.DataFrame, *, take: bool) -> pl.DataFrame:
    """Return, row for row: ``reading_id`` and ``revision`` of what is kept, ``kept_text``, and ``fate``.

    Fate: *new* (key not known), *taken* (takes the place of what is kept), *again* (the same as is kept),
    *changed* (says something else and is not taken).
    """
    known = known_rows(scope, readings)
    table = (
        readings.select(*_KEY, "row_text")
        .with_row_index("n")
        .with_columns(pl.col("n").cast(pl.Int64))
        .join(known.rename({"row_text": "kept_text"}), on="n", how="left", maintain_order="left")
    )
    first = pl.col("n") == pl.col("n").min().over(_KEY)
    # A key that occurs twice in one sheet: the first row counts, the others are listed beside it.
    table = table.with_columns(first=first, first_text=pl.col("row_text").first().over(_KEY))
    is_known = pl.col("reading_id").is_not_null()
    same_as_kept = pl.col("kept_text").is_null() | (pl.col("kept_text") == pl.col("row_text"))
    same_as_first = pl.col("first_text").eq_missing(pl.col("row_text"))
    return table.with_columns(
        pl.when(~pl.col("first"))
        .then(pl.when(same_as_first).then(pl.lit("again")).otherwise(pl.lit("changed")))
        .when(~is_known)
        .then(pl.lit("new"))
        .when(same_as_kept)
        .then(pl.lit("again"))
        .otherwise(pl.lit("taken" if take else "changed"))
        .alias("fate"),
        pl.when(~pl.col("first"))
        .then(pl.col("first_text"))
        .otherwise(pl.col("kept_text"))
        .alias("kept_text"),
    )


def _fingerprint(parts: DayParts, lines: Sequence[pl.Series]) -> str:
    return digest(
        {
            "inputs": [[f.role, f.sha256] for f in parts.inputs],
            "profiles": list(parts.profiles),
            "demonstration": parts.demonstration,
            "judged": [lines_digest(series) for series in lines],
        }
    )


def next_day_no(scope: Scope) -> int:
    """Return the local number for one more day."""
    if scope.conn.dialect.name == "postgresql":
        return int(scope.conn.exec_driver_sql("SELECT nextval('day_numbers')").scalar_one())
    return int(scope.conn.execute(select(func.coalesce(func.max(Day.day_no), 0))).scalar_one()) + 1


def new_day(scope: Scope, parts: DayParts, fingerprint: str) -> tuple[Day, Json]:
    """Write the row of a day and return it with what the log says of it."""
    day_no = next_day_no(scope)
    day = Day(
        key=f"{parts.read_at:%Y-%m-%d}-{day_no}",
        day_no=day_no,
        title=parts.title,
        read_at=utc_text(parts.read_at),
        demonstration=parts.demonstration,
        fingerprint=fingerprint,
        inputs=canonical_text([[f.role, f.name, f.sha256] for f in parts.inputs]),
        profiles=canonical_text(list(parts.profiles)),
        summary=canonical_text(parts.summary),
    )
    return day, added(scope, day)


def _changed_frame(readings: pl.DataFrame, fates: pl.DataFrame) -> pl.DataFrame:
    return (
        readings.select("row", *_KEY, offered_text="row_text")
        .with_columns(fates["fate"], fates["kept_text"])
        .filter(fate="changed")
        .select("row", *_KEY, "kept_text", "offered_text")
    )


def _write_readings(
    scope: Scope, readings: pl.DataFrame, lines: pl.Series, fates: pl.DataFrame, day_no: int
) -> dict[str, Json]:
    """Insert new and superseding rows as readings, the others beside them; return what the log says."""
    goes_in = fates["fate"].is_in(["new", "taken"])
    frame = readings.with_columns(
        revision=(fates["revision"] + 1).fill_null(0), fate=fates["fate"], changed=fates["fate"] == "changed"
    )
    said: dict[str, Json] = {}
    mine = frame.filter(goes_in).drop("fate", "changed")
    if mine.height:
        ready = prepare(BULK["readings"], mine, lines.filter(goes_in), day_no, scope.site_no, None)
        insert_frame(scope.conn, "readings", ready.rows)
        said["readings"] = ready.said
    if goes_in.all():
        return said
    # What stands under the key: the first row of this sheet where it went in, else what was kept before.
    stands = pl.when(pl.col("fate").first().over(_KEY).is_in(["new", "taken"])).then(
        pl.col("revision").first().over(_KEY)
    )
    others = (
        frame.with_columns(kept_revision=stands.otherwise(pl.col("revision") - 1))
        .filter(~goes_in)
        .drop("revision", "fate")
    )
    table = BULK["relisted"]
    listed = prepare(table, others, canonical_lines(others.select(table.plain)), day_no, scope.site_no, None)
    insert_frame(scope.conn, "relisted", listed.rows)
    said["relisted"] = listed.said
    return said


def superseded(readings: pl.DataFrame, fates: pl.DataFrame) -> list[Json]:
    """Return key and revision of what rows of fate *taken* took the place of."""
    taken = readings.select(_KEY).with_columns(fates["fate"], fates["revision"]).filter(fate="taken")
    return [list(row) for row in taken.select(*_KEY, "revision").iter_rows()]


def store_day(scope: Scope, parts: DayParts, take_changes: str | None) -> tuple[StoredDay, list[Entry]]:
    """Write one day; return what was done and what the log has to say of it.

    Parameters
    ----------
    scope : Scope
    parts : DayParts
    take_changes : str or None
        A reason: rows that say something else under a known key take the place of what is kept, which
        stays as an earlier revision. ``None``: they are kept beside it and reported.
    """
    readings = storable(conform(parts.readings, JUDGED))
    samples, results = storable(conform(parts.samples, SAMPLES)), storable(conform(parts.results, RESULTS))
    fates = sort_out(scope, readings, take=take_changes is not None)
    count = dict(fates["fate"].value_counts().iter_rows())
    lines = canonical_lines(readings.select(BULK["readings"].plain))
    sample_lines = canonical_lines(samples.select(BULK["sheet_samples"].plain))
    result_lines = canonical_lines(results)
    mark = _fingerprint(parts, (lines, sample_lines, result_lines))
    changed = _changed_frame(readings, fates)
    known = scope.conn.execute(
        select(Day.key).where(Day.fingerprint == mark, Day.site_no == scope.site_no)
    ).scalar()
    if known is not None and not count.get("taken"):
        return StoredDay(known, False, 0, 0, count.get("again", 0), changed), []

    day, change = new_day(scope, parts, mark)
    bulk = _write_readings(scope, readings, lines, fates, day.day_no)
    for name, frame, frame_lines in (
        ("sheet_samples", samples, sample_lines),
        ("results", results, result_lines),
        ("refused_rows", refused_frame(parts.refused), None),
        ("day_findings", findings_frame(parts.findings), None),
    ):
        if frame.height:
            table = BULK[name]
            written = canonical_lines(frame.select(table.plain)) if frame_lines is None else frame_lines
            ready = prepare(table, frame, written, day.day_no, scope.site_no, 1)
            insert_frame(scope.conn, name, ready.rows)
            bulk[name] = ready.said
    data: dict[str, Json] = {"changes": [change], "bulk": bulk, "day": day.key}
    if count.get("taken"):
        data["superseded"] = superseded(readings, fates)
    entry = Entry("day.stored", f"days:{day.key}", data, take_changes if count.get("taken") else None)
    stored = StoredDay(
        day.key, True, count.get("new", 0), count.get("taken", 0), count.get("again", 0), changed
    )
    return stored, [entry]
