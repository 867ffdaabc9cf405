"""Triggers that refuse what must not happen to a row: the same guard in both dialects."""

from __future__ import annotations

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

__all__ = ["drop_guards", "keep_columns", "keep_rows", "keep_whole"]

_PG_FUNCTION = """
CREATE OR REPLACE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  RAISE EXCEPTION '% is kept: no % here', TG_TABLE_NAME, lower(TG_OP)
    USING ERRCODE = 'integrity_constraint_violation';
END $$
"""


def _is_sqlite() -> bool:
    return op.get_bind().dialect.name == "sqlite"


def _guard(table: str, event: str, columns: Sequence[str] = ()) -> None:
    of = "" if not columns else " OF " + ", ".join(f'"{c}"' for c in columns)
    name = f"keep_{table}_{event.lower()}"
    if _is_sqlite():
        op.execute(
            f'CREATE TRIGGER "{name}" BEFORE {event}{of} ON "{table}" '
            f"BEGIN SELECT RAISE(ABORT, '{table} is kept: no {event.lower()} here'); END"
        )
        return
    op.execute(sa.text(_PG_FUNCTION))
    scope = "STATEMENT" if event == "TRUNCATE" else "ROW"
    op.execute(
        f'CREATE TRIGGER "{name}" BEFORE {event}{of} ON "{table}" '
        f"FOR EACH {scope} EXECUTE FUNCTION refuse_change()"
    )


def keep_rows(table: str) -> None:
    """No row of ``table`` is ever taken out."""
    _guard(table, "DELETE")
    if not _is_sqlite():
        _guard(table, "TRUNCATE")


def keep_columns(table: str, columns: Sequence[str]) -> None:
    """No row is taken out, and these columns never change."""
    keep_rows(table)
    _guard(table, "UPDATE", columns)


def keep_whole(table: str, key: Sequence[str]) -> None:
    """No row is taken out or changed, nor replaced under its key.

    The last needs a trigger of its own in SQLite: INSERT OR REPLACE takes the old row out without asking the
    delete trigger, unless the connection has recursive triggers on; another program's may not.
    """
    keep_rows(table)
    _guard(table, "UPDATE")
    if _is_sqlite():
        same = " AND ".join(f'"{c}" = NEW."{c}"' for c in key)
        there = f'EXISTS (SELECT 1 FROM "{table}" WHERE {same})'  # noqa: S608 - our own names
        op.execute(
            f'CREATE TRIGGER "keep_{table}_replace" BEFORE INSERT ON "{table}" WHEN {there} '
            f"BEGIN SELECT RAISE(ABORT, '{table} is kept: no replace here'); END"
        )


def drop_guards() -> None:
    """Take the function of the guards away, once no table has one any more."""
    if not _is_sqlite():
        op.execute("DROP FUNCTION IF EXISTS refuse_change()")
