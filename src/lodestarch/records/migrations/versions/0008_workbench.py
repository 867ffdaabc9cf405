"""Around the bench: tokens for programs, the custody of samples sent out, lines heard from instruments."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic import op

from lodestarch.records.migrations.guards import keep_rows

revision = "0008"
down_revision = "0004"

TEXT = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
TABLES = ("api_tokens", "custody_steps", "heard_lines")
PLAIN = {
    "api_tokens": (
        ("person", "purpose", "scopes", "token_sha256", "issued_at", "ends_at"),
        ("revoked_at",),
    ),
    "custody_steps": (("sent", "what", "at"), ("from_party", "to_party", "seal", "note")),
    "heard_lines": (("source", "pattern", "heard_at", "text"), ("read", "sample", "used_in")),
}
"""Columns of text by table: those that are always there, and those that may be empty."""
REFERS = {
    "api_tokens": (("person", "people"),),
    "custody_steps": (("sent", "sent_samples"), ("from_party", "parties"), ("to_party", "parties")),
    "heard_lines": (("sample", "samples"),),
}
STEPS = "what IN ('packed', 'handed over', 'arrived', 'opened', 'sent back', 'used up')"
INDEXES = (("api_tokens", "token_sha256"), ("custody_steps", "sent"), ("heard_lines", "heard_at"))


def _columns(table: str) -> list[sa.Column[Any]]:
    always, sometimes = PLAIN[table]
    return [
        *(sa.Column(name, TEXT, nullable=False) for name in always),
        *(sa.Column(name, TEXT, nullable=True) for name in sometimes),
    ]


def _constraints(table: str) -> list[sa.Constraint]:
    ties: list[sa.Constraint] = [
        sa.ForeignKeyConstraint(
            ["site_no", column],
            [f"{to}.site_no", f"{to}.key"],
            name=op.f(f"fk_{table}_site_no_{column}_{to}"),
        )
        for column, to in REFERS[table]
    ]
    if table == "custody_steps":
        ties.append(sa.CheckConstraint(STEPS, name=op.f("ck_custody_steps_what_listed")))
    return ties


def upgrade() -> None:
    """Make the tables; no row of them is ever taken out."""
    for table in TABLES:
        op.create_table(
            table,
            sa.Column("site_no", sa.Integer(), nullable=False),
            sa.Column("key", TEXT, nullable=False),
            sa.Column("version", sa.Integer(), nullable=False),
            *_columns(table),
            *_constraints(table),
            sa.ForeignKeyConstraint(["site_no"], ["sites.site_no"], name=op.f(f"fk_{table}_site_no_sites")),
            sa.PrimaryKeyConstraint("site_no", "key", name=op.f(f"pk_{table}")),
        )
    for table, column in INDEXES:
        op.create_index(op.f(f"ix_{table}_{column}"), table, [column])
    for table in TABLES:
        keep_rows(table)


def downgrade() -> None:
    """Take them away; the caller has seen that there are no entries."""
    for table in reversed(TABLES):
        op.drop_table(table)
