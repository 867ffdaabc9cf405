"""The log: one chain of events a site."""

from __future__ import annotations

from sqlalchemy import Index, Integer
from sqlalchemy.orm import Mapped, mapped_column

from lodestarch.records.tables.base import Base, Number, SiteNo, Words

__all__ = ["Event", "Head", "Site"]


class Site(Base):
    """A place that keeps its own chain; ``site_no`` is local to these records, ``code`` is not."""

    __tablename__ = "sites"

    site_no: Mapped[int] = mapped_column(Integer, primary_key=True, autoincrement=False)
    code: Mapped[str] = mapped_column(Words, unique=True)


class Event(Base):
    """One entry of the log.

    ``body`` is the canonical text (RFC 8785) of the whole entry, the digest of the entry before it
    included; ``hash`` is SHA-256 over exactly these bytes. The other columns repeat parts of the body for
    searching, and ``verify`` compares them.
    """

    __tablename__ = "events"
    __table_args__ = (Index(None, "subject"),)

    site_no: Mapped[SiteNo] = mapped_column(primary_key=True)
    seq: Mapped[int] = mapped_column(Number, primary_key=True, autoincrement=False)
    at: Mapped[str]
    person: Mapped[str]
    kind: Mapped[str]
    subject: Mapped[str | None]
    body: Mapped[str]
    hash: Mapped[bytes]


class Head(Base):
    """The end of a site's chain: what the next entry is tied to, and where writers queue."""

    __tablename__ = "heads"

    site_no: Mapped[SiteNo] = mapped_column(primary_key=True)
    seq: Mapped[int]
    at: Mapped[str]
    hash: Mapped[bytes]
    rooted_seq: Mapped[int]
    """Last entry that a root covers."""
