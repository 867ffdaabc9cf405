"""Backups: taken while others write, proved before they count, restored only when they hold."""

from __future__ import annotations

import os
import sqlite3
import tempfile
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from sqlalchemy import Engine
from sqlalchemy.exc import DatabaseError

from lodestarch.common.errors import RecordsUnusable
from lodestarch.common.findings import Severity
from lodestarch.records import server, sqlite
from lodestarch.records.address import Address, parse_address
from lodestarch.records.backup_files import (
    Backup,
    file_sha256,
    is_due,
    list_backups,
    read_manifest,
    thin_out,
    to_disk,
    write_manifest,
)
from lodestarch.records.copy import copy_all
from lodestarch.records.engine import one_moment, require_records, unreadable
from lodestarch.records.lock import WriterLock
from lodestarch.records.log import utc_text
from lodestarch.records.schema import REVISIONS, check_schema, create_schema
from lodestarch.records.verify import SiteProof, VerifyReport, verify
from lodestarch.records.verify_chain import Progress

__all__ = ["Backup", "RestoreRefused", "backup", "is_due", "list_backups", "restore"]


class RestoreRefused(RecordsUnusable):
    """A backup that does not hold; ``where`` says at which place it broke."""

    def __init__(self, path: Path, where: str) -> None:
        self.path, self.where = path, where
        super().__init__(f"{path} does not hold ({where}). Nothing was restored; take an earlier backup.")


def _prove(path: Path, progress: Progress | None) -> VerifyReport:
    """Open a file that nobody else has, look at every page of it, and walk it.

    Raises
    ------
    RestoreRefused
    """
    engine = sqlite.reading(path, alone=True)
    try:
        with one_moment(engine) as conn:
            told = conn.exec_driver_sql("PRAGMA integrity_check(1)").scalar_one()
            if told != "ok":
                raise RestoreRefused(path, str(told))
            check_schema(conn, str(path))
            report = verify(conn, progress=progress, most=1)
    except DatabaseError as problem:
        raise RestoreRefused(path, str(problem.orig)) from problem
    finally:
        engine.dispose()
    for finding in report.findings:
        if finding.severity is Severity.STOP:
            told = ", ".join(f"{k} {v}" for k, v in finding.values.items())
            raise RestoreRefused(path, f"{finding.code}: {told}")
    return report


def _copy_file(source: Path, target: Path) -> None:
    """Copy a live file in one step of the library's own, which sees one moment."""
    read, write = sqlite.connect(source, "mode=ro"), sqlite3.connect(target)
    try:
        read.backup(write)
        write.execute("PRAGMA journal_mode=DELETE")
    finally:
        write.close()
        read.close()


def _copy_rows(source: Engine, target: Path) -> None:
    """Copy the rows of a server into a records file."""
    made = sqlite.writing(target)
    try:
        with one_moment(source) as read, made.connect() as write, write.begin():
            create_schema(write)
            copy_all(read, write)
    finally:
        made.dispose()
    flat = sqlite3.connect(target)
    flat.execute("PRAGMA journal_mode=DELETE")
    flat.close()


def _take(where: Address, target: Path) -> None:
    if where.path is not None:
        try:
            _copy_file(where.path, target)
        except sqlite3.DatabaseError as problem:
            raise sqlite.as_unusable(where.path, problem) from problem
        return
    assert where.url is not None  # noqa: S101 - an address is one or the other
    engine = server.engine(where.url, read_only=True)
    try:
        _copy_rows(engine, target)
    except DatabaseError as problem:
        raise unreadable(where, problem) from problem
    finally:
        engine.dispose()


def _heads(sites: tuple[SiteProof, ...]) -> dict[str, tuple[int, str]]:
    return {site.site: (site.entries, site.head) for site in sites}


