"""Work in hand at the bench: portions weighed, tubes lowered, answers given, and what pages sent."""

from __future__ import annotations

from sqlalchemy import Index
from sqlalchemy.orm import Mapped, mapped_column

from lodestarch.records.tables.base import Base, Kept, one_of, refers

__all__ = ["ANSWER_HOW", "LOWERING_ENDS", "Answer", "Lowering", "PageEntry", "PortionWeighed", "Setting"]

LOWERING_ENDS = ("read", "lost")
ANSWER_HOW = ("phone", "text", "mail", "screen", "other")


class PortionWeighed(Kept, Base):
    """A test portion as weighed into a tube that is not lowered yet."""

    __tablename__ = "portions"
    __table_args__ = (refers("sample", "samples"), Index(None, "sample"))

    sample: Mapped[str]
    position: Mapped[str]
    mass_g: Mapped[float]
    as_entered: Mapped[str]
    weighed_at: Mapped[str]
    wanted_g: Mapped[float | None] = mapped_column(default=None)
    """What the profile wanted for the moisture at that time."""
    used_in: Mapped[str | None] = mapped_column(default=None)
    """The lowering that it went into."""


class Lowering(Kept, Base):
    """One tube lowered into a bath; ``ended`` is empty while it is in there."""

    __tablename__ = "lowerings"
    __table_args__ = (
        one_of("ended", LOWERING_ENDS),
        refers("sample", "samples"),
        Index(None, "sample"),
        Index(None, "lowered_at"),
    )

    sample: Mapped[str]
    run: Mapped[str]
    position: Mapped[str]
    bath: Mapped[str]
    lowered_at: Mapped[str]
    profile: Mapped[str]
    tube_id: Mapped[str | None] = mapped_column(default=None)
    stirrer_id: Mapped[str | None] = mapped_column(default=None)
    mass_g: Mapped[float | None] = mapped_column(default=None)
    moisture_pct: Mapped[float | None] = mapped_column(default=None)
    pressure_hpa: Mapped[float | None] = mapped_column(default=None)
    ended: Mapped[str | None] = mapped_column(default=None)
    note: Mapped[str | None] = mapped_column(default=None)


class Answer(Kept, Base):
    """What was said of a sample, to whom: who asked is a party, so that its name stands beside the log."""

    __tablename__ = "answers"
    __table_args__ = (
        one_of("how", ANSWER_HOW),
        refers("sample", "samples"),
        refers("party", "parties"),
        Index(None, "sample"),
    )

    sample: Mapped[str]
    said_at: Mapped[str]
    how: Mapped[str]
    said: Mapped[str]
    party: Mapped[str | None] = mapped_column(default=None)
    release: Mapped[str | None] = mapped_column(default=None)
    """The release that was read out; none where the answer was preliminary."""


class PageEntry(Kept, Base):
    """An entry as a page sent it: ``key`` is the id made there, so that one sent twice is taken once."""

    __tablename__ = "page_entries"

    what: Mapped[str]
    subject: Mapped[str]
    body_sha256: Mapped[str]
    """Digest of what was sent: another content under the same id is refused."""
    taken_at: Mapped[str]


class Setting(Kept, Base):
    """A choice of the lab: which profile the bench uses, how its baths are called."""

    __tablename__ = "settings"

    value: Mapped[str]
