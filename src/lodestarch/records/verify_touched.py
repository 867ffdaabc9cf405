"""What a difference touches: everything that was let out or issued from it."""

from __future__ import annotations

from sqlalchemy import Connection, or_, select

from lodestarch.common.findings import Finding, Severity
from lodestarch.records.tables import Document, Release, ReleaseCopy, Site

__all__ = ["touched"]


def _releases(
    conn: Connection, site_no: int | None, sample: str | None, day: str | None, key: str
) -> list[str]:
    query = select(Release.key).where(or_(Release.sample == sample, Release.day == day, Release.key == key))
    if site_no is not None:
        query = query.where(Release.site_no == site_no)
    return [row.key for row in conn.execute(query.order_by(Release.released_at, Release.key))]


def touched(conn: Connection, difference: Finding) -> Finding:
    """Return a note on what was let out or issued from the place of a difference.

    ``touches`` lists keys of releases and of documents that state them, and is empty where nothing left the
    house; ``told`` counts who got one, by phone too.
    """
    values = difference.values
    subject = str(values.get("subject") or "")
    sample = difference.where.sample or (subject.removeprefix("samples:") if ":" in subject else None)
    day = str(values["day"]) if "day" in values else subject.removeprefix("days:") or None
    site_no = conn.execute(select(Site.site_no).where(Site.code == difference.where.source)).scalar()
    key = str(values.get("key") or subject.removeprefix("releases:"))
    releases = _releases(conn, site_no, sample, day, key)
    papers = [
        row.key
        for row in conn.execute(select(Document.key, Document.releases))
        if row.key == key or set(row.releases.split()) & set(releases)
    ]
    copies = conn.execute(select(ReleaseCopy.key).where(ReleaseCopy.release.in_(releases))).all()
    said = ", ".join([*releases, *papers])
    return Finding(
        "difference-touches", difference.where, Severity.NOTE, {"touches": said, "told": len(copies)}
    )
