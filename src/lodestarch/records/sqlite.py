"""Connections to a file: one that writes and checkpoints, others that only read."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final
from urllib.parse import quote

from sqlalchemy import Engine, create_engine, event
from sqlalchemy.exc import DatabaseError
from sqlalchemy.pool import QueuePool, StaticPool

from lodestarch.common.errors import RecordsUnusable

__all__ = ["APPLICATION_ID", "SYNCHRONOUS", "as_unusable", "connect", "is_blank", "reading", "writing"]

APPLICATION_ID: Final = 0x4C6F6453
"""Stands in the header of our files ("LodS"); a file with another one is somebody else's."""

SYNCHRONOUS: Final = "FULL"
"""Each commit is on the disk before it is acknowledged."""

_BUSY_MS: Final = 5000

_CACHE_KIB: Final = 65536
"""Pages of a large sheet stay in memory until the commit instead of going to the log twice. [KiB]"""


def _common(cursor: sqlite3.Cursor) -> None:
    cursor.execute("PRAGMA foreign_keys=ON")
    cursor.execute("PRAGMA recursive_triggers=ON")  # INSERT OR REPLACE walks past a delete trigger without it
    cursor.execute("PRAGMA trusted_schema=OFF")
    cursor.execute(f"PRAGMA busy_timeout={_BUSY_MS}")


def as_unusable(path: Path, problem: Exception) -> RecordsUnusable:
    """Say in words what the library met."""
    text = str(problem)
    if "not a database" in text:
        return RecordsUnusable(f"{path} is not records of ours; it was left as it is. Name another file.")
    if "readonly" in text or "read-only" in text or "unable to open" in text:
        return RecordsUnusable(
            f"{path} cannot be opened for this ({text}). Look at the rights of file and folder."
        )
    if "full" in text:
        return RecordsUnusable(
            f"The disk under {path} is full; nothing was written. Make room, then do it again."
        )
    return RecordsUnusable(
        f"{path} is damaged ({text}). Keep it as it is, and restore the last backup beside it."
    )


def _uri(path: Path, query: str) -> str:
    return f"file:{quote(str(path.absolute()))}?{query}"


def connect(path: Path, query: str) -> sqlite3.Connection:
    """Open a file by address, with nothing set yet."""
    # isolation_level=None: transactions begin where we say so, for reading too.
    return sqlite3.connect(_uri(path, query), uri=True, isolation_level=None, check_same_thread=False)


def _require_ours(cursor: sqlite3.Cursor, path: Path, *, may_be_blank: bool) -> None:
    mark = cursor.execute("PRAGMA application_id").fetchone()[0]
    if mark == APPLICATION_ID:
        return
    tables = cursor.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
    if mark or tables or not may_be_blank:
        raise RecordsUnusable(f"{path} is not records of ours; it was left as it is. Name another file.")


def _set_up_writer(cursor: sqlite3.Cursor, path: Path) -> None:
    _require_ours(cursor, path, may_be_blank=True)
    if cursor.execute("PRAGMA journal_mode=WAL").fetchone()[0] != "wal":
        raise RecordsUnusable(f"{path} lies where a write-ahead log cannot be kept; use a local disk.")
    cursor.execute(f"PRAGMA synchronous={SYNCHRONOUS}")
    cursor.execute(f"PRAGMA cache_size=-{_CACHE_KIB}")
    cursor.execute("PRAGMA temp_store=MEMORY")
    _common(cursor)


def _set_up_reader(cursor: sqlite3.Cursor, path: Path) -> None:
    cursor.execute("PRAGMA wal_autocheckpoint=0")
    _common(cursor)
    _require_ours(cursor, path, may_be_blank=False)


def _open(path: Path, query: str, set_up: Callable[[sqlite3.Cursor, Path], None]) -> sqlite3.Connection:
    conn = connect(path, query)
    try:
        set_up(conn.cursor(), path)
    except BaseException:
        conn.close()
        raise
    return conn


def writing(path: Path) -> Engine:
    """Return the engine of the one connection that writes; its transactions begin IMMEDIATE."""

    def make() -> sqlite3.Connection:
        try:
            return _open(path, "mode=rwc", _set_up_writer)
        except sqlite3.DatabaseError as problem:
            raise as_unusable(path, problem) from problem

    engine = create_engine("sqlite+pysqlite://", creator=make, poolclass=StaticPool)
    _begin_with(engine, "BEGIN IMMEDIATE")
    return engine


def reading(path: Path, *, alone: bool = False) -> Engine:
    """Return the engine of connections that only read and never checkpoint.

    ``alone``: nobody else has the file (a backup being proved), so that nothing is written beside it.
    """
    wal = path.with_name(path.name + "-wal")

    def make() -> sqlite3.Connection:
        try:
            try:
                return _open(path, "mode=ro&immutable=1" if alone else "mode=ro", _set_up_reader)
            except sqlite3.OperationalError as problem:
                cannot_write = "unable to open" in str(problem) or "readonly" in str(problem)
                if not cannot_write or wal.exists() or not path.exists():
                    raise
                # A folder that cannot be written, and nothing left in a write-ahead log: nobody writes here.
                return _open(path, "mode=ro&immutable=1", _set_up_reader)
        except sqlite3.DatabaseError as problem:
            raise as_unusable(path, problem) from problem

    engine = create_engine("sqlite+pysqlite://", creator=make, poolclass=QueuePool, pool_size=4)
    _begin_with(engine, "BEGIN")
    return engine


def _begin_with(engine: Engine, statement: str) -> None:
    @event.listens_for(engine, "begin")
    def _(conn: Any) -> None:
        conn.exec_driver_sql(statement)


def is_blank(engine: Engine, path: Path) -> bool:
    """Tell whether a file opened for writing has nothing in it yet."""
    try:
        with engine.connect() as conn:
            return bool(conn.exec_driver_sql("SELECT count(*) = 0 FROM sqlite_master").scalar_one())
    except DatabaseError as problem:
        raise as_unusable(path, problem) from problem
