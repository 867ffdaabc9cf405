"""Equipment that moves a number, its checks, and the checks at the start of a shift."""

from __future__ import annotations

from sqlalchemy.orm import Mapped, mapped_column

from lodestarch.records.tables.base import Base, Kept, one_of, refers

__all__ = ["EQUIPMENT_KINDS", "Equipment", "EquipmentCheck", "ShiftCheck"]

EQUIPMENT_KINDS = (
    "bath", "position", "tube", "stirrer", "mill", "screen", "shaker", "dispenser", "moisture meter",
    "balance", "barometer", "divider", "other",
)  # fmt: skip


class Equipment(Kept, Base):
    """One piece that can move a number, down to the single tube and stirrer."""

    __tablename__ = "equipment"
    __table_args__ = (one_of("kind", EQUIPMENT_KINDS), refers("part_of", "equipment"))

    kind: Mapped[str]
    name: Mapped[str]
    part_of: Mapped[str | None] = mapped_column(default=None)
    """The bath of a position, the mill of a screen."""
    in_use_since: Mapped[str | None] = mapped_column(default=None)
    check_every_days: Mapped[int | None] = mapped_column(default=None)
    check_every_uses: Mapped[int | None] = mapped_column(default=None)
    uses: Mapped[int] = mapped_column(default=0)
    wear: Mapped[str | None] = mapped_column(default=None)
    replaced_on: Mapped[str | None] = mapped_column(default=None)
    replaced_by: Mapped[str | None] = mapped_column(default=None)


class EquipmentCheck(Kept, Base):
    """One check of one piece: what was measured, against what, and whether it held."""

    __tablename__ = "equipment_checks"
    __table_args__ = (refers("equipment", "equipment"), refers("checked_by", "people"))

    equipment: Mapped[str]
    what: Mapped[str]
    checked_at: Mapped[str]
    checked_by: Mapped[str]
    held: Mapped[bool]
    value: Mapped[float | None] = mapped_column(default=None)
    unit: Mapped[str | None] = mapped_column(default=None)
    least: Mapped[float | None] = mapped_column(default=None)
    most: Mapped[float | None] = mapped_column(default=None)
    note: Mapped[str | None] = mapped_column(default=None)


class ShiftCheck(Kept, Base):
    """The checks before the first run of a shift, item by item."""

    __tablename__ = "shift_checks"
    __table_args__ = (refers("checked_by", "people"),)

    checked_at: Mapped[str]
    checked_by: Mapped[str]
    items: Mapped[str]
    """Canonical JSON: item, value, unit, held."""
    held: Mapped[bool]
