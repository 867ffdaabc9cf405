"""Connections to a PostgreSQL server."""

from __future__ import annotations

from typing import Final

from sqlalchemy import Engine, create_engine, event, inspect
from sqlalchemy.engine import URL
from sqlalchemy.exc import OperationalError

from lodestarch.common.errors import RecordsUnusable
from lodestarch.records.address import Address

__all__ = ["engine", "is_blank"]

_PATIENCE_S: Final = 10


def engine(url: URL, *, read_only: bool) -> Engine:
    """Return an engine whose sessions speak UTC and commit to disk before they answer."""
    options = "-c timezone=UTC -c synchronous_commit=on"
    if read_only:
        options += " -c default_transaction_read_only=on"
    made = create_engine(
        url, connect_args={"connect_timeout": _PATIENCE_S, "options": options}, pool_pre_ping=True
    )

    @event.listens_for(made, "connect")
    def _(dbapi: object, _record: object) -> None:
        dbapi.prepare_threshold = None  # type: ignore[attr-defined]  # psycopg's; poolers outside dislike prepared statements

    return made


def is_blank(made: Engine, address: Address) -> bool:
    """Tell whether a database has no tables; refuse one that has tables and none of ours."""
    try:
        names = set(inspect(made).get_table_names())
    except OperationalError as problem:
        reason = str(problem.orig).strip().splitlines()[0]
        raise RecordsUnusable(
            f"{address} does not answer ({reason}). Look at the address and at the server."
        ) from problem
    if not names:
        return True
    if not {"alembic_version", "events", "heads", "sites"} <= names:
        raise RecordsUnusable(
            f"{address} holds tables of somebody else's; nothing was touched. Name another database."
        )
    return False
