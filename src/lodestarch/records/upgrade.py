"""Bringing records of an earlier version up to date, after a copy; down only where nothing is kept."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from sqlalchemy import Connection, Engine, select

from lodestarch.common.errors import RecordsUnusable, Refused
from lodestarch.records import server, sqlite
from lodestarch.records.address import Address, parse_address
from lodestarch.records.engine import require_records
from lodestarch.records.lock import WriterLock
from lodestarch.records.log import Entry, append
from lodestarch.records.schema import REVISIONS, check_schema, migrate
from lodestarch.records.tables import Event, Site

__all__ = ["downgrade", "upgrade", "version_of"]


def version_of(conn: Connection) -> str:
    """Return the version of the tables."""
    return str(conn.exec_driver_sql("SELECT version_num FROM alembic_version").scalar_one())


def _plain_copy(path: Path, folder: Path, clock: Callable[[], datetime]) -> Path:
    """Copy a file of an earlier version, which this program can copy but not walk."""
    folder.mkdir(parents=True, exist_ok=True)
    target = folder / f"{path.stem}-before-upgrade-{clock():%Y-%m-%dT%H%M%S}.db"
    read, write = sqlite.connect(path, "mode=ro"), sqlite3.connect(target)
    try:
        read.backup(write)
        told = write.execute("PRAGMA integrity_check(1)").fetchone()[0]
    finally:
        write.close()
        read.close()
    if told != "ok":
        raise RecordsUnusable(f"{path} is damaged ({told}). Nothing was upgraded; restore the last backup.")
    return target


def _engine(where: Address) -> Engine:
    if where.path is not None:
        return sqlite.writing(where.path)
    assert where.url is not None  # noqa: S101 - an address is one or the other
    return server.engine(where.url, read_only=False)


def upgrade(
    address: str | Path, folder: Path | None, *, clock: Callable[[], datetime], person: str = ""
) -> tuple[str, str, Path | None]:
    """Bring records up to date in one transaction; that it was done is in every site's log.

    Parameters
    ----------
    address : str or Path
    folder : Path or None
        Where the copy taken before goes (a file's records only; a server is backed up by its own means, and
        the caller says so with ``None``).
    clock : callable
    person : str
        Key of who does it.

    Returns
    -------
    str, str, Path or None
        Version before and after, and the copy. The same version twice: there was nothing to do.
    """
    where = parse_address(address)
    require_records(where)
    lock = None if where.path is None else WriterLock(where.path, "an upgrade")
    engine = _engine(where)
    try:
        with engine.connect() as conn, conn.begin():
            before = version_of(conn)
        if before == REVISIONS[-1]:
            return before, before, None
        if before not in REVISIONS:
            with engine.connect() as conn, conn.begin():
                check_schema(conn, str(where))
        copy = None if where.path is None or folder is None else _plain_copy(where.path, folder, clock)
        with engine.connect() as conn, conn.begin():
            migrate(conn)
            data = {"from": before, "to": REVISIONS[-1], "copy": None if copy is None else copy.name}
            for number, code in conn.execute(select(Site.site_no, Site.code)).all():
                append(conn, number, code, person, clock(), [Entry("records.upgraded", None, data)])
        return before, REVISIONS[-1], copy
    finally:
        engine.dispose()
        if lock is not None:
            lock.close()


def downgrade(address: str | Path, to: str) -> None:
    """Take tables back to an earlier version, where nothing is kept.

    Raises
    ------
    Refused
        When there are entries; names the copy that was taken before the last upgrade.
    """
    where = parse_address(address)
    require_records(where)
    lock = None if where.path is None else WriterLock(where.path, "a downgrade")
    engine = _engine(where)
    try:
        with engine.connect() as conn, conn.begin():
            if conn.execute(select(Event.seq).limit(1)).first() is not None:
                raise Refused(
                    f"{where} holds entries, and those never go down a version. Restore "
                    f"{_copy_before(conn)} with the program that made it."
                )
            migrate(conn, to, down=True)
    finally:
        engine.dispose()
        if lock is not None:
            lock.close()


def _copy_before(conn: Connection) -> str:
    bodies = conn.execute(
        select(Event.body).where(Event.kind == "records.upgraded").order_by(Event.at.desc(), Event.seq.desc())
    )
    names = [json.loads(row.body)["data"]["copy"] for row in bodies]
    return next((name for name in names if name), "the backup that you took before the upgrade")
