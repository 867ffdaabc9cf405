"""What all tables share: types, names of constraints, and the key of a kept row."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Any, Final

from sqlalchemy import (
    BigInteger,
    Boolean,
    CheckConstraint,
    Double,
    ForeignKey,
    ForeignKeyConstraint,
    Integer,
    LargeBinary,
    MetaData,
    Text,
)
from sqlalchemy.orm import DeclarativeBase, Mapped, MappedAsDataclass, mapped_column

__all__ = ["LOCAL", "Base", "BigKey", "Kept", "Number", "SiteNo", "Words", "one_of", "refers"]

Number = BigInteger().with_variant(Integer(), "sqlite")
"""64 bits on PostgreSQL; SQLite's own whole number otherwise, which is as wide."""

Words = Text().with_variant(Text(collation="C"), "postgresql")
"""Text in order of its code points in both: SQLite's order, and what a search by beginning relies on."""

BigKey = Annotated[int, mapped_column(Number, primary_key=True, autoincrement=False, sort_order=-3)]
SiteNo = Annotated[int, mapped_column(Integer, ForeignKey("sites.site_no"), sort_order=-2)]


LOCAL: Final[dict[str, Any]] = {"local": True}
"""Marks a column that means nothing outside these records and so stays out of the log."""


class Base(MappedAsDataclass, DeclarativeBase, kw_only=True):
    """Root of all tables; instances are plain values, never bound to a session.

    Moments are ISO 8601 text: those of the log in UTC with six digits of a second, those of a sheet as
    written there. The text is what is digested, so it is what is kept, and it sorts by time.
    """

    metadata = MetaData(
        naming_convention={
            "ix": "ix_%(table_name)s_%(column_0_N_name)s",
            "uq": "uq_%(table_name)s_%(column_0_N_name)s",
            "ck": "ck_%(table_name)s_%(constraint_name)s",
            "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
            "pk": "pk_%(table_name)s",
        }
    )
    type_annotation_map = {  # noqa: RUF012 - the mapper reads it once
        str: Words,
        int: Number,
        float: Double(),
        bool: Boolean(create_constraint=False),
        bytes: LargeBinary(),
    }


class Kept(MappedAsDataclass, kw_only=True):
    """A row whose every version stands in the log whole.

    ``key`` is its name within the site; ``version`` counts its changes from 1, and an edit states the
    version that it was made from.
    """

    site_no: Mapped[int] = mapped_column(
        Integer,
        ForeignKey("sites.site_no"),
        primary_key=True,
        init=False,
        default=0,
        sort_order=-3,
        info=LOCAL,
    )
    key: Mapped[str] = mapped_column(Words, primary_key=True, sort_order=-2)
    version: Mapped[int] = mapped_column(Integer, init=False, default=1, sort_order=-1)


def one_of(column: str, allowed: Sequence[str]) -> CheckConstraint:
    """Allow only the values of a list in a column (null passes)."""
    listed = ", ".join(f"'{value}'" for value in allowed)
    return CheckConstraint(f"{column} IN ({listed})", name=f"{column}_listed")


def refers(column: str, table: str) -> ForeignKeyConstraint:
    """Tie a column to the key of a kept row of the same site."""
    return ForeignKeyConstraint(["site_no", column], [f"{table}.site_no", f"{table}.key"])
