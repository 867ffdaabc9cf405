"""Open records: looking, changing, proving, and handing over, with what the database meets said in words."""

from __future__ import annotations

import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Final, Self

from sqlalchemy import Connection, Engine
from sqlalchemy.exc import DatabaseError, IntegrityError

from lodestarch.common.errors import LodestarchError, RecordsBusy, RecordsUnusable
from lodestarch.records import accounts, sqlite
from lodestarch.records.address import Address
from lodestarch.records.lock import WriterLock
from lodestarch.records.package import SitePart, write_package
from lodestarch.records.schema import check_schema, choose_site
from lodestarch.records.scope import Scope
from lodestarch.records.take import Taken, take_package
from lodestarch.records.unit import Unit, View
from lodestarch.records.verify import VerifyReport, verify
from lodestarch.records.verify_chain import Progress

__all__ = ["Records", "one_moment", "unreadable"]

_DO_IT_AGAIN: Final = frozenset({"40001", "40P01", "55P03"})
"""PostgreSQL's states for a failed serialisation, a deadlock, and a lock not to be had."""


@contextmanager
def one_moment(engine: Engine) -> Iterator[Connection]:
    """Give a connection all of whose answers are as of one moment."""
    with engine.connect() as conn:
        if conn.dialect.name == "postgresql":  # SQLite's readers see one moment in any case
            conn = conn.execution_options(isolation_level="REPEATABLE READ")  # noqa: PLW2901 - the same one
        with conn.begin():
            yield conn


def unreadable(address: Address, problem: DatabaseError) -> RecordsUnusable:
    """Say in words why records could not be read or written."""
    if address.path is not None and isinstance(problem.orig, Exception):
        return sqlite.as_unusable(address.path, problem.orig)
    reason = str(problem.orig).strip().splitlines()[0]
    return RecordsUnusable(f"{address} did not do it ({reason}). Nothing was changed; look at the server.")


class Records:
    """Open records of one site; :func:`lodestarch.records.engine.open_records` makes them.

    Closed by leaving the ``with``, or by :meth:`close`.
    """

    def __init__(
        self,
        address: Address,
        writer: Engine | None,
        reader: Engine,
        lock: WriterLock | None,
        site: str | None,
    ) -> None:
        self.address, self._where = str(address), address
        self._writer, self._reader, self._lock = writer, reader, lock
        self._one_at_a_time, self._held_by = threading.Lock(), 0
        try:
            with self._told(), reader.connect() as conn:
                check_schema(conn, self.address)
                self._site_no, self.site = choose_site(conn, site)
        except BaseException:
            reader.dispose()
            raise

    @contextmanager
    def view(self) -> Iterator[View]:
        """Look at the records as they stand at one moment."""
        with self._told(), one_moment(self._reader) as conn:
            yield View(self._scope(conn))

    @contextmanager
    def unit(self, person: str, at: datetime, *, clock_note: str | None = None) -> Iterator[Unit]:
        """Change the records: all of it and its entries in the log, or nothing.

        Parameters
        ----------
        person : str
            Name or key of who does it.
        at : datetime
            When, with time zone.
        clock_note : str or None
            Why an entry dated before the last one is right; only then is it let in.

        Raises
        ------
        RecordsUnusable
            When the records are open for reading only.
        RecordsBusy
            When somebody else stored the same keys meanwhile (PostgreSQL).
        ClockBehind
            When the clock stands before the last entry.
        """
        with self._changing() as conn:
            unit = Unit(self._scope(conn), person, at, clock_note)
            yield unit
            unit.finish()

    @contextmanager
    def _turn(self) -> Iterator[None]:
        """One writer at a time on a file; a server lets them queue for the end of the chain itself."""
        if self._lock is None:
            yield
        else:
            me = threading.get_ident()
            if self._held_by == me:
                raise LodestarchError("a unit of work is open in this thread already; finish it first")
            with self._one_at_a_time:
                self._held_by = me
                try:
                    yield
                finally:
                    self._held_by = 0

    @contextmanager
    def _told(self) -> Iterator[None]:
        """Say in words what the database met."""
        try:
            yield
        except IntegrityError as clash:
            raise RecordsBusy(
                "Somebody else stored the same rows meanwhile; nothing of this was written. Do it again."
            ) from clash
        except DatabaseError as problem:
            if getattr(problem.orig, "sqlstate", None) in _DO_IT_AGAIN:
                raise RecordsBusy(
                    "Two writers waited for each other; nothing of this was written. Do it again."
                ) from problem
            raise unreadable(self._where, problem) from problem

    def verify(
        self,
        *,
        progress: Progress | None = None,
        known_heads: Mapping[str, tuple[int, str]] | None = None,
    ) -> VerifyReport:
        """Prove the records, every site of them; see :mod:`lodestarch.records.verify`."""
        with self._told(), one_moment(self._reader) as conn:
            return verify(conn, progress=progress, known_heads=known_heads)

    def log_in(self, name: str, password: str, origin: str, at: datetime) -> str:
        """Try a name and a password from a place of origin and return a session's token.

        Raises
        ------
        LoginRefused
            With how long the next try from there has to wait.
        """
        with self._changing() as conn:
            token, wait_s = accounts.log_in(self._scope(conn), name, password, origin, at)
        if token is None:
            raise accounts.LoginRefused(wait_s)
        return token

    def log_out(self, token: str) -> None:
        """End a session."""
        with self._changing() as conn:
            accounts.end_session(self._scope(conn), token)

    def touch_session(self, token: str, at: datetime) -> None:
        """Note that a session is in use; called now and then, not at each request."""
        with self._changing() as conn:
            accounts.touch_session(self._scope(conn), token, at)

    def keep_browser(self, token: str, at: datetime) -> None:
        """Remember a browser that came in by the start address."""
        with self._changing() as conn:
            accounts.keep_browser(self._scope(conn), token, at)

    def knows_browser(self, token: str, at: datetime) -> bool:
        """Tell whether a browser came in by a start address within the week."""
        with self._told(), one_moment(self._reader) as conn:
            return accounts.knows_browser(self._scope(conn), token, at)

    @property
    def location(self) -> str | Path:
        """Where they are, as another opening has to be told: with the password, so never to be shown."""
        where = self._where
        return where.path or ("" if where.url is None else where.url.render_as_string(hide_password=False))

    @property
    def writable(self) -> bool:
        """Whether these records are open for writing."""
        return self._writer is not None

    def _scope(self, conn: Connection) -> Scope:
        return Scope(conn, self._site_no, self.site)

    @contextmanager
    def _changing(self) -> Iterator[Connection]:
        """Give the connection that writes, in a transaction, one at a time."""
        if self._writer is None:
            raise RecordsUnusable(
                f"{self.address} is open for reading only. Open it for writing to change it."
            )
        with self._turn(), self._told(), self._writer.connect() as conn, conn.begin():
            yield conn

    def write_package(
        self, at: datetime, *, since: dict[str, int] | None = None, personal: bool = True
    ) -> tuple[bytes, tuple[SitePart, ...]]:
        """Make an open package; see :func:`lodestarch.records.package.write_package`."""
        with self._told(), one_moment(self._reader) as conn:
            return write_package(conn, at, since=since, personal=personal)

    def take_package(self, content: bytes, at: datetime) -> Taken:
        """Take a package, all of it or nothing; see :func:`lodestarch.records.take.take_package`."""
        with self._changing() as conn:
            return take_package(conn, content, at)

    def close(self) -> None:
        """Close every connection, then let the lock go."""
        self._reader.dispose()
        if self._writer is not None:
            self._writer.dispose()
        if self._lock is not None:
            self._lock.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, problem: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()
