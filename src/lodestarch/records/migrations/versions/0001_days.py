"""The log, people, profiles, and bench sheets as read and judged."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from lodestarch.records.migrations.guards import drop_guards, keep_columns, keep_rows, keep_whole

revision = "0001"
down_revision = None

NUMBER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
TEXT = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
BULK = {
    "readings": ("analyst", "row_text", "salt", "personal_sha"),
    "relisted": ("analyst", "row_text", "salt", "personal_sha"),
    "sheet_samples": ("grower", "row_text", "salt", "personal_sha"),
    "results": (),
    "refused_rows": ("text", "salt", "personal_sha"),
    "day_findings": (),
}
"""Tables of a day, each with the columns that an erasure may empty."""

DROP_ORDER = (
    "relisted", "sheet_samples", "results", "refused_rows", "readings", "day_findings", "sign_offs",
    "profile_versions", "personal", "people", "heads", "events", "days", "sites",
)  # fmt: skip


def _tables() -> None:
    op.create_table(
        "sites",
        sa.Column("site_no", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("code", TEXT, nullable=False),
        sa.PrimaryKeyConstraint("site_no", name=op.f("pk_sites")),
        sa.UniqueConstraint("code", name=op.f("uq_sites_code")),
    )
    op.create_table(
        "days",
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("key", TEXT, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("day_no", NUMBER, nullable=False),
        sa.Column("title", TEXT, nullable=False),
        sa.Column("read_at", TEXT, nullable=False),
        sa.Column("demonstration", sa.Boolean(), nullable=False),
        sa.Column("fingerprint", TEXT, nullable=False),
        sa.Column("inputs", TEXT, nullable=False),
        sa.Column("profiles", TEXT, nullable=False),
        sa.Column("summary", TEXT, nullable=False),
        sa.ForeignKeyConstraint(["site_no"], ["sites.site_no"], name=op.f("fk_days_site_no_sites")),
        sa.PrimaryKeyConstraint("site_no", "key", name=op.f("pk_days")),
        sa.UniqueConstraint("day_no", name=op.f("uq_days_day_no")),
    )
    op.create_index(op.f("ix_days_fingerprint"), "days", ["fingerprint"], unique=False)
    op.create_table(
        "events",
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("seq", NUMBER, autoincrement=False, nullable=False),
        sa.Column("at", TEXT, nullable=False),
        sa.Column("person", TEXT, nullable=False),
        sa.Column("kind", TEXT, nullable=False),
        sa.Column("subject", TEXT, nullable=True),
        sa.Column("body", TEXT, nullable=False),
        sa.Column("hash", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(["site_no"], ["sites.site_no"], name=op.f("fk_events_site_no_sites")),
        sa.PrimaryKeyConstraint("site_no", "seq", name=op.f("pk_events")),
    )
    op.create_index(op.f("ix_events_subject"), "events", ["subject"], unique=False)
    op.create_table(
        "heads",
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("seq", NUMBER, nullable=False),
        sa.Column("at", TEXT, nullable=False),
        sa.Column("hash", sa.LargeBinary(), nullable=False),
        sa.Column("rooted_seq", NUMBER, nullable=False),
        sa.ForeignKeyConstraint(["site_no"], ["sites.site_no"], name=op.f("fk_heads_site_no_sites")),
        sa.PrimaryKeyConstraint("site_no", name=op.f("pk_heads")),
    )
    op.create_table(
        "people",
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("key", TEXT, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("roles", TEXT, nullable=False),
        sa.Column("active", sa.Boolean(), nullable=False),
        sa.Column("signed_off_for", TEXT, nullable=False),
        sa.ForeignKeyConstraint(["site_no"], ["sites.site_no"], name=op.f("fk_people_site_no_sites")),
        sa.PrimaryKeyConstraint("site_no", "key", name=op.f("pk_people")),
    )
    op.create_table(
        "personal",
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("kind", TEXT, nullable=False),
        sa.Column("key", TEXT, nullable=False),
        sa.Column("salt", sa.LargeBinary(), nullable=True),
        sa.Column("document", TEXT, nullable=True),
        sa.ForeignKeyConstraint(["site_no"], ["sites.site_no"], name=op.f("fk_personal_site_no_sites")),
        sa.PrimaryKeyConstraint("site_no", "kind", "key", name=op.f("pk_personal")),
    )
    op.create_table(
        "profile_versions",
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("key", TEXT, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("profile_id", TEXT, nullable=False),
        sa.Column("profile_version", TEXT, nullable=False),
        sa.Column("digest", TEXT, nullable=False),
        sa.Column("document", TEXT, nullable=False),
        sa.ForeignKeyConstraint(
            ["site_no"], ["sites.site_no"], name=op.f("fk_profile_versions_site_no_sites")
        ),
        sa.PrimaryKeyConstraint("site_no", "key", name=op.f("pk_profile_versions")),
    )
    op.create_table(
        "sign_offs",
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("key", TEXT, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("profile_id", TEXT, nullable=False),
        sa.Column("profile_version", TEXT, nullable=False),
        sa.Column("digest", TEXT, nullable=False),
        sa.Column("document", TEXT, nullable=False),
        sa.ForeignKeyConstraint(["site_no"], ["sites.site_no"], name=op.f("fk_sign_offs_site_no_sites")),
        sa.PrimaryKeyConstraint("site_no", "key", name=op.f("pk_sign_offs")),
    )
    op.create_table(
        "day_findings",
        sa.Column("id", NUMBER, autoincrement=False, nullable=False),
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("day_no", NUMBER, nullable=False),
        sa.Column("code", TEXT, nullable=False),
        sa.Column("severity", TEXT, nullable=False),
        sa.Column("source", TEXT, nullable=True),
        sa.Column("row", NUMBER, nullable=True),
        sa.Column("field", TEXT, nullable=True),
        sa.Column("ticket", TEXT, nullable=True),
        sa.Column("sample", TEXT, nullable=True),
        sa.Column("run", TEXT, nullable=True),
        sa.Column("position", TEXT, nullable=True),
        sa.Column("values", TEXT, nullable=False),
        sa.ForeignKeyConstraint(["day_no"], ["days.day_no"], name=op.f("fk_day_findings_day_no_days")),
        sa.ForeignKeyConstraint(["site_no"], ["sites.site_no"], name=op.f("fk_day_findings_site_no_sites")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_day_findings")),
    )
    op.create_table(
        "readings",
        sa.Column("id", NUMBER, autoincrement=False, nullable=False),
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("day_no", NUMBER, nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("row", sa.Integer(), nullable=False),
        sa.Column("sample", TEXT, nullable=False),
        sa.Column("ticket", TEXT, nullable=True),
        sa.Column("profile", TEXT, nullable=True),
        sa.Column("run", TEXT, nullable=False),
        sa.Column("bath", TEXT, nullable=True),
        sa.Column("position", TEXT, nullable=False),
        sa.Column("tube_id", TEXT, nullable=True),
        sa.Column("stirrer_id", TEXT, nullable=True),
        sa.Column("seconds", sa.Double(), nullable=True),
        sa.Column("kind", sa.Integer(), nullable=True),
        sa.Column("moisture_pct", sa.Double(), nullable=True),
        sa.Column("mass_g", sa.Double(), nullable=True),
        sa.Column("pressure_hpa", sa.Double(), nullable=True),
        sa.Column("corrected_by_instrument", sa.Boolean(), nullable=True),
        sa.Column("analyst", TEXT, nullable=True),
        sa.Column("run_at", TEXT, nullable=True),
        sa.Column("set_aside_cause", TEXT, nullable=True),
        sa.Column("position_stated", sa.Boolean(), nullable=True),
        sa.Column("row_text", TEXT, nullable=True),
        sa.Column("state", sa.Integer(), nullable=True),
        sa.Column("state_code", TEXT, nullable=True),
        sa.Column("portion_g", sa.Double(), nullable=True),
        sa.Column("salt", sa.LargeBinary(), nullable=True),
        sa.Column("personal_sha", sa.LargeBinary(), nullable=True),
        sa.ForeignKeyConstraint(["day_no"], ["days.day_no"], name=op.f("fk_readings_day_no_days")),
        sa.ForeignKeyConstraint(["site_no"], ["sites.site_no"], name=op.f("fk_readings_site_no_sites")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_readings")),
        sa.UniqueConstraint(
            "sample",
            "run",
            "position",
            "revision",
            "site_no",
            name=op.f("uq_readings_sample_run_position_revision_site_no"),
        ),
    )
    op.create_index(op.f("ix_readings_ticket"), "readings", ["ticket"], unique=False)
    op.create_table(
        "refused_rows",
        sa.Column("id", NUMBER, autoincrement=False, nullable=False),
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("day_no", NUMBER, nullable=False),
        sa.Column("sheet", TEXT, nullable=False),
        sa.Column("row", NUMBER, nullable=False),
        sa.Column("code", TEXT, nullable=False),
        sa.Column("text", TEXT, nullable=True),
        sa.Column("salt", sa.LargeBinary(), nullable=True),
        sa.Column("personal_sha", sa.LargeBinary(), nullable=True),
        sa.ForeignKeyConstraint(["day_no"], ["days.day_no"], name=op.f("fk_refused_rows_day_no_days")),
        sa.ForeignKeyConstraint(["site_no"], ["sites.site_no"], name=op.f("fk_refused_rows_site_no_sites")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_refused_rows")),
    )
    op.create_table(
        "results",
        sa.Column("id", NUMBER, autoincrement=False, nullable=False),
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("day_no", NUMBER, nullable=False),
        sa.Column("sample", TEXT, nullable=False),
        sa.Column("ticket", TEXT, nullable=True),
        sa.Column("profile", TEXT, nullable=True),
        sa.Column("status", TEXT, nullable=True),
        sa.Column("kind", sa.Integer(), nullable=True),
        sa.Column("seconds", sa.Double(), nullable=True),
        sa.Column("mean_s", sa.Double(), nullable=True),
        sa.Column("how", TEXT, nullable=True),
        sa.Column("tubes", NUMBER, nullable=True),
        sa.Column("set_aside", NUMBER, nullable=True),
        sa.Column("run_again", NUMBER, nullable=True),
        sa.Column("tubes_stated", sa.Boolean(), nullable=True),
        sa.Column("spread_s", sa.Double(), nullable=True),
        sa.Column("limit_s", sa.Double(), nullable=True),
        sa.Column("agreement", TEXT, nullable=True),
        sa.Column("u_s", sa.Double(), nullable=True),
        sa.Column("ln", sa.Double(), nullable=True),
        sa.Column("ln_low", sa.Double(), nullable=True),
        sa.Column("ln_high", sa.Double(), nullable=True),
        sa.Column("estimate_s", sa.Double(), nullable=True),
        sa.Column("estimate_u_s", sa.Double(), nullable=True),
        sa.Column("moisture_pct", sa.Double(), nullable=True),
        sa.Column("pressure_hpa", sa.Double(), nullable=True),
        sa.Column("corrected_by_instrument", sa.Boolean(), nullable=True),
        sa.Column("correction", TEXT, nullable=True),
        sa.Column("comparable_key", TEXT, nullable=True),
        sa.Column("first_row", NUMBER, nullable=True),
        sa.ForeignKeyConstraint(["day_no"], ["days.day_no"], name=op.f("fk_results_day_no_days")),
        sa.ForeignKeyConstraint(["site_no"], ["sites.site_no"], name=op.f("fk_results_site_no_sites")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_results")),
    )
    op.create_index(op.f("ix_results_sample"), "results", ["sample"], unique=False)
    op.create_index(op.f("ix_results_ticket"), "results", ["ticket"], unique=False)
    op.create_table(
        "sheet_samples",
        sa.Column("id", NUMBER, autoincrement=False, nullable=False),
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("day_no", NUMBER, nullable=False),
        sa.Column("row", sa.Integer(), nullable=True),
        sa.Column("ticket", TEXT, nullable=True),
        sa.Column("sample", TEXT, nullable=True),
        sa.Column("kind", TEXT, nullable=True),
        sa.Column("material", TEXT, nullable=True),
        sa.Column("grower", TEXT, nullable=True),
        sa.Column("origin", TEXT, nullable=True),
        sa.Column("variety", TEXT, nullable=True),
        sa.Column("harvest_date", TEXT, nullable=True),
        sa.Column("tonnes", sa.Double(), nullable=True),
        sa.Column("bin", TEXT, nullable=True),
        sa.Column("received_at", TEXT, nullable=True),
        sa.Column("ground_mass_g", sa.Double(), nullable=True),
        sa.Column("mill_id", TEXT, nullable=True),
        sa.Column("ground_at", TEXT, nullable=True),
        sa.Column("moisture_method", TEXT, nullable=True),
        sa.Column("moisture_on", TEXT, nullable=True),
        sa.Column("moisture_at", TEXT, nullable=True),
        sa.Column("row_text", TEXT, nullable=True),
        sa.Column("salt", sa.LargeBinary(), nullable=True),
        sa.Column("personal_sha", sa.LargeBinary(), nullable=True),
        sa.ForeignKeyConstraint(["day_no"], ["days.day_no"], name=op.f("fk_sheet_samples_day_no_days")),
        sa.ForeignKeyConstraint(["site_no"], ["sites.site_no"], name=op.f("fk_sheet_samples_site_no_sites")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sheet_samples")),
    )
    op.create_index(op.f("ix_sheet_samples_sample"), "sheet_samples", ["sample"], unique=False)
    op.create_index(op.f("ix_sheet_samples_ticket"), "sheet_samples", ["ticket"], unique=False)
    op.create_table(
        "relisted",
        sa.Column("id", NUMBER, autoincrement=False, nullable=False),
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("day_no", NUMBER, nullable=False),
        sa.Column("kept_revision", sa.Integer(), nullable=False),
        sa.Column("changed", sa.Boolean(), nullable=False),
        sa.Column("row", sa.Integer(), nullable=False),
        sa.Column("sample", TEXT, nullable=False),
        sa.Column("ticket", TEXT, nullable=True),
        sa.Column("profile", TEXT, nullable=True),
        sa.Column("run", TEXT, nullable=False),
        sa.Column("bath", TEXT, nullable=True),
        sa.Column("position", TEXT, nullable=False),
        sa.Column("tube_id", TEXT, nullable=True),
        sa.Column("stirrer_id", TEXT, nullable=True),
        sa.Column("seconds", sa.Double(), nullable=True),
        sa.Column("kind", sa.Integer(), nullable=True),
        sa.Column("moisture_pct", sa.Double(), nullable=True),
        sa.Column("mass_g", sa.Double(), nullable=True),
        sa.Column("pressure_hpa", sa.Double(), nullable=True),
        sa.Column("corrected_by_instrument", sa.Boolean(), nullable=True),
        sa.Column("analyst", TEXT, nullable=True),
        sa.Column("run_at", TEXT, nullable=True),
        sa.Column("set_aside_cause", TEXT, nullable=True),
        sa.Column("position_stated", sa.Boolean(), nullable=True),
        sa.Column("row_text", TEXT, nullable=True),
        sa.Column("state", sa.Integer(), nullable=True),
        sa.Column("state_code", TEXT, nullable=True),
        sa.Column("portion_g", sa.Double(), nullable=True),
        sa.Column("salt", sa.LargeBinary(), nullable=True),
        sa.Column("personal_sha", sa.LargeBinary(), nullable=True),
        sa.ForeignKeyConstraint(["day_no"], ["days.day_no"], name=op.f("fk_relisted_day_no_days")),
        sa.ForeignKeyConstraint(["site_no"], ["sites.site_no"], name=op.f("fk_relisted_site_no_sites")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_relisted")),
    )


def _guards() -> None:
    keep_whole("events", ("site_no", "seq"))
    for table in ("sites", "profile_versions", "sign_offs"):
        keep_whole(table, ("site_no",) if table == "sites" else ("site_no", "key"))
    for table in ("heads", "people", "personal", "days"):
        keep_rows(table)
    columns = sa.inspect(op.get_bind()).get_columns
    for table, personal in BULK.items():
        keep_columns(table, [c["name"] for c in columns(table) if c["name"] not in personal])


def upgrade() -> None:
    """Make the tables and their guards."""
    _tables()
    if op.get_bind().dialect.name == "postgresql":
        op.execute("CREATE SEQUENCE day_numbers")
    _guards()


def downgrade() -> None:
    """Take everything away; the caller has seen that there are no entries."""
    for table in DROP_ORDER:
        op.drop_table(table)
    if op.get_bind().dialect.name == "postgresql":
        op.execute("DROP SEQUENCE day_numbers")
    drop_guards()