def backup(
    address: str | Path,
    folder: Path,
    *,
    clock: Callable[[], datetime],
    keep: int | None = None,
    progress: Progress | None = None,
) -> Backup:
    """Take a backup while others may write, prove it, and only then give it its name.

    Parameters
    ----------
    address : str or Path
        Records on a file or a server; the backup is a records file either way.
    folder : Path
        Where backups are kept; made when missing.
    clock : callable
    keep : int or None
        How many backups stay; older ones are taken away after the new one is proved.
    progress : callable or None

    Raises
    ------
    RecordsUnusable
        When there are no records, or the folder cannot be written.
    RestoreRefused
        When what was copied does not hold: the records themselves are damaged.
    """
    where = parse_address(address)
    require_records(where)
    stem = "records" if where.path is None else where.path.stem
    try:
        folder.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(prefix=f".{stem}-", suffix=".part", dir=folder)
    except OSError as problem:
        raise RecordsUnusable(
            f"{folder} cannot be written ({problem.strerror}). Name another folder."
        ) from problem
    os.close(handle)
    part = Path(name)
    try:
        _take(where, part)
        report = _prove(part, progress)
        made_at = utc_text(clock())
        path = folder / f"{stem}-{made_at[:19].replace(':', '')}-{part.name[-13:-5]}.db"
        done = Backup(
            path, made_at, file_sha256(part), part.stat().st_size, REVISIONS[-1], _heads(report.sites)
        )
        write_manifest(done)
        part.replace(path)
        to_disk(path)
    except OSError as problem:
        raise RecordsUnusable(
            f"The backup was not finished ({problem.strerror}). Make room in {folder}."
        ) from problem
    finally:
        for left in folder.glob(part.name + "*"):
            left.unlink()
    if keep is not None:
        thin_out(folder, stem, keep)
    return done


def restore(source: Path, address: str | Path, *, progress: Progress | None = None) -> VerifyReport:
    """Put a backup where there are no records, after proving it.

    Parameters
    ----------
    source : Path
        A backup; its manifest, where it lies beside, has to agree.
    address : str or Path
        A file that does not exist, or an empty database on a server.
    progress : callable or None

    Raises
    ------
    RestoreRefused
        When the backup is damaged or does not hold; says where it broke.
    RecordsUnusable
        When there are records at the address already.
    """
    if not source.is_file():
        raise RecordsUnusable(f"There is no file {source}.")
    told = read_manifest(source)
    if told is not None and told.sha256 != file_sha256(source):
        raise RestoreRefused(source, _first_difference(source, progress))
    report = _prove(source, progress)
    where = parse_address(address)
    if where.path is not None:
        _restore_file(source, where.path)
    else:
        _restore_server(source, where)
    return report


def _first_difference(source: Path, progress: Progress | None) -> str:
    try:
        _prove(source, progress)
    except RestoreRefused as refused:
        return refused.where
    return "its bytes are not those of its manifest"


def _restore_file(source: Path, target: Path) -> None:
    if target.exists():
        raise RecordsUnusable(f"There is a file {target} already. Name another, or put that one aside first.")
    lock = WriterLock(target, "a restore")
    part = target.with_name(f".{target.name}.part")
    try:
        _copy_file(source, part)
        part.replace(target)
        to_disk(target)
    except OSError as problem:
        raise RecordsUnusable(f"{target} cannot be written ({problem.strerror}).") from problem
    finally:
        part.unlink(missing_ok=True)
        lock.close()


def _restore_server(source: Path, where: Address) -> None:
    assert where.url is not None  # noqa: S101 - an address is one or the other
    engine, origin = server.engine(where.url, read_only=False), sqlite.reading(source, alone=True)
    try:
        if not server.is_blank(engine, where):
            raise RecordsUnusable(f"There are records at {where} already. Name an empty database.")
        with one_moment(origin) as read, engine.connect() as write, write.begin():
            create_schema(write)
            copy_all(read, write)
    except DatabaseError as problem:
        raise unreadable(where, problem) from problem
    finally:
        engine.dispose()
        origin.dispose()
