"""Entries of another place taken into the tables, as they were made there."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import polars as pl
from sqlalchemy import insert, select, update

from lodestarch.common.errors import LodestarchError
from lodestarch.records.bulk import insert_frame
from lodestarch.records.day_frames import BULK, IDS_A_DAY, BulkTable
from lodestarch.records.days import next_day_no
from lodestarch.records.days_read import as_kept
from lodestarch.records.kept import table_of
from lodestarch.records.parties import empty_rows
from lodestarch.records.scope import Scope
from lodestarch.records.tables import KEPT, Day, Event, Head, Personal

__all__ = ["replay"]

_TABLES = {table_of(model).name: table_of(model) for model in KEPT}


class Unknown(LodestarchError):
    """An entry speaks of a table that this version does not have."""


def _write_change(scope: Scope, change: Mapping[str, Any]) -> None:
    table = _TABLES.get(change["table"])
    if table is None:
        raise Unknown(change["table"])
    values = {**change["row"], "site_no": scope.site_no}
    if change["version"] == 1:
        if table.name == "days":
            values["day_no"] = next_day_no(scope)
        scope.conn.execute(insert(table).values(values))
        return
    scope.conn.execute(
        update(table).where(table.c.site_no == scope.site_no, table.c.key == change["key"]).values(values)
    )


def _write_personal(
    scope: Scope, said: Mapping[str, Any], given: Mapping[tuple[str, str], Mapping[str, Any]]
) -> None:
    """Write personal data as the package has it; what was erased there meanwhile comes as erased."""
    place = (said["kind"], said["key"])
    row = given.get(place, {"salt": None, "document": None})
    values = {
        "salt": None if row["salt"] is None else bytes.fromhex(row["salt"]),
        "document": row["document"],
    }
    mine = (Personal.site_no == scope.site_no, Personal.kind == place[0], Personal.key == place[1])
    known = scope.conn.execute(select(Personal.key).where(*mine)).first()
    if known is None:
        scope.conn.execute(
            insert(Personal).values(site_no=scope.site_no, kind=place[0], key=place[1], **values)
        )
    else:
        scope.conn.execute(update(Personal).where(*mine).values(**values))


def _write_emptied(scope: Scope, said: Mapping[str, Any]) -> None:
    """Empty rows here that were emptied there: their digests are made from what stands here."""
    day_no = scope.conn.execute(
        select(Day.day_no).where(Day.site_no == scope.site_no, Day.key == said["day"])
    ).scalar_one()
    empty_rows(scope, said["table"], [day_no * IDS_A_DAY + n for n in said["numbers"]])


def _write_rows(scope: Scope, table: BulkTable, rows: Sequence[Mapping[str, Any]]) -> None:
    """Write rows that came by the day, under the day's number here."""
    schema = {name: as_kept(kind) for name, kind in table.schema.items()}
    if table.personal:
        schema |= {"salt": pl.String(), "personal_sha": pl.String()}
    if table.name == "readings":
        schema["revision"] = pl.Int64()
    days = {row["day"] for row in rows}
    numbers = dict(
        scope.conn.execute(
            select(Day.key, Day.day_no).where(Day.site_no == scope.site_no, Day.key.in_(days))
        ).all()
    )
    frame = pl.DataFrame(
        [
            [numbers[row["day"]] * IDS_A_DAY + row["number"], scope.site_no, numbers[row["day"]]]
            + [row[name] for name in schema]
            for row in rows
        ],
        schema={"id": pl.Int64(), "site_no": pl.Int64(), "day_no": pl.Int64(), **schema},
        orient="row",
    )
    if table.personal:
        frame = frame.with_columns(pl.col("salt", "personal_sha").str.decode("hex"))
    insert_frame(scope.conn, table.name, frame)


def replay(
    scope: Scope,
    bodies: Sequence[tuple[str, Mapping[str, Any]]],
    rows: Mapping[str, Iterable[Mapping[str, Any]]],
    personal: Mapping[tuple[str, str], Mapping[str, Any]],
) -> None:
    """Write entries, each as text and as read, and everything that they speak of.

    The entries follow on the end of the site's chain here; the caller has seen that they do.
    """
    entries = []
    for text, body in bodies:
        entries.append(
            {
                "site_no": scope.site_no,
                "seq": body["seq"],
                "at": body["at"],
                "person": body["person"],
                "kind": body["kind"],
                "subject": body["subject"],
                "body": text,
                "hash": hashlib.sha256(text.encode("utf-8")).digest(),
            }
        )
        for change in body["data"].get("changes", ()):
            _write_change(scope, change)
        for said in body["data"].get("personal", ()):
            _write_personal(scope, said, personal)
    for name, of_table in rows.items():
        listed = list(of_table)
        if listed:
            _write_rows(scope, BULK[name], listed)
    for _, body in bodies:
        for said in body["data"].get("emptied", ()):
            _write_emptied(scope, said)
    scope.conn.execute(insert(Event), entries)
    last = entries[-1]
    rooted = [b["data"]["to"] for _, b in bodies if b["kind"] == "log.rooted"]
    values = {"seq": last["seq"], "at": last["at"], "hash": last["hash"]}
    if rooted:
        values["rooted_seq"] = rooted[-1]
    scope.conn.execute(update(Head).where(Head.site_no == scope.site_no).values(**values))
