"""The office: terms and plans, check materials and ring tests, fees."""

from __future__ import annotations

from sqlalchemy import Index
from sqlalchemy.orm import Mapped, mapped_column

from lodestarch.records.tables.base import Base, Kept, one_of, refers

__all__ = [
    "TERMS_KINDS",
    "CheckMaterial",
    "CheckRun",
    "FeeCode",
    "FeeItem",
    "Plan",
    "RingResult",
    "RingTest",
    "Terms",
]

TERMS_KINDS = ("buyer", "delivery_point", "schedule", "contract", "bid", "bin")


class Terms(Kept, Base):
    """One block of terms as entered; ``key`` is ``kind/id/n``, the n-th that was entered under that id.

    Which blocks stand together is said by a version of the terms (``TermsVersion``).
    """

    __tablename__ = "terms"
    __table_args__ = (one_of("kind", TERMS_KINDS), refers("party", "parties"), Index(None, "terms_id"))

    kind: Mapped[str]
    terms_id: Mapped[str]
    document: Mapped[str]
    """Canonical JSON, with the keys of a terms sheet."""
    valid_from: Mapped[str | None] = mapped_column(default=None)
    valid_to: Mapped[str | None] = mapped_column(default=None)
    party: Mapped[str | None] = mapped_column(default=None)


class Plan(Kept, Base):
    """A plan as computed, with what it was computed from."""

    __tablename__ = "plans"

    kind: Mapped[str]
    made_at: Mapped[str]
    problem: Mapped[str]
    answer: Mapped[str]
    chosen: Mapped[bool] = mapped_column(default=False)


class CheckMaterial(Kept, Base):
    """A material of known value."""

    __tablename__ = "check_materials"
    __table_args__ = (one_of("form", ("whole grain", "meal")),)

    lot: Mapped[str]
    form: Mapped[str]
    level_s: Mapped[float]
    level_source: Mapped[str]
    provenance: Mapped[str]
    u_s: Mapped[float | None] = mapped_column(default=None)
    expires_on: Mapped[str | None] = mapped_column(default=None)


class CheckRun(Kept, Base):
    """A run of a check material."""

    __tablename__ = "check_runs"
    __table_args__ = (
        refers("material", "check_materials"),
        refers("bath", "equipment"),
        refers("mill", "equipment"),
        Index(None, "material", "run_at"),
    )

    material: Mapped[str]
    run_at: Mapped[str]
    seconds: Mapped[float]
    sample: Mapped[str | None] = mapped_column(default=None)
    bath: Mapped[str | None] = mapped_column(default=None)
    mill: Mapped[str | None] = mapped_column(default=None)
    judged: Mapped[str | None] = mapped_column(default=None)


class RingTest(Kept, Base):
    """One material measured by many laboratories."""

    __tablename__ = "ring_tests"

    organiser: Mapped[str]
    round: Mapped[str]
    received_at: Mapped[str | None] = mapped_column(default=None)
    due_at: Mapped[str | None] = mapped_column(default=None)
    assigned_s: Mapped[float | None] = mapped_column(default=None)
    assigned_u_s: Mapped[float | None] = mapped_column(default=None)
    between_labs_s: Mapped[float | None] = mapped_column(default=None)


class RingResult(Kept, Base):
    """What this laboratory reported in a ring test."""

    __tablename__ = "ring_results"
    __table_args__ = (refers("ring_test", "ring_tests"),)

    ring_test: Mapped[str]
    material: Mapped[str]
    seconds: Mapped[float]
    reported_at: Mapped[str]
    sample: Mapped[str | None] = mapped_column(default=None)


class FeeCode(Kept, Base):
    """What a kind of work costs; no accounting here."""

    __tablename__ = "fee_codes"

    what: Mapped[str]
    price: Mapped[str]
    """As a decimal text: money is never a float."""
    currency: Mapped[str]
    valid_from: Mapped[str | None] = mapped_column(default=None)


class FeeItem(Kept, Base):
    """Work done under a fee code, for the monthly list."""

    __tablename__ = "fee_items"
    __table_args__ = (
        refers("code", "fee_codes"),
        refers("payer", "parties"),
        Index(None, "done_at"),
    )

    code: Mapped[str]
    done_at: Mapped[str]
    sample: Mapped[str | None] = mapped_column(default=None)
    payer: Mapped[str | None] = mapped_column(default=None)
    quantity: Mapped[int] = mapped_column(default=1)
