"""Retests: what each was made from, and under which rule it combines with what was there."""

from __future__ import annotations

from sqlalchemy import Index
from sqlalchemy.orm import Mapped, mapped_column

from lodestarch.records.tables.base import Base, Kept, one_of, refers

__all__ = ["RETEST_FROM", "RETEST_RULES", "Retest"]

RETEST_FROM = ("same-meal", "regrind", "retained-sample", "new-probe")
RETEST_RULES = ("all-count", "official-appeal", "two-nearest", "median", "third-final")


class Retest(Kept, Base):
    """A retest as asked for; ``key`` is the code of the sample that it is run on."""

    __tablename__ = "retests"
    __table_args__ = (
        one_of("made_from", RETEST_FROM),
        one_of("rule", RETEST_RULES),
        refers("sample", "samples"),
        refers("parent", "samples"),
        refers("asked_by", "parties"),
        refers("retained", "retained_samples"),
        Index(None, "sample"),
        Index(None, "parent"),
    )

    sample: Mapped[str]
    parent: Mapped[str]
    made_from: Mapped[str]
    rule: Mapped[str]
    asked_at: Mapped[str]
    asked_by: Mapped[str | None] = mapped_column(default=None)
    rule_from: Mapped[str | None] = mapped_column(default=None)
    """Whose rule it is, as entered: a contract, an office, the lab's own."""
    appeal_sd_s: Mapped[float | None] = mapped_column(default=None)
    """Standard deviation that an appeal is held against."""
    retained: Mapped[str | None] = mapped_column(default=None)
    """The retained sample that it is drawn from, where one is kept."""
    reason: Mapped[str | None] = mapped_column(default=None)
