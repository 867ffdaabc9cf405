"""Work in hand at the bench: portions, lowerings, answers, entries of pages, settings."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic import op

from lodestarch.records.migrations.guards import keep_rows

revision = "0003"
down_revision = "0002"

TEXT = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
TABLES = ("portions", "lowerings", "answers", "page_entries", "settings")


def _kept(table: str, *columns: sa.Column[Any], also: tuple[sa.Constraint, ...] = ()) -> None:
    """Make one table of kept rows."""
    op.create_table(
        table,
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("key", TEXT, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        *columns,
        *also,
        sa.ForeignKeyConstraint(["site_no"], ["sites.site_no"], name=op.f(f"fk_{table}_site_no_sites")),
        sa.PrimaryKeyConstraint("site_no", "key", name=op.f(f"pk_{table}")),
    )


def _text(name: str, *, nullable: bool = False) -> sa.Column[Any]:
    return sa.Column(name, TEXT, nullable=nullable)


def _number(name: str, *, nullable: bool = True) -> sa.Column[Any]:
    return sa.Column(name, sa.Double(), nullable=nullable)


def _refers(table: str, column: str, to: str) -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint(
        ["site_no", column], [f"{to}.site_no", f"{to}.key"], name=op.f(f"fk_{table}_site_no_{column}_{to}")
    )


def _at_the_bench() -> None:
    _kept(
        "portions",
        _text("sample"),
        _text("position"),
        _number("mass_g", nullable=False),
        _text("as_entered"),
        _text("weighed_at"),
        _number("wanted_g"),
        _text("used_in", nullable=True),
        also=(_refers("portions", "sample", "samples"),),
    )
    _kept(
        "lowerings",
        *(_text(name) for name in ("sample", "run", "position", "bath", "lowered_at", "profile")),
        _text("tube_id", nullable=True),
        _text("stirrer_id", nullable=True),
        *(_number(name) for name in ("mass_g", "moisture_pct", "pressure_hpa")),
        _text("ended", nullable=True),
        _text("note", nullable=True),
        also=(
            sa.CheckConstraint("ended IN ('read', 'lost')", name=op.f("ck_lowerings_ended_listed")),
            _refers("lowerings", "sample", "samples"),
        ),
    )


def _in_the_office() -> None:
    _kept(
        "answers",
        *(_text(name) for name in ("sample", "said_at", "how", "said")),
        _text("party", nullable=True),
        _text("release", nullable=True),
        also=(
            sa.CheckConstraint(
                "how IN ('phone', 'text', 'mail', 'screen', 'other')", name=op.f("ck_answers_how_listed")
            ),
            _refers("answers", "sample", "samples"),
            _refers("answers", "party", "parties"),
        ),
    )
    _kept("page_entries", *(_text(name) for name in ("what", "subject", "body_sha256", "taken_at")))
    _kept("settings", _text("value"))


def upgrade() -> None:
    """Make the tables; no row of them is ever taken out."""
    _at_the_bench()
    _in_the_office()
    for table, column in (
        ("portions", "sample"),
        ("lowerings", "sample"),
        ("lowerings", "lowered_at"),
        ("answers", "sample"),
    ):
        op.create_index(op.f(f"ix_{table}_{column}"), table, [column])
    for table in TABLES:
        keep_rows(table)


def downgrade() -> None:
    """Take them away; the caller has seen that there are no entries."""
    for table in reversed(TABLES):
        op.drop_table(table)
