"""Grain: loads, bins in layers, movements, lots, sublots, cargoes."""

from __future__ import annotations

from sqlalchemy import Index
from sqlalchemy.orm import Mapped, mapped_column

from lodestarch.records.tables.base import Base, Kept, one_of, refers

__all__ = ["MOVEMENT_KINDS", "Bin", "BinLayer", "Cargo", "Load", "Lot", "Movement", "Sublot"]

MOVEMENT_KINDS = ("in", "move", "turn", "out")


class Bin(Kept, Base):
    """A place of keeping."""

    __tablename__ = "bins"

    name: Mapped[str]
    capacity_t: Mapped[float | None] = mapped_column(default=None)
    in_use: Mapped[bool] = mapped_column(default=True)


class Load(Kept, Base):
    """One delivery; ``key`` is its ticket."""

    __tablename__ = "loads"
    __table_args__ = (
        refers("sample", "samples"), refers("grower", "parties"), refers("bin", "bins"),
    )  # fmt: skip

    received_at: Mapped[str]
    grower: Mapped[str | None] = mapped_column(default=None)
    sample: Mapped[str | None] = mapped_column(default=None)
    tonnes: Mapped[float | None] = mapped_column(default=None)
    bin: Mapped[str | None] = mapped_column(default=None)
    answer: Mapped[str | None] = mapped_column(default=None)
    """What was said at the probe."""


class BinLayer(Kept, Base):
    """Grain as it lies in a bin, lowest layer first; a turned bin is one layer."""

    __tablename__ = "bin_layers"
    __table_args__ = (refers("bin", "bins"), refers("load", "loads"), Index(None, "bin", "order_no"))

    bin: Mapped[str]
    order_no: Mapped[int]
    tonnes: Mapped[float]
    load: Mapped[str | None] = mapped_column(default=None)
    mixed: Mapped[bool] = mapped_column(default=False)


class Lot(Kept, Base):
    """Grain judged as one."""

    __tablename__ = "lots"
    __table_args__ = (refers("bin", "bins"), refers("sample", "samples"))

    name: Mapped[str]
    tonnes: Mapped[float | None] = mapped_column(default=None)
    bin: Mapped[str | None] = mapped_column(default=None)
    sample: Mapped[str | None] = mapped_column(default=None)


class Cargo(Kept, Base):
    """What is shipped."""

    __tablename__ = "cargoes"
    __table_args__ = (refers("buyer", "parties"), refers("terms", "terms"))

    name: Mapped[str]
    buyer: Mapped[str | None] = mapped_column(default=None)
    terms: Mapped[str | None] = mapped_column(default=None)
    tonnes: Mapped[float | None] = mapped_column(default=None)
    loading_began_at: Mapped[str | None] = mapped_column(default=None)
    loading_ended_at: Mapped[str | None] = mapped_column(default=None)


class Sublot(Kept, Base):
    """A part of a cargo, in loading order."""

    __tablename__ = "sublots"
    __table_args__ = (
        refers("cargo", "cargoes"), refers("lot", "lots"), refers("sample", "samples"),
    )  # fmt: skip

    cargo: Mapped[str]
    order_no: Mapped[int]
    tonnes: Mapped[float | None] = mapped_column(default=None)
    lot: Mapped[str | None] = mapped_column(default=None)
    sample: Mapped[str | None] = mapped_column(default=None)


class Movement(Kept, Base):
    """Grain moved: into a bin, between bins, turned, or out."""

    __tablename__ = "movements"
    __table_args__ = (
        one_of("kind", MOVEMENT_KINDS),
        refers("from_bin", "bins"),
        refers("to_bin", "bins"),
        refers("load", "loads"),
        refers("sublot", "sublots"),
    )

    kind: Mapped[str]
    moved_at: Mapped[str]
    tonnes: Mapped[float]
    from_bin: Mapped[str | None] = mapped_column(default=None)
    to_bin: Mapped[str | None] = mapped_column(default=None)
    load: Mapped[str | None] = mapped_column(default=None)
    sublot: Mapped[str | None] = mapped_column(default=None)
