"""Control of the bench: upkeep done, how often it is due, causes of failed checks."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic import op

from lodestarch.records.migrations.guards import keep_rows

revision = "0009"
down_revision = "0008"

TEXT = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
NUMBER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
TABLES = ("upkeep_done", "upkeep_intervals", "check_causes")


def _text(name: str, *, nullable: bool = False) -> sa.Column[Any]:
    return sa.Column(name, TEXT, nullable=nullable)


def _kept(table: str, *columns: sa.Column[Any], person: str = "") -> None:
    """Make one table of kept rows, tied to a person where a column names one."""
    ties: list[sa.Constraint] = []
    if person:
        name = op.f(f"fk_{table}_site_no_{person}_people")
        ties.append(sa.ForeignKeyConstraint(["site_no", person], ["people.site_no", "people.key"], name=name))
    op.create_table(
        table,
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("key", TEXT, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        *columns,
        *ties,
        sa.ForeignKeyConstraint(["site_no"], ["sites.site_no"], name=op.f(f"fk_{table}_site_no_sites")),
        sa.PrimaryKeyConstraint("site_no", "key", name=op.f(f"pk_{table}")),
    )
    keep_rows(table)


def upgrade() -> None:
    """Make the tables; no row of them is ever taken out."""
    _kept(
        "upkeep_done",
        _text("item"),
        _text("done_at"),
        _text("done_by"),
        sa.Column("changes_results", sa.Boolean(create_constraint=False), nullable=False),
        _text("place", nullable=True),
        _text("note", nullable=True),
        person="done_by",
    )
    op.create_index(op.f("ix_upkeep_done_done_at"), "upkeep_done", ["done_at"])
    _kept(
        "upkeep_intervals",
        _text("source"),
        _text("provenance"),
        sa.Column("every_days", sa.Double(), nullable=True),
        sa.Column("every_runs", NUMBER, nullable=True),
    )
    _kept(
        "check_causes",
        _text("cause"),
        _text("decided_at"),
        _text("decided_by"),
        _text("note", nullable=True),
        person="decided_by",
    )


def downgrade() -> None:
    """Take them away; the caller has seen that there are no entries."""
    for table in reversed(TABLES):
        op.drop_table(table)
