"""An open package: what a site has entered, as files that anybody can read in twenty years.

A zip archive with

- ``manifest.json``: form, when, which entries of which sites, and the SHA-256 of every other file;
- ``schema.json``: the columns of every table and their types;
- ``SITE/entries.jsonl``: the entries of the log, one a line, byte for byte as they are digested;
- ``SITE/rows/TABLE.jsonl``: rows that came by the sheet, which the log holds by digest only;
- ``SITE/personal.jsonl``: personal data with its salts (may be left out);
- ``files/SHA256``: attachments.

Kept rows stand whole in the entries, so that a package is enough to make the records anew.
"""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

import polars as pl
from sqlalchemy import Connection, select

from lodestarch.common.canonical import Json, canonical_text, sha256_hex
from lodestarch.records.day_frames import BULK, BulkTable
from lodestarch.records.days_read import kept_frame
from lodestarch.records.kept import logged_columns, table_of
from lodestarch.records.log import utc_text
from lodestarch.records.scope import Scope
from lodestarch.records.tables import KEPT, Attachment, AttachmentBytes, Day, Event, Personal, Site

__all__ = ["FORM", "SitePart", "write_package"]

FORM: Final = "lodestarch-package/1"


@dataclass(frozen=True, slots=True)
class SitePart:
    """Which entries of a site a package holds."""

    site: str
    first_seq: int
    last_seq: int


def _schema() -> Json:
    kept = {
        table_of(model).name: {
            c: str(table_of(model).c[c].type).lower() for c in logged_columns(table_of(model))
        }
        for model in KEPT
    }
    bulk = {t.name: {c: str(kind).lower() for c, kind in t.schema.items()} for t in BULK.values()}
    return {"kept rows, in entries under data.changes": kept, "rows by the day": bulk}


def _lines(rows: Iterable[Json]) -> bytes:
    return "".join(canonical_text(row) + "\n" for row in rows).encode("utf-8")


def _entries(scope: Scope, first: int) -> list[str]:
    found = scope.conn.execute(
        select(Event.body).where(Event.site_no == scope.site_no, Event.seq >= first).order_by(Event.seq)
    )
    return [row.body for row in found]


def _batches(bodies: Iterable[str]) -> Iterator[tuple[str, str, int, int]]:
    """Yield (day, table, first number, last number) of the rows that entries speak of by digest."""
    for body in bodies:
        data = json.loads(body)["data"]
        for table, said in data.get("bulk", {}).items():
            yield data["day"], table, said["first"], said["last"]


def _plain(value: Any) -> Json:
    plain: Json = value.hex() if isinstance(value, bytes) else value
    return plain


def _bulk_rows(scope: Scope, table: BulkTable, wanted: dict[str, list[tuple[int, int]]]) -> Iterator[Json]:
    for day, spans in wanted.items():
        day_no = scope.conn.execute(
            select(Day.day_no).where(Day.key == day, Day.site_no == scope.site_no)
        ).scalar_one()
        frame = kept_frame(scope, table, day_no, all_columns=True)
        inside = pl.any_horizontal(pl.col("number").is_between(*span) for span in spans)
        for row in frame.filter(inside).drop("id", "site_no", "day_no").iter_rows(named=True):
            yield {"day": day, **{name: _plain(value) for name, value in row.items()}}


def _personal(scope: Scope) -> Iterator[Json]:
    for row in scope.conn.execute(
        select(Personal.kind, Personal.key, Personal.salt, Personal.document)
        .where(Personal.site_no == scope.site_no)
        .order_by(Personal.kind, Personal.key)
    ):
        salt = None if row.salt is None else bytes(row.salt).hex()
        yield {"kind": row.kind, "key": row.key, "salt": salt, "document": row.document}


def _site_files(scope: Scope, first: int, *, personal: bool) -> tuple[dict[str, bytes], int]:
    bodies = _entries(scope, first)
    files = {f"{scope.site}/entries.jsonl": "".join(body + "\n" for body in bodies).encode("utf-8")}
    wanted: dict[str, dict[str, list[tuple[int, int]]]] = {}
    for day, table, low, high in _batches(bodies):
        wanted.setdefault(table, {}).setdefault(day, []).append((low, high))
    for name, days in wanted.items():
        files[f"{scope.site}/rows/{name}.jsonl"] = _lines(_bulk_rows(scope, BULK[name], days))
    if personal:
        files[f"{scope.site}/personal.jsonl"] = _lines(_personal(scope))
    for row in scope.conn.execute(
        select(AttachmentBytes)
        .join(Attachment, Attachment.sha256 == AttachmentBytes.sha256)
        .where(Attachment.site_no == scope.site_no)
        .distinct()
        .with_only_columns(AttachmentBytes.sha256, AttachmentBytes.content)
    ):
        files[f"files/{row.sha256}"] = bytes(row.content)
    return files, len(bodies)


def write_package(
    conn: Connection, at: datetime, *, since: dict[str, int] | None = None, personal: bool = True
) -> tuple[bytes, tuple[SitePart, ...]]:
    """Make a package of every site, or of what a site entered after a given entry.

    Parameters
    ----------
    conn : Connection
        In a transaction, so that all is of one moment.
    at : datetime
        With time zone.
    since : dict of site code to number, or None
        Only these sites, each from the entry after this number on.
    personal : bool
        With names and contacts. Without them the package cannot be proved to the end: it says so.

    Returns
    -------
    bytes, tuple of SitePart
        A zip archive, and which entries are in it.
    """
    files: dict[str, bytes] = {"schema.json": json.dumps(_schema(), indent=1).encode()}
    parts = []
    for number, code in conn.execute(select(Site.site_no, Site.code).order_by(Site.code)).all():
        if since is not None and code not in since:
            continue
        first = 1 + (since or {}).get(code, 0)
        more, count = _site_files(Scope(conn, number, code), first, personal=personal)
        files |= more
        parts.append(SitePart(code, first, first + count - 1))
    manifest: Json = {
        "form": FORM,
        "made_at": utc_text(at),
        "personal": personal,
        "sites": [{"site": p.site, "first_seq": p.first_seq, "last_seq": p.last_seq} for p in parts],
        "sha256": {name: sha256_hex(content) for name, content in files.items()},
    }
    whole = io.BytesIO()
    with zipfile.ZipFile(whole, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("manifest.json", canonical_text(manifest))
        for name, content in sorted(files.items()):
            archive.writestr(name, content)
    return whole.getvalue(), tuple(parts)
