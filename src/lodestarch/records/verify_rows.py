"""Kept rows, personal data and attached files against what the log says of them."""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Iterator
from typing import Any

from sqlalchemy import select

from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.records.kept import logged_columns, table_of
from lodestarch.records.personal import salted
from lodestarch.records.scope import Scope
from lodestarch.records.tables import KEPT, AttachmentBytes, Personal
from lodestarch.records.verify_chain import Fold, fast_digest

__all__ = ["check_files", "check_kept", "check_personal"]


def _place(table: str, key: str, row: dict[str, Any] | None) -> Where:
    row = row or {}
    sample = key if table == "samples" else row.get("sample")
    return Where(source=table, sample=sample, ticket=row.get("ticket"))


def check_kept(scope: Scope, fold: Fold, tables: Collection[str]) -> Iterator[Finding]:
    """Compare every kept row of the site with its last version in the log."""
    left = {place: said for place, said in fold.rows.items() if place[0] in tables}
    for model in KEPT:
        table = table_of(model)
        if table.name not in tables:
            continue
        columns = [table.c[name] for name in logged_columns(table)]
        query = select(*columns).where(table.c.site_no == scope.site_no)
        for found in scope.conn.execution_options(yield_per=2000).execute(query):
            row = dict(found._mapping)  # noqa: SLF001 - the documented way to the mapping
            said = left.pop((table.name, row["key"]), None)
            values = {
                "table": table.name,
                "key": row["key"],
                "seq": fold.last_seq_of.get((table.name, row["key"])),
            }
            where = _place(table.name, row["key"], row)
            if said is None:
                yield Finding("row-not-in-log", where, Severity.STOP, values)
            elif said != fast_digest(row):
                yield Finding("row-differs", where, Severity.STOP, values)
    for name, key in left:
        values = {"table": name, "key": key, "seq": fold.last_seq_of.get((name, key))}
        yield Finding("row-missing", _place(name, key, None), Severity.STOP, values)


def _is_said(salt: bytes | None, document: str | None, said: str | None) -> bool:
    return salt is not None and document is not None and salted(bytes(salt), document).hex() == said


def check_personal(scope: Scope, fold: Fold) -> Iterator[Finding]:
    """Compare personal data with their salted digests; what was erased on request is reported as that."""
    left = dict(fold.personal)
    erased = 0
    for row in scope.conn.execute(
        select(*Personal.__table__.columns).where(Personal.site_no == scope.site_no)
    ):
        place = (row.kind, row.key)
        values = {"kind": row.kind, "key": row.key}
        if place not in left:
            yield Finding("personal-not-in-log", Where(source="personal"), Severity.STOP, values)
            continue
        said = left.pop(place)
        gone = row.salt is None and row.document is None
        if said is None and gone:
            erased += 1
        elif not _is_said(row.salt, row.document, said):
            yield Finding("personal-differs", Where(source="personal"), Severity.STOP, values)
    for kind, key in left:
        yield Finding("personal-missing", Where(source="personal"), Severity.STOP, {"kind": kind, "key": key})
    if erased:
        yield Finding("personal-erased", Where(source="personal"), Severity.NOTE, {"count": erased})


def check_files(scope: Scope) -> Iterator[Finding]:
    """Compare the bytes of attachments with the digests that name them."""
    wanted = {row.sha256 for row in scope.conn.exec_driver_sql("SELECT DISTINCT sha256 FROM attachments")}
    for row in scope.conn.execution_options(yield_per=20).execute(select(*AttachmentBytes.__table__.columns)):
        values = {"sha256": row.sha256}
        if row.sha256 not in wanted:
            yield Finding("file-not-in-log", Where(source="attachment_bytes"), Severity.STOP, values)
        elif hashlib.sha256(row.content).hexdigest() != row.sha256:
            yield Finding("file-differs", Where(source="attachment_bytes"), Severity.STOP, values)
        wanted.discard(row.sha256)
    for mark in sorted(wanted):
        yield Finding("file-missing", Where(source="attachment_bytes"), Severity.STOP, {"sha256": mark})
