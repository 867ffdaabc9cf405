"""People, parties, and personal data beside the log."""

from __future__ import annotations

from sqlalchemy import ForeignKey, Integer
from sqlalchemy.orm import Mapped, mapped_column

from lodestarch.records.tables.base import Base, Kept, Words, one_of

__all__ = ["PARTY_ROLES", "Party", "Person", "Personal"]

PARTY_ROLES = ("grower", "buyer", "payer", "laboratory", "carrier", "other")


class Person(Kept, Base):
    """Somebody who works with these records; the name is personal data and stands in ``personal``."""

    __tablename__ = "people"

    roles: Mapped[str]
    """Roles, blank-separated, in the order of the permission table."""
    active: Mapped[bool] = mapped_column(default=True)
    signed_off_for: Mapped[str] = mapped_column(Words, default="")
    """What harvest help may do alone, blank-separated tasks."""


class Party(Kept, Base):
    """Somebody the lab deals with; name and contact are personal data and stand in ``personal``."""

    __tablename__ = "parties"
    __table_args__ = (one_of("role", PARTY_ROLES),)

    role: Mapped[str]
    region: Mapped[str | None] = mapped_column(default=None)
    """Words and units of the place that letters to this party use."""
    wants_price: Mapped[bool] = mapped_column(default=False)
    """Asked for price and buyer on its papers; a neutral lab prints them for nobody else."""
    active: Mapped[bool] = mapped_column(default=True)


class Personal(Base):
    """Personal data of one person or party. The log holds SHA-256(salt || document), nothing more.

    An erasure empties ``salt`` and ``document``; what remains says that there was something.
    """

    __tablename__ = "personal"

    site_no: Mapped[int] = mapped_column(Integer, ForeignKey("sites.site_no"), primary_key=True)
    kind: Mapped[str] = mapped_column(Words, primary_key=True)
    """``people``, ``parties``, or ``accounts`` (what a password is checked against)."""
    key: Mapped[str] = mapped_column(Words, primary_key=True)
    salt: Mapped[bytes | None]
    document: Mapped[str | None]
    """Canonical text of name and contact."""
