"""Days, out of the records."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import datetime

import polars as pl
from sqlalchemy import select

from lodestarch.common.errors import UnknownName
from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.method.table import JUDGED, RESULTS, SAMPLES, empty
from lodestarch.records.bulk import insert_frame, read_frame, temp_table
from lodestarch.records.day_frames import BULK, FINDINGS, IDS_A_DAY, REFUSED, BulkTable, storable, to_moments
from lodestarch.records.day_values import DayLine, DayParts, Found, InputFile, KeptDay, RefusedLine
from lodestarch.records.days import known_rows
from lodestarch.records.kept import fetch_all
from lodestarch.records.scope import Scope
from lodestarch.records.tables import Day, Reading

__all__ = ["as_kept", "find", "kept_frame", "known_with_text", "list_days", "load_day", "standing_readings"]


def _line(day: Day) -> DayLine:
    return DayLine(
        day_id=day.key,
        title=day.title,
        read_at=datetime.fromisoformat(day.read_at),
        demonstration=bool(day.demonstration),
        inputs=tuple(InputFile(*one) for one in json.loads(day.inputs)),
        profiles=tuple(json.loads(day.profiles)),
        summary=json.loads(day.summary),
    )


def list_days(scope: Scope) -> list[DayLine]:
    """Return the days of this site, the one read last first."""
    days = sorted(fetch_all(scope, Day), key=lambda day: (day.read_at, day.day_no), reverse=True)
    return [_line(day) for day in days]


def as_kept(kind: pl.DataType) -> pl.DataType:
    """Return the type in which a column comes out of the tables."""
    if isinstance(kind, pl.Datetime | pl.Date):
        return pl.String()
    return kind


def kept_frame(scope: Scope, table: BulkTable, day_no: int, *, all_columns: bool = False) -> pl.DataFrame:
    """Return the rows of one table and day as kept, in order of id.

    With ``all_columns`` those outside the digest come along: ``number`` (within the day), ``site_no``,
    ``day_no``, and ``salt``, ``personal_sha``, ``revision`` where the table has them.
    """
    schema = {name: as_kept(kind) for name, kind in table.schema.items()}
    if all_columns:
        schema |= {"id": pl.Int64(), "site_no": pl.Int64(), "day_no": pl.Int64()}
        schema |= {"salt": pl.Binary(), "personal_sha": pl.Binary()} if table.personal else {}
        schema |= {"revision": pl.Int64()} if table.name == "readings" else {}
    names = ", ".join(f'"{name}"' for name in schema)
    sql = f'SELECT {names} FROM "{table.name}" WHERE id >= ? AND id < ? ORDER BY id'  # noqa: S608 - our own names
    low = day_no * IDS_A_DAY
    rows = read_frame(scope.conn, sql, (low, low + IDS_A_DAY), schema)
    return rows.with_columns(number=pl.col("id") - low) if all_columns else rows


def _findings(frame: pl.DataFrame) -> tuple[Finding, ...]:
    return tuple(
        Finding(
            row["code"],
            Where(
                source=row["source"],
                row=row["row"],
                field=row["field"],
                ticket=row["ticket"],
                sample=row["sample"],
                run=row["run"],
                position=row["position"],
            ),
            Severity(row["severity"]),
            json.loads(row["values"]),
        )
        for row in frame.iter_rows(named=True)
    )


def load_day(scope: Scope, day_id: str) -> KeptDay:
    """Return a day with everything that was stored.

    Raises
    ------
    UnknownName
        When there is no such day.
    """
    found = fetch_all(scope, Day, key=day_id)
    if not found:
        raise UnknownName("day", day_id, [line.day_id for line in list_days(scope)[:10]])
    line, day_no = _line(found[0]), found[0].day_no
    frames = {name: kept_frame(scope, table, day_no) for name, table in BULK.items()}
    readings = pl.concat([frames["readings"], frames["relisted"].drop("changed", "kept_revision")]).sort(
        "row", maintain_order=True
    )
    return KeptDay(
        day_id,
        DayParts(
            title=line.title,
            read_at=line.read_at,
            demonstration=line.demonstration,
            inputs=line.inputs,
            profiles=line.profiles,
            readings=to_moments(readings, JUDGED),
            samples=to_moments(frames["sheet_samples"], SAMPLES),
            results=to_moments(frames["results"], RESULTS),
            refused=tuple(
                RefusedLine(sheet, row, text or "", code)
                for sheet, row, code, text in frames["refused_rows"].select(*REFUSED).iter_rows()
            ),
            findings=_findings(frames["day_findings"].select(*FINDINGS)),
            summary=line.summary,
        ),
    )


def find(scope: Scope, code: str) -> list[Found]:
    """Return the days on which a ticket or sample occurs, the one read last first."""
    parts, parameters = [], []
    for table, has_result in (("results", 1), ("readings", 0), ("sheet_samples", 0)):
        for column in ("sample", "ticket"):
            parts.append(
                f"SELECT day_no, sample, ticket, {has_result} AS has_result FROM {table} "  # noqa: S608 - our own names
                f"WHERE {column} = ? AND site_no = ?"
            )
            parameters += [code, scope.site_no]
    schema: dict[str, pl.DataType] = {
        "day_no": pl.Int64(),
        "sample": pl.String(),
        "ticket": pl.String(),
        "has_result": pl.Int64(),
    }
    frame = read_frame(scope.conn, " UNION ".join(parts), parameters, schema)
    if frame.height == 0:
        return []
    numbers = frame["day_no"].unique().to_list()
    days = {
        no: (key, read_at)
        for no, key, read_at in scope.conn.execute(
            select(Day.day_no, Day.key, Day.read_at).where(Day.day_no.in_(numbers))
        )
    }
    merged = frame.group_by("day_no", "sample", maintain_order=True).agg(
        pl.col("ticket").drop_nulls().first(), pl.col("has_result").max()
    )
    lines = sorted(merged.iter_rows(), key=lambda r: (days[r[0]][1], r[0]), reverse=True)
    return [Found(days[no][0], sample or "", ticket, bool(has)) for no, sample, ticket, has in lines]


def known_with_text(scope: Scope, readings: pl.DataFrame) -> pl.DataFrame:
    """Return which rows of a frame stand under a key that is kept already.

    Returns
    -------
    polars.DataFrame
        ``sample``, ``run``, ``position``, ``row_text`` as kept (null: erased on request, treat as the same),
        ``day_id``; one row for each row of ``readings`` whose key is kept, in their order.
    """
    readings = storable(readings)
    known = known_rows(scope, readings)
    keys = readings.select("sample", "run", "position")[known["n"]]
    numbers = known["reading_id"] // IDS_A_DAY
    query = select(Day.day_no, Day.key).where(Day.day_no.in_(numbers.unique().to_list()))
    names = {row.day_no: row.key for row in scope.conn.execute(query)}
    return keys.with_columns(
        known["row_text"], pl.Series("day_id", [names[n] for n in numbers], dtype=pl.String)
    )


def standing_readings(scope: Scope, samples: Sequence[str]) -> pl.DataFrame:
    """Return the readings of samples that stand in the records, from every day, in the order they came.

    Parameters
    ----------
    scope : Scope
    samples : sequence of str
        Names of samples; unknown ones are passed over.

    Returns
    -------
    polars.DataFrame
        In ``method.table.JUDGED``; of each key (sample, run, position) the highest revision.
    """
    table = BULK["readings"]
    schema = {name: as_kept(kind) for name, kind in table.schema.items()}
    if (
        scope.conn.execute(select(Reading.id).where(Reading.site_no == scope.site_no).limit(1)).first()
        is None
    ):
        return empty(JUDGED)
    temp_table(scope.conn, "asked", {"sample": "TEXT PRIMARY KEY"})
    insert_frame(scope.conn, "asked", pl.DataFrame({"sample": sorted(set(samples))}))
    names = ", ".join(f'r."{name}"' for name in schema)
    sql = (
        f"SELECT {names}, r.revision, r.id FROM readings r JOIN asked a ON a.sample = r.sample "  # noqa: S608 - our own names
        "WHERE r.site_no = ?"
    )
    wide = {**schema, "revision": pl.Int64(), "id": pl.Int64()}
    frame = read_frame(scope.conn, sql, (scope.site_no,), wide)
    scope.conn.exec_driver_sql("DROP TABLE asked")
    latest = frame.sort("revision", "id").unique(
        ["sample", "run", "position"], keep="last", maintain_order=True
    )
    return to_moments(latest.sort("id").select(list(schema)), JUDGED)
