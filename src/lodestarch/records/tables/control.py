"""Control of the bench: what was done to it, how often it is due, and why a failed check was cleared."""

from __future__ import annotations

from sqlalchemy import Index
from sqlalchemy.orm import Mapped, mapped_column

from lodestarch.records.tables.base import Base, Kept, refers

__all__ = ["CheckCause", "UpkeepDone", "UpkeepInterval"]


class UpkeepDone(Kept, Base):
    """Something done to the bench, by whom and when; drawn on the charts."""

    __tablename__ = "upkeep_done"
    __table_args__ = (refers("done_by", "people"), Index(None, "done_at"))

    item: Mapped[str]
    """A code of ``control.upkeep_items``."""
    done_at: Mapped[str]
    done_by: Mapped[str]
    changes_results: Mapped[bool]
    """A shift on a chart may follow, so that a check sample is due."""
    place: Mapped[str | None] = mapped_column(default=None)
    """The bath, mill or piece as the bench calls it; none: all of the kind."""
    note: Mapped[str | None] = mapped_column(default=None)


class UpkeepInterval(Kept, Base):
    """How often an item is due here; ``key`` is the item. Stands in place of the common interval."""

    __tablename__ = "upkeep_intervals"

    source: Mapped[str]
    provenance: Mapped[str]
    every_days: Mapped[float | None] = mapped_column(default=None)
    every_runs: Mapped[int | None] = mapped_column(default=None)


class CheckCause(Kept, Base):
    """The cause found for a check sample that was off: what lifts its hold. ``key`` is the check's sample."""

    __tablename__ = "check_causes"
    __table_args__ = (refers("decided_by", "people"),)

    cause: Mapped[str]
    decided_at: Mapped[str]
    decided_by: Mapped[str]
    note: Mapped[str | None] = mapped_column(default=None)
