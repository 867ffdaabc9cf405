"""Retests with what they are made from and their rule; versions of terms; prices as told."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic import op

from lodestarch.records.migrations.guards import keep_rows

revision = "0004"
down_revision = "0003"

TEXT = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
TABLES = ("retests", "terms_versions", "told_prices")
FROM = "made_from IN ('same-meal', 'regrind', 'retained-sample', 'new-probe')"
RULES = "rule IN ('all-count', 'official-appeal', 'two-nearest', 'median', 'third-final')"


def _kept(table: str, columns: list[sa.Column[Any]], also: tuple[sa.Constraint, ...] = ()) -> None:
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


def _texts(*names: str, nullable: bool = False) -> list[sa.Column[Any]]:
    return [sa.Column(name, TEXT, nullable=nullable) for name in names]


def _refers(table: str, **to: str) -> tuple[sa.Constraint, ...]:
    return tuple(
        sa.ForeignKeyConstraint(
            ["site_no", column],
            [f"{other}.site_no", f"{other}.key"],
            name=op.f(f"fk_{table}_site_no_{column}_{other}"),
        )
        for column, other in to.items()
    )


def upgrade() -> None:
    """Make the tables; no row of them is ever taken out."""
    _kept(
        "retests",
        [
            *_texts("sample", "parent", "made_from", "rule", "asked_at"),
            *_texts("asked_by", "rule_from", nullable=True),
            sa.Column("appeal_sd_s", sa.Double(), nullable=True),
            *_texts("retained", "reason", nullable=True),
        ],
        (
            sa.CheckConstraint(FROM, name=op.f("ck_retests_made_from_listed")),
            sa.CheckConstraint(RULES, name=op.f("ck_retests_rule_listed")),
            *_refers(
                "retests",
                sample="samples",
                parent="samples",
                asked_by="parties",
                retained="retained_samples",
            ),
        ),
    )
    _kept("terms_versions", _texts("entered_at", "source", "top", "blocks", "sha256"))
    _kept(
        "told_prices",
        [
            *_texts("told_at", "terms_name", "terms_sha256", "told"),
            *_texts("terms_version", "day", "sample", nullable=True),
        ],
        _refers("told_prices", day="days", sample="samples", terms_version="terms_versions"),
    )
    for table, column in (
        ("retests", "sample"),
        ("retests", "parent"),
        ("terms_versions", "entered_at"),
        ("told_prices", "day"),
        ("told_prices", "sample"),
    ):
        op.create_index(op.f(f"ix_{table}_{column}"), table, [column])
    for table in TABLES:
        keep_rows(table)


def downgrade() -> None:
    """Take them away; the caller has seen that there are no entries."""
    for table in reversed(TABLES):
        op.drop_table(table)
