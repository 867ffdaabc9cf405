"""Which version of the tables a database has, making them, and which site is meant."""

from __future__ import annotations

from importlib import resources
from typing import Final

from sqlalchemy import Connection, select
from sqlalchemy.exc import DatabaseError

from lodestarch.common.errors import RecordsUnusable
from lodestarch.records.sqlite import APPLICATION_ID
from lodestarch.records.tables import Site

__all__ = ["REVISIONS", "check_schema", "choose_site", "create_schema", "migrate"]

REVISIONS: Final = ("0001", "0002", "0003", "0004", "0008", "0009")
"""Every version of the tables, oldest first; a test compares it with the migration scripts."""


def migrate(conn: Connection, to: str = "head", *, down: bool = False) -> None:
    """Run the migration scripts on a connection, inside its transaction."""
    from alembic import command  # noqa: PLC0415 - half a second that only making and migrating need
    from alembic.config import Config  # noqa: PLC0415

    with resources.as_file(resources.files("lodestarch.records") / "migrations") as folder:
        config = Config()
        config.set_main_option("script_location", str(folder).replace("%", "%%"))
        config.attributes["connection"] = conn
        (command.downgrade if down else command.upgrade)(config, to)


def create_schema(conn: Connection) -> None:
    """Make every table in an empty database."""
    if conn.dialect.name == "sqlite":
        conn.exec_driver_sql(f"PRAGMA application_id={APPLICATION_ID}")
    migrate(conn)


def check_schema(conn: Connection, address: str) -> None:
    """Refuse records of another version.

    Raises
    ------
    RecordsUnusable
        With what to do.
    """
    try:
        found = conn.exec_driver_sql("SELECT version_num FROM alembic_version").scalar()
    except DatabaseError as problem:
        raise RecordsUnusable(
            f"{address} has no version of its tables on it, so it is damaged or not records of ours. "
            "Keep it as it is, and restore the last backup beside it."
        ) from problem
    if found == REVISIONS[-1]:
        return
    if found in REVISIONS:
        raise RecordsUnusable(
            f"{address} was made by an earlier version of this program (tables {found}, now "
            f"{REVISIONS[-1]}). Back it up, then bring it up to date: "
            f"lodestarch records upgrade --records {address}"
        )
    raise RecordsUnusable(
        f"{address} was made by a later version of this program (tables {found}, here {REVISIONS[-1]}). "
        "Nothing was changed. Update this program, then open it again."
    )


def choose_site(conn: Connection, code: str | None) -> tuple[int, str]:
    """Return number and code of the site that is meant.

    Raises
    ------
    RecordsUnusable
        When there is no such site, or several and none is named.
    """
    sites = {
        row.code: row.site_no for row in conn.execute(select(Site.site_no, Site.code).order_by(Site.site_no))
    }
    if code is None and len(sites) == 1:
        code = next(iter(sites))
    if code is None or code not in sites:
        raise RecordsUnusable(f"Say which site is meant: {', '.join(sites) or 'there is none'}.")
    return sites[code], code
