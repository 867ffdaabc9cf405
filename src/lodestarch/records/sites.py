"""Sites: each keeps a chain of its own."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import Connection, func, insert, select

from lodestarch.records.log import FIRST_PREV, Entry, append, utc_text
from lodestarch.records.tables import Head, Site

__all__ = ["add_site", "found_site"]


def add_site(conn: Connection, code: str, stamp: str) -> int:
    """Write a site with an empty chain and return its number, which is local to these records."""
    number = int(conn.execute(select(func.coalesce(func.max(Site.site_no), 0))).scalar_one()) + 1
    conn.execute(insert(Site).values(site_no=number, code=code))
    conn.execute(
        insert(Head).values(site_no=number, seq=0, at=stamp, hash=bytes.fromhex(FIRST_PREV), rooted_seq=0)
    )
    return number


def found_site(conn: Connection, code: str, now: datetime) -> int:
    """Found a site: its number, its head, and the first entry of its chain."""
    number = add_site(conn, code, utc_text(now))
    append(conn, number, code, "", now, [Entry("site.founded", f"sites:{code}", {"site": code})])
    return number
