"""Bench sheets as read and judged: a day, its readings, samples, results, refused rows and findings.

Rows of a sheet come in bulk: the log holds one digest over the canonical bytes of all rows of a table and
day. Nothing in these tables changes afterwards, but for text that names a person, which an erasure empties;
such text enters the digest through a salted digest of its own (``salt``, ``personal_sha``).
"""

from __future__ import annotations

from sqlalchemy import ForeignKey, Index, Integer, UniqueConstraint
from sqlalchemy.orm import Mapped, MappedAsDataclass, mapped_column

from lodestarch.records.tables.base import LOCAL, Base, BigKey, Kept, SiteNo

__all__ = ["Day", "DayFinding", "Reading", "RefusedRow", "Relisted", "Result", "SheetSample"]


class Day(Kept, Base):
    """One bench sheet, with its sample sheet and terms, as read and judged; ``key`` is the day's id."""

    __tablename__ = "days"

    day_no: Mapped[int] = mapped_column(unique=True, info=LOCAL)
    """Local number; rows of the day have ids from ``day_no * 10**7`` on."""
    title: Mapped[str]
    read_at: Mapped[str]
    demonstration: Mapped[bool]
    fingerprint: Mapped[str] = mapped_column(index=True)
    """Digest of everything that a second reading of the same files would say again."""
    inputs: Mapped[str]
    profiles: Mapped[str]
    summary: Mapped[str]


class OfDay(MappedAsDataclass, kw_only=True):
    """A row of a day."""

    id: Mapped[BigKey]
    site_no: Mapped[SiteNo]
    day_no: Mapped[int] = mapped_column(ForeignKey("days.day_no"), sort_order=-1)


class Salted(MappedAsDataclass, kw_only=True):
    """A row with text that may name a person."""

    salt: Mapped[bytes | None]
    personal_sha: Mapped[bytes | None]
    """Set when the text was erased: what its salted digest had been."""


class ReadingColumns(MappedAsDataclass, kw_only=True):
    """The columns of ``method.table.JUDGED``."""

    row: Mapped[int] = mapped_column(Integer)
    sample: Mapped[str]
    ticket: Mapped[str | None]
    profile: Mapped[str | None]
    run: Mapped[str]
    bath: Mapped[str | None]
    position: Mapped[str]
    tube_id: Mapped[str | None]
    stirrer_id: Mapped[str | None]
    seconds: Mapped[float | None]
    kind: Mapped[int | None] = mapped_column(Integer)
    moisture_pct: Mapped[float | None]
    mass_g: Mapped[float | None]
    pressure_hpa: Mapped[float | None]
    corrected_by_instrument: Mapped[bool | None]
    analyst: Mapped[str | None]
    run_at: Mapped[str | None]
    set_aside_cause: Mapped[str | None]
    position_stated: Mapped[bool | None]
    row_text: Mapped[str | None]
    state: Mapped[int | None] = mapped_column(Integer)
    state_code: Mapped[str | None]
    portion_g: Mapped[float | None]


class Reading(OfDay, ReadingColumns, Salted, Base):
    """One tube's seconds as first read, and how it was judged then.

    ``revision`` counts what was read under the same key (sample, run, position): 0 is the first; the
    highest stands, the lower ones are kept.
    """

    __tablename__ = "readings"
    __table_args__ = (
        UniqueConstraint("sample", "run", "position", "revision", "site_no"),
        Index(None, "ticket"),
    )

    revision: Mapped[int] = mapped_column(Integer)


class Relisted(OfDay, ReadingColumns, Salted, Base):
    """A row of a later sheet under a key that is already kept: the same again, or changed and not taken."""

    __tablename__ = "relisted"

    kept_revision: Mapped[int] = mapped_column(Integer)
    """Revision of the reading that stood under the key then."""
    changed: Mapped[bool]


class SheetSample(OfDay, Salted, Base):
    """A row of a sample sheet; the columns of ``method.table.SAMPLES``."""

    __tablename__ = "sheet_samples"
    __table_args__ = (Index(None, "sample"), Index(None, "ticket"))

    row: Mapped[int | None] = mapped_column(Integer)
    ticket: Mapped[str | None]
    sample: Mapped[str | None]
    kind: Mapped[str | None]
    material: Mapped[str | None]
    grower: Mapped[str | None]
    origin: Mapped[str | None]
    variety: Mapped[str | None]
    harvest_date: Mapped[str | None]
    tonnes: Mapped[float | None]
    bin: Mapped[str | None]
    received_at: Mapped[str | None]
    ground_mass_g: Mapped[float | None]
    mill_id: Mapped[str | None]
    ground_at: Mapped[str | None]
    moisture_method: Mapped[str | None]
    moisture_on: Mapped[str | None]
    moisture_at: Mapped[str | None]
    row_text: Mapped[str | None]


class Result(OfDay, Base):
    """What the readings of one sample said on that day; the columns of ``method.table.RESULTS``."""

    __tablename__ = "results"
    __table_args__ = (Index(None, "sample"), Index(None, "ticket"))

    sample: Mapped[str]
    ticket: Mapped[str | None]
    profile: Mapped[str | None]
    status: Mapped[str | None]
    kind: Mapped[int | None] = mapped_column(Integer)
    seconds: Mapped[float | None]
    mean_s: Mapped[float | None]
    how: Mapped[str | None]
    tubes: Mapped[int | None]
    set_aside: Mapped[int | None]
    run_again: Mapped[int | None]
    tubes_stated: Mapped[bool | None]
    spread_s: Mapped[float | None]
    limit_s: Mapped[float | None]
    agreement: Mapped[str | None]
    u_s: Mapped[float | None]
    ln: Mapped[float | None]
    ln_low: Mapped[float | None]
    ln_high: Mapped[float | None]
    estimate_s: Mapped[float | None]
    estimate_u_s: Mapped[float | None]
    moisture_pct: Mapped[float | None]
    pressure_hpa: Mapped[float | None]
    corrected_by_instrument: Mapped[bool | None]
    correction: Mapped[str | None]
    comparable_key: Mapped[str | None]
    first_row: Mapped[int | None]


class RefusedRow(OfDay, Salted, Base):
    """A row that could not be taken, as it was read."""

    __tablename__ = "refused_rows"

    sheet: Mapped[str]
    row: Mapped[int]
    code: Mapped[str]
    text: Mapped[str | None]


class DayFinding(OfDay, Base):
    """A finding as it was reported with the day."""

    __tablename__ = "day_findings"

    code: Mapped[str]
    severity: Mapped[str]
    source: Mapped[str | None]
    row: Mapped[int | None]
    field: Mapped[str | None]
    ticket: Mapped[str | None]
    sample: Mapped[str | None]
    run: Mapped[str | None]
    position: Mapped[str | None]
    values: Mapped[str]
