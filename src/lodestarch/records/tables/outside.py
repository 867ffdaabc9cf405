"""Tables outside the log: what is lost with them is convenience, never a record."""

from __future__ import annotations

from sqlalchemy.orm import Mapped, mapped_column

from lodestarch.records.tables.base import Base, Words

__all__ = ["OUTSIDE", "Draft", "HeldPackage", "LoginDelay", "Session"]

OUTSIDE = frozenset({"sessions", "drafts", "login_delays", "held_packages", "alembic_version"})
"""Tables that ``verify`` does not look at."""


class Session(Base):
    """Somebody logged in; the token itself is never kept, only its digest."""

    __tablename__ = "sessions"

    token_sha256: Mapped[str] = mapped_column(Words, primary_key=True)
    site: Mapped[str]
    person: Mapped[str]
    began_at: Mapped[str]
    last_seen_at: Mapped[str]
    ends_at: Mapped[str]


class LoginDelay(Base):
    """How long the next try from one place has to wait; by place of origin, so nobody locks out another."""

    __tablename__ = "login_delays"

    origin: Mapped[str] = mapped_column(Words, primary_key=True)
    person: Mapped[str] = mapped_column(Words, primary_key=True)
    failures: Mapped[int]
    not_before: Mapped[str]


class Draft(Base):
    """A form that was not sent yet."""

    __tablename__ = "drafts"

    key: Mapped[str] = mapped_column(Words, primary_key=True)
    person: Mapped[str]
    saved_at: Mapped[str]
    document: Mapped[str]


class HeldPackage(Base):
    """Entries of another site that wait for those before them."""

    __tablename__ = "held_packages"

    site: Mapped[str] = mapped_column(Words, primary_key=True)
    first_seq: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    last_seq: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    sha256: Mapped[str] = mapped_column(Words, primary_key=True)
    arrived_at: Mapped[str]
    content: Mapped[bytes]
