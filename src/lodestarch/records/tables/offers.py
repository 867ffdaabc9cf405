"""Terms as they stood at a time, and prices as they were told under them."""

from __future__ import annotations

from sqlalchemy import Index
from sqlalchemy.orm import Mapped, mapped_column

from lodestarch.records.tables.base import Base, Kept, refers

__all__ = ["TermsVersion", "ToldPrice"]


class TermsVersion(Kept, Base):
    """All terms as they stand from one entry on; the next entry makes another version beside it."""

    __tablename__ = "terms_versions"
    __table_args__ = (Index(None, "entered_at"),)

    entered_at: Mapped[str]
    source: Mapped[str]
    """Name of the file, or ``typed``."""
    top: Mapped[str]
    """Canonical JSON: currency, title, day, jurisdiction."""
    blocks: Mapped[str]
    """Canonical JSON: keys of the rows of ``terms`` that stand, in their order."""
    sha256: Mapped[str]
    """Digest of the whole as canonical JSON."""


class ToldPrice(Kept, Base):
    """What a day, or a sample, was said to bring; never changed when the terms do."""

    __tablename__ = "told_prices"
    __table_args__ = (
        refers("day", "days"),
        refers("sample", "samples"),
        refers("terms_version", "terms_versions"),
        Index(None, "day"),
        Index(None, "sample"),
    )

    told_at: Mapped[str]
    terms_name: Mapped[str]
    terms_sha256: Mapped[str]
    told: Mapped[str]
    """Canonical JSON: offers, nets, chances and advice as they were said."""
    terms_version: Mapped[str | None] = mapped_column(default=None)
    """Empty where the terms came in a file with the day."""
    day: Mapped[str | None] = mapped_column(default=None)
    sample: Mapped[str | None] = mapped_column(default=None)
