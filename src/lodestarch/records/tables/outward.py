"""What leads outward from the bench: tokens of programs, custody of samples sent out, instruments heard."""

from __future__ import annotations

from sqlalchemy import Index
from sqlalchemy.orm import Mapped, mapped_column

from lodestarch.records.tables.base import Base, Kept, one_of, refers

__all__ = ["CUSTODY_STEPS", "ApiToken", "CustodyStep", "HeardLine"]

CUSTODY_STEPS = ("packed", "handed over", "arrived", "opened", "sent back", "used up")


class ApiToken(Kept, Base):
    """A program's right to ask in a person's name; the token itself is never kept, only its digest."""

    __tablename__ = "api_tokens"
    __table_args__ = (refers("person", "people"), Index(None, "token_sha256"))

    person: Mapped[str]
    purpose: Mapped[str]
    scopes: Mapped[str]
    """What it may be used for, blank-separated; never more than the person may."""
    token_sha256: Mapped[str]
    issued_at: Mapped[str]
    ends_at: Mapped[str]
    revoked_at: Mapped[str | None] = mapped_column(default=None)


class CustodyStep(Kept, Base):
    """One hand to the next of a sample that was sent out; who gave and took are parties."""

    __tablename__ = "custody_steps"
    __table_args__ = (
        one_of("what", CUSTODY_STEPS),
        refers("sent", "sent_samples"),
        refers("from_party", "parties"),
        refers("to_party", "parties"),
        Index(None, "sent"),
    )

    sent: Mapped[str]
    what: Mapped[str]
    at: Mapped[str]
    from_party: Mapped[str | None] = mapped_column(default=None)
    to_party: Mapped[str | None] = mapped_column(default=None)
    seal: Mapped[str | None] = mapped_column(default=None)
    """How it was found: its number, or that it was broken."""
    note: Mapped[str | None] = mapped_column(default=None)


class HeardLine(Kept, Base):
    """A line as an instrument sent it, with what the lab's pattern read in it."""

    __tablename__ = "heard_lines"
    __table_args__ = (refers("sample", "samples"), Index(None, "heard_at"))

    source: Mapped[str]
    """Name that the lab gave the line."""
    pattern: Mapped[str]
    """The pattern as it stood when the line was heard."""
    heard_at: Mapped[str]
    text: Mapped[str]
    """As received; bytes that are no text stand as escapes."""
    read: Mapped[str | None] = mapped_column(default=None)
    """Canonical JSON by field; empty where the pattern did not fit."""
    sample: Mapped[str | None] = mapped_column(default=None)
    used_in: Mapped[str | None] = mapped_column(default=None)
    """The entry that took it."""
