"""Many rows at once, in and out, past the mapper."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import polars as pl
import psycopg
from sqlalchemy import Connection
from sqlalchemy.exc import DatabaseError, IntegrityError

__all__ = ["insert_frame", "read_frame", "temp_table"]


def _quoted(names: Sequence[str]) -> str:
    return ", ".join(f'"{name}"' for name in names)


def insert_frame(conn: Connection, table: str, frame: pl.DataFrame) -> None:
    """Insert every row of a frame; its column names are those of the table.

    One prepared statement on SQLite, COPY on PostgreSQL. ``table`` and the column names come from our own
    code, never from data.
    """
    if frame.height == 0:
        return
    if conn.dialect.name == "sqlite":
        marks = ", ".join("?" * frame.width)
        sql = f'INSERT INTO "{table}" ({_quoted(frame.columns)}) VALUES ({marks})'  # noqa: S608 - our own names
        conn.exec_driver_sql(sql, frame.rows())
        return
    sql = f'COPY "{table}" ({_quoted(frame.columns)}) FROM STDIN'
    cursor = conn.connection.cursor()
    try:
        with cursor.copy(sql) as copy:
            for row in frame.iter_rows():
                copy.write_row(row)
    except psycopg.IntegrityError as clash:  # the mapper did not see it: give it its name
        raise IntegrityError(sql, None, clash) from clash
    except psycopg.DatabaseError as problem:
        raise DatabaseError(sql, None, problem) from problem
    finally:
        cursor.close()


def temp_table(conn: Connection, name: str, columns: Mapping[str, str]) -> None:
    """Make an empty temporary table that only this connection sees."""
    body = ", ".join(f'"{column}" {kind}' for column, kind in columns.items())
    conn.exec_driver_sql(f'DROP TABLE IF EXISTS "{name}"')
    conn.exec_driver_sql(f'CREATE TEMPORARY TABLE "{name}" ({body})')


def read_frame(
    conn: Connection, sql: str, parameters: Sequence[Any], schema: Mapping[str, pl.DataType]
) -> pl.DataFrame:
    """Run a query and return its rows in a schema; ``?`` marks a parameter in both dialects."""
    if conn.dialect.name != "sqlite":
        sql = sql.replace("?", "%s")
    rows = conn.exec_driver_sql(sql, tuple(parameters)).fetchall()
    return pl.DataFrame([tuple(row) for row in rows], schema=dict(schema), orient="row")
