"""Samples on their way: received, split or composed, prepared, dried or not, retained, sent out."""

from __future__ import annotations

from sqlalchemy import Index
from sqlalchemy.orm import Mapped, mapped_column

from lodestarch.records.tables.base import Base, Kept, one_of, refers

__all__ = [
    "PARENT_HOW",
    "SAMPLE_KINDS",
    "Moisture",
    "Preparation",
    "RetainedSample",
    "RetainedUse",
    "RetentionRule",
    "Sample",
    "SampleParent",
    "SentResult",
    "SentSample",
]

SAMPLE_KINDS = ("load", "bin", "composite", "check", "retest", "split", "regrind")
PARENT_HOW = ("split", "composite", "regrind", "retest")


class Sample(Kept, Base):
    """What arrived, with how it was drawn; ``key`` is the sample's code."""

    __tablename__ = "samples"
    __table_args__ = (
        one_of("kind", SAMPLE_KINDS),
        refers("whose", "parties"),
        refers("payer", "parties"),
        Index(None, "ticket"),
        Index(None, "received_at"),
    )

    kind: Mapped[str]
    received_at: Mapped[str]
    ticket: Mapped[str | None] = mapped_column(default=None)
    material: Mapped[str | None] = mapped_column(default=None)
    whose: Mapped[str | None] = mapped_column(default=None)
    payer: Mapped[str | None] = mapped_column(default=None)
    tests_wanted: Mapped[str] = mapped_column(default="")
    needed_by: Mapped[str | None] = mapped_column(default=None)
    drawn_how: Mapped[str | None] = mapped_column(default=None)
    drawn_by: Mapped[str | None] = mapped_column(default=None)
    probes: Mapped[int | None] = mapped_column(default=None)
    increments: Mapped[int | None] = mapped_column(default=None)
    mass_g: Mapped[float | None] = mapped_column(default=None)
    condition: Mapped[str | None] = mapped_column(default=None)
    seal: Mapped[str | None] = mapped_column(default=None)
    sprouted_pct: Mapped[float | None] = mapped_column(default=None)
    sprouted_counted_by: Mapped[str | None] = mapped_column(default=None)
    variety: Mapped[str | None] = mapped_column(default=None)
    variety_how: Mapped[str | None] = mapped_column(default=None)
    """``declared`` or ``known``."""
    origin: Mapped[str | None] = mapped_column(default=None)
    harvest_date: Mapped[str | None] = mapped_column(default=None)
    note: Mapped[str | None] = mapped_column(default=None)


class SampleParent(Kept, Base):
    """A sample made from another: a split, a part of a composite, a regrind, a retest."""

    __tablename__ = "sample_parents"
    __table_args__ = (
        one_of("how", PARENT_HOW),
        refers("sample", "samples"),
        refers("parent", "samples"),
        Index(None, "parent"),
    )

    sample: Mapped[str]
    parent: Mapped[str]
    how: Mapped[str]
    mass_g: Mapped[float | None] = mapped_column(default=None)
    asked_by: Mapped[str | None] = mapped_column(default=None)
    reason: Mapped[str | None] = mapped_column(default=None)


class Preparation(Kept, Base):
    """Cleaned and ground: what was taken off, how it was divided, on which mill, in which order."""

    __tablename__ = "preparations"
    __table_args__ = (refers("sample", "samples"), refers("mill", "equipment"), Index(None, "sample"))

    sample: Mapped[str]
    cleaned_how: Mapped[str]
    """``as is``, or how it was cleaned."""
    dockage_pct: Mapped[float | None] = mapped_column(default=None)
    besatz_pct: Mapped[float | None] = mapped_column(default=None)
    divider: Mapped[str | None] = mapped_column(default=None)
    mill: Mapped[str | None] = mapped_column(default=None)
    order_on_mill: Mapped[int | None] = mapped_column(default=None)
    ground_mass_g: Mapped[float | None] = mapped_column(default=None)
    ground_at: Mapped[str | None] = mapped_column(default=None)


class Moisture(Kept, Base):
    """A moisture as measured."""

    __tablename__ = "moistures"
    __table_args__ = (
        one_of("measured_on", ("grain", "meal")),
        refers("sample", "samples"),
        refers("meter", "equipment"),
        Index(None, "sample"),
    )

    sample: Mapped[str]
    moisture_pct: Mapped[float]
    as_entered: Mapped[str]
    method: Mapped[str]
    measured_on: Mapped[str]
    measured_at: Mapped[str]
    meter: Mapped[str | None] = mapped_column(default=None)


class RetentionRule(Kept, Base):
    """How long what is left of a sample is kept."""

    __tablename__ = "retention_rules"

    applies_to: Mapped[str]
    keep_days: Mapped[int]
    source: Mapped[str]
    provenance: Mapped[str]


class RetainedSample(Kept, Base):
    """What is left of a sample, where it is, and until when."""

    __tablename__ = "retained_samples"
    __table_args__ = (
        refers("sample", "samples"),
        refers("rule", "retention_rules"),
        Index(None, "sample"),
        Index(None, "destroy_by"),
    )

    sample: Mapped[str]
    mass_g: Mapped[float]
    place: Mapped[str]
    retained_at: Mapped[str]
    seal: Mapped[str | None] = mapped_column(default=None)
    rule: Mapped[str | None] = mapped_column(default=None)
    destroy_by: Mapped[str | None] = mapped_column(default=None)
    destroyed_on: Mapped[str | None] = mapped_column(default=None)


class RetainedUse(Kept, Base):
    """Mass taken from a retained sample."""

    __tablename__ = "retained_uses"
    __table_args__ = (refers("retained", "retained_samples"),)

    retained: Mapped[str]
    mass_g: Mapped[float]
    taken_at: Mapped[str]
    purpose: Mapped[str]


class SentSample(Kept, Base):
    """A part of a sample sent to another laboratory."""

    __tablename__ = "sent_samples"
    __table_args__ = (refers("sample", "samples"), refers("laboratory", "parties"), Index(None, "sample"))

    sample: Mapped[str]
    laboratory: Mapped[str]
    sent_at: Mapped[str]
    purpose: Mapped[str]
    mass_g: Mapped[float | None] = mapped_column(default=None)
    seal: Mapped[str | None] = mapped_column(default=None)


class SentResult(Kept, Base):
    """What came back for a sent sample, paired with our own result."""

    __tablename__ = "sent_results"
    __table_args__ = (refers("sent", "sent_samples"), refers("own_release", "releases"))

    sent: Mapped[str]
    received_at: Mapped[str]
    as_entered: Mapped[str]
    seconds: Mapped[float]
    kind: Mapped[int]
    moisture_basis_pct: Mapped[float | None] = mapped_column(default=None)
    own_release: Mapped[str | None] = mapped_column(default=None)
