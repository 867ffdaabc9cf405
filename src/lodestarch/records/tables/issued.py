"""What left the house: releases, whom they went to, documents, attachments."""

from __future__ import annotations

from sqlalchemy import Index, LargeBinary
from sqlalchemy.orm import Mapped, mapped_column

from lodestarch.records.tables.base import Base, Kept, Words, one_of, refers

__all__ = ["Attachment", "AttachmentBytes", "Document", "Release", "ReleaseCopy"]


class Release(Kept, Base):
    """A result let out: it stands until another takes its place, and both are kept."""

    __tablename__ = "releases"
    __table_args__ = (
        one_of("status", ("released", "superseded")),
        refers("day", "days"),
        refers("supersedes", "releases"),
        Index(None, "sample"),
    )

    sample: Mapped[str]
    day: Mapped[str]
    """The day whose result it is."""
    result: Mapped[str]
    """Canonical JSON of the result as released."""
    released_at: Mapped[str]
    released_by: Mapped[str]
    status: Mapped[str] = mapped_column(default="released")
    by_rule: Mapped[bool] = mapped_column(default=False)
    supersedes: Mapped[str | None] = mapped_column(default=None)
    reason: Mapped[str | None] = mapped_column(default=None)


class ReleaseCopy(Kept, Base):
    """Who got a release, and how: paper, text, or an answer by phone."""

    __tablename__ = "release_copies"
    __table_args__ = (
        one_of("how", ("phone", "paper", "mail", "screen", "other")),
        refers("release", "releases"),
        refers("party", "parties"),
        refers("document", "documents"),
    )

    release: Mapped[str]
    how: Mapped[str]
    sent_at: Mapped[str]
    party: Mapped[str | None] = mapped_column(default=None)
    said: Mapped[str | None] = mapped_column(default=None)
    document: Mapped[str | None] = mapped_column(default=None)


class Document(Kept, Base):
    """A paper as issued: the digest of what it says and of its bytes, and where the log stood before."""

    __tablename__ = "documents"
    __table_args__ = (refers("supersedes", "documents"),)

    kind: Mapped[str]
    issued_at: Mapped[str]
    releases: Mapped[str]
    """Keys of the releases it states, blank-separated."""
    content_sha256: Mapped[str]
    head_seq: Mapped[int]
    head_hash: Mapped[str]
    content: Mapped[str | None] = mapped_column(Words, default=None)
    """What it says as canonical JSON, without personal data."""
    file_sha256: Mapped[str | None] = mapped_column(default=None)
    supersedes: Mapped[str | None] = mapped_column(default=None)


class Attachment(Kept, Base):
    """A file that belongs to something, by its digest."""

    __tablename__ = "attachments"
    __table_args__ = (Index(None, "subject"),)

    subject: Mapped[str]
    name: Mapped[str]
    media_type: Mapped[str]
    size_bytes: Mapped[int]
    sha256: Mapped[str]


class AttachmentBytes(Base):
    """The bytes of attachments; a digest names them, so they are checked against it."""

    __tablename__ = "attachment_bytes"

    sha256: Mapped[str] = mapped_column(Words, primary_key=True)
    content: Mapped[bytes] = mapped_column(LargeBinary)
