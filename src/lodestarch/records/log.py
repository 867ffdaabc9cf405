"""Entries of the log, tied to the one before.

An entry's ``body`` is one canonical JSON object. Its digest goes into the next entry as ``prev``; so an
entry cannot be changed, taken out or put in without changing all that follow.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Final

from sqlalchemy import Connection, insert, select, update

from lodestarch import __version__
from lodestarch.common.canonical import Json, canonical_text
from lodestarch.records.scope import Scope
from lodestarch.records.tables import Event, Head

__all__ = [
    "BODY_FORM",
    "FIRST_PREV",
    "Entry",
    "HeadState",
    "append",
    "entries_about",
    "entry_bodies",
    "read_head",
    "utc_text",
]

BODY_FORM: Final = 1
"""Form of the body; raised when its keys change."""

FIRST_PREV: Final = "0" * 64
"""What the first entry of a chain is tied to."""


@dataclass(frozen=True, slots=True)
class Entry:
    """What a change says of itself, before it is tied into the chain.

    Parameters
    ----------
    kind : str
        ``noun.verb``, listed in ``docs/records.md``.
    subject : str or None
        What it is about: ``table:key``.
    data : Json
        The change itself.
    reason : str or None
        Why, where a reason is asked for.
    """

    kind: str
    subject: str | None
    data: Json
    reason: str | None = None


@dataclass(frozen=True, slots=True)
class HeadState:
    """The end of a chain."""

    seq: int
    at: str
    hash: bytes
    rooted_seq: int


def utc_text(at: datetime) -> str:
    """Write a moment in UTC with six digits of a second.

    Raises
    ------
    ValueError
        When the moment does not say its time zone.
    """
    if at.tzinfo is None:
        raise ValueError("a moment for the log must say its time zone")
    return at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def read_head(conn: Connection, site_no: int, *, to_write: bool = False) -> HeadState:
    """Return the end of a site's chain; with ``to_write`` other writers of the chain wait from here on."""
    query = select(Head.seq, Head.at, Head.hash, Head.rooted_seq).where(Head.site_no == site_no)
    if to_write:
        query = query.with_for_update()
    seq, at, hash_, rooted = conn.execute(query).one()
    return HeadState(seq, at, bytes(hash_), rooted)


def entries_about(scope: Scope, subject: str) -> list[Json]:
    """Return the bodies of all entries about a subject, oldest first."""
    found = scope.conn.execute(
        select(Event.body).where(Event.site_no == scope.site_no, Event.subject == subject).order_by(Event.seq)
    )
    return [json.loads(row.body) for row in found]


def entry_bodies(scope: Scope, first: int, last: int) -> list[str]:
    """Return the canonical text of entries, by number, in order."""
    found = scope.conn.execute(
        select(Event.body)
        .where(Event.site_no == scope.site_no, Event.seq >= first, Event.seq <= last)
        .order_by(Event.seq)
    )
    return [row.body for row in found]


def append(
    conn: Connection, site_no: int, site_code: str, person: str, at: datetime, entries: Sequence[Entry]
) -> HeadState:
    """Tie entries into a site's chain, in the transaction of ``conn``, and return its new end."""
    head = read_head(conn, site_no, to_write=True)
    seq, prev, stamp = head.seq, head.hash.hex() if head.seq else FIRST_PREV, utc_text(at)
    rows = []
    for entry in entries:
        seq += 1
        body = canonical_text(
            {
                "form": BODY_FORM,
                "site": site_code,
                "seq": seq,
                "at": stamp,
                "person": person,
                "kind": entry.kind,
                "subject": entry.subject,
                "reason": entry.reason,
                "software": __version__,
                "data": entry.data,
                "prev": prev,
            }
        )
        hash_ = hashlib.sha256(body.encode("utf-8")).digest()
        prev = hash_.hex()
        rows.append(
            {
                "site_no": site_no,
                "seq": seq,
                "at": stamp,
                "person": person,
                "kind": entry.kind,
                "subject": entry.subject,
                "body": body,
                "hash": hash_,
            }
        )
    if not rows:
        return head
    conn.execute(insert(Event), rows)
    new = HeadState(seq, stamp, bytes.fromhex(prev), head.rooted_seq)
    conn.execute(update(Head).where(Head.site_no == site_no).values(seq=new.seq, at=new.at, hash=new.hash))
    return new
