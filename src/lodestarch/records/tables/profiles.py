"""A lab's own method profiles and its sign-offs, as documents."""

from __future__ import annotations

from sqlalchemy.orm import Mapped

from lodestarch.records.tables.base import Base, Kept

__all__ = ["ProfileVersion", "SignOff"]


class ProfileVersion(Kept, Base):
    """One version of a profile; ``key`` is ``id@version``. Never changed."""

    __tablename__ = "profile_versions"

    profile_id: Mapped[str]
    profile_version: Mapped[str]
    digest: Mapped[str]
    document: Mapped[str]


class SignOff(Kept, Base):
    """A confirmation of fields against the lab's printed standard; ``key`` is ``id@version/n``."""

    __tablename__ = "sign_offs"

    profile_id: Mapped[str]
    profile_version: Mapped[str]
    digest: Mapped[str]
    document: Mapped[str]
