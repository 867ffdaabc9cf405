"""Kept rows: written with their version, and said whole in the log."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any, TypeVar

from sqlalchemy import Table, insert, select, update
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import DeclarativeBase

from lodestarch.common.canonical import Json
from lodestarch.records.conflict import KeyTaken, RefersNowhere, StaleEdit
from lodestarch.records.scope import Scope
from lodestarch.records.tables import Kept

__all__ = [
    "added",
    "changed",
    "fetch",
    "fetch_all",
    "fetch_keys",
    "fetch_latest",
    "logged_columns",
    "row_json",
    "table_of",
]

K = TypeVar("K", bound=Kept)


def table_of(model: type[Kept]) -> Table:
    """Return the table of a kept kind of row."""
    assert issubclass(model, DeclarativeBase)  # noqa: S101 - true of every mapped class
    table = model.__table__
    assert isinstance(table, Table)  # noqa: S101 - same
    return table


def logged_columns(table: Table) -> list[str]:
    """Return the columns that the log holds: all but those that mean something only here."""
    return [c.name for c in table.columns if not c.info.get("local")]


def _values(row: Kept) -> dict[str, Any]:
    return {c.name: getattr(row, c.name) for c in table_of(type(row)).columns}


def row_json(row: Kept) -> dict[str, Json]:
    """Return what the log holds of a row."""
    return {name: getattr(row, name) for name in logged_columns(table_of(type(row)))}


def _change(row: Kept) -> Json:
    return {"table": table_of(type(row)).name, "key": row.key, "version": row.version, "row": row_json(row)}


@contextmanager
def _clashes_told(table: str, key: str) -> Iterator[None]:
    """Turn the database's refusal into one of ours."""
    try:
        yield
    except IntegrityError as clash:
        told = str(clash.orig).strip().splitlines()[0]
        if "unique" in told.lower():
            raise KeyTaken(table, key) from clash
        raise RefersNowhere(table, key, told) from clash


def added(scope: Scope, row: Kept) -> Json:
    """Insert a row as its first version and return what the log says of it.

    Raises
    ------
    KeyTaken, RefersNowhere
    """
    row.site_no, row.version = scope.site_no, 1
    with _clashes_told(table_of(type(row)).name, row.key):
        scope.conn.execute(insert(table_of(type(row))).values(_values(row)))
    return _change(row)


def changed(scope: Scope, row: Kept, made_from: int) -> Json:
    """Write a row over the version that the edit was made from and return what the log says.

    Raises
    ------
    RefersNowhere
    StaleEdit
        When the row has another version by now; carries both.
    """
    row.site_no, row.version = scope.site_no, made_from + 1
    table = table_of(type(row))
    with _clashes_told(table.name, row.key):
        done = scope.conn.execute(
            update(table)
            .where(table.c.site_no == scope.site_no, table.c.key == row.key, table.c.version == made_from)
            .values(_values(row))
        )
    if done.rowcount != 1:
        raise StaleEdit(table.name, row.key, made_from, row_json(row), _now(scope, type(row), row.key))
    return _change(row)


def _now(scope: Scope, model: type[Kept], key: str) -> dict[str, Json] | None:
    row = fetch(scope, model, key)
    return None if row is None else row_json(row)


def _build(model: type[K], values: dict[str, Any]) -> K:
    site_no, version = values.pop("site_no"), values.pop("version")
    row = model(**values)
    row.site_no, row.version = site_no, version
    return row


def fetch(scope: Scope, model: type[K], key: str) -> K | None:
    """Return one row as a value, or ``None``."""
    table = table_of(model)
    found = scope.conn.execute(
        select(table).where(table.c.site_no == scope.site_no, table.c.key == key)
    ).mappings()
    row = found.first()
    return None if row is None else _build(model, dict(row))


def fetch_all(scope: Scope, model: type[K], **equal: Json) -> list[K]:
    """Return the rows of this site whose columns equal the values given, in order of key."""
    table = table_of(model)
    query = select(table).where(table.c.site_no == scope.site_no)
    for name, value in equal.items():
        query = query.where(table.c[name] == value)
    return [_build(model, dict(row)) for row in scope.conn.execute(query.order_by(table.c.key)).mappings()]


def fetch_keys(scope: Scope, model: type[K], keys: Sequence[str]) -> list[K]:
    """Return the rows of this site under some keys, in order of key; unknown ones are passed over."""
    table = table_of(model)
    query = select(table).where(table.c.site_no == scope.site_no, table.c.key.in_(list(keys)))
    return [_build(model, dict(row)) for row in scope.conn.execute(query.order_by(table.c.key)).mappings()]


def fetch_latest(scope: Scope, model: type[K], by: str, most: int) -> list[K]:
    """Return the rows of this site with the latest values in a column, the latest first."""
    table = table_of(model)
    query = select(table).where(table.c.site_no == scope.site_no).order_by(table.c[by].desc(), table.c.key)
    return [_build(model, dict(row)) for row in scope.conn.execute(query.limit(most)).mappings()]
