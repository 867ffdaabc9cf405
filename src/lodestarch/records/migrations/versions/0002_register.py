"""Equipment, samples, releases and documents, grain, terms, plans, check materials, fees, sessions."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from lodestarch.records.migrations.guards import keep_rows, keep_whole

revision = "0002"
down_revision = "0001"

NUMBER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
TEXT = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
TABLES = (
    "attachment_bytes",
    "drafts",
    "held_packages",
    "login_delays",
    "sessions",
    "attachments",
    "bins",
    "check_materials",
    "documents",
    "equipment",
    "fee_codes",
    "parties",
    "plans",
    "retention_rules",
    "ring_tests",
    "check_runs",
    "equipment_checks",
    "fee_items",
    "releases",
    "ring_results",
    "samples",
    "shift_checks",
    "terms",
    "cargoes",
    "loads",
    "lots",
    "moistures",
    "preparations",
    "release_copies",
    "retained_samples",
    "sample_parents",
    "sent_samples",
    "bin_layers",
    "retained_uses",
    "sent_results",
    "sublots",
    "movements",
)
"""In the order in which they are made."""

FREE = ("sessions", "drafts", "login_delays", "held_packages")
"""Tables outside the log, whose rows come and go."""


def _tables_1() -> None:
    op.create_table(
        "attachment_bytes",
        sa.Column("sha256", TEXT, nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("sha256", name=op.f("pk_attachment_bytes")),
    )
    op.create_table(
        "drafts",
        sa.Column("key", TEXT, nullable=False),
        sa.Column("person", TEXT, nullable=False),
        sa.Column("saved_at", TEXT, nullable=False),
        sa.Column("document", TEXT, nullable=False),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_drafts")),
    )
    op.create_table(
        "held_packages",
        sa.Column("site", TEXT, nullable=False),
        sa.Column("first_seq", NUMBER, autoincrement=False, nullable=False),
        sa.Column("last_seq", NUMBER, autoincrement=False, nullable=False),
        sa.Column("sha256", TEXT, nullable=False),
        sa.Column("arrived_at", TEXT, nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("site", "first_seq", "last_seq", "sha256", name=op.f("pk_held_packages")),
    )
    op.create_table(
        "login_delays",
        sa.Column("origin", TEXT, nullable=False),
        sa.Column("person", TEXT, nullable=False),
        sa.Column("failures", NUMBER, nullable=False),
        sa.Column("not_before", TEXT, nullable=False),
        sa.PrimaryKeyConstraint("origin", "person", name=op.f("pk_login_delays")),
    )
    op.create_table(
        "sessions",
        sa.Column("token_sha256", TEXT, nullable=False),
        sa.Column("site", TEXT, nullable=False),
        sa.Column("person", TEXT, nullable=False),
        sa.Column("began_at", TEXT, nullable=False),
        sa.Column("last_seen_at", TEXT, nullable=False),
        sa.Column("ends_at", TEXT, nullable=False),
        sa.PrimaryKeyConstraint("token_sha256", name=op.f("pk_sessions")),
    )
    op.create_table(
        "attachments",
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("key", TEXT, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("subject", TEXT, nullable=False),
        sa.Column("name", TEXT, nullable=False),
        sa.Column("media_type", TEXT, nullable=False),
        sa.Column("size_bytes", NUMBER, nullable=False),
        sa.Column("sha256", TEXT, nullable=False),
        sa.ForeignKeyConstraint(["site_no"], ["sites.site_no"], name=op.f("fk_attachments_site_no_sites")),
        sa.PrimaryKeyConstraint("site_no", "key", name=op.f("pk_attachments")),
    )
    op.create_index(op.f("ix_attachments_subject"), "attachments", ["subject"], unique=False)
    op.create_table(
        "bins",
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("key", TEXT, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("name", TEXT, nullable=False),
        sa.Column("capacity_t", sa.Double(), nullable=True),
        sa.Column("in_use", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(["site_no"], ["sites.site_no"], name=op.f("fk_bins_site_no_sites")),
        sa.PrimaryKeyConstraint("site_no", "key", name=op.f("pk_bins")),
    )
    op.create_table(
        "check_materials",
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("key", TEXT, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("lot", TEXT, nullable=False),
        sa.Column("form", TEXT, nullable=False),
        sa.Column("level_s", sa.Double(), nullable=False),
        sa.Column("level_source", TEXT, nullable=False),
        sa.Column("provenance", TEXT, nullable=False),
        sa.Column("u_s", sa.Double(), nullable=True),
        sa.Column("expires_on", TEXT, nullable=True),
        sa.CheckConstraint("form IN ('whole grain', 'meal')", name=op.f("ck_check_materials_form_listed")),
        sa.ForeignKeyConstraint(
            ["site_no"], ["sites.site_no"], name=op.f("fk_check_materials_site_no_sites")
        ),
        sa.PrimaryKeyConstraint("site_no", "key", name=op.f("pk_check_materials")),
    )


def _tables_2() -> None:
    op.create_table(
        "documents",
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("key", TEXT, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("kind", TEXT, nullable=False),
        sa.Column("issued_at", TEXT, nullable=False),
        sa.Column("releases", TEXT, nullable=False),
        sa.Column("content_sha256", TEXT, nullable=False),
        sa.Column("head_seq", NUMBER, nullable=False),
        sa.Column("head_hash", TEXT, nullable=False),
        sa.Column("content", TEXT, nullable=True),
        sa.Column("file_sha256", TEXT, nullable=True),
        sa.Column("supersedes", TEXT, nullable=True),
        sa.ForeignKeyConstraint(
            ["site_no", "supersedes"],
            ["documents.site_no", "documents.key"],
            name=op.f("fk_documents_site_no_supersedes_documents"),
        ),
        sa.ForeignKeyConstraint(["site_no"], ["sites.site_no"], name=op.f("fk_documents_site_no_sites")),
        sa.PrimaryKeyConstraint("site_no", "key", name=op.f("pk_documents")),
    )
    op.create_table(
        "equipment",
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("key", TEXT, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("kind", TEXT, nullable=False),
        sa.Column("name", TEXT, nullable=False),
        sa.Column("part_of", TEXT, nullable=True),
        sa.Column("in_use_since", TEXT, nullable=True),
        sa.Column("check_every_days", NUMBER, nullable=True),
        sa.Column("check_every_uses", NUMBER, nullable=True),
        sa.Column("uses", NUMBER, nullable=False),
        sa.Column("wear", TEXT, nullable=True),
        sa.Column("replaced_on", TEXT, nullable=True),
        sa.Column("replaced_by", TEXT, nullable=True),
        sa.CheckConstraint(
            "kind IN ('bath', 'position', 'tube', 'stirrer', 'mill', 'screen', "
            "'shaker', 'dispenser', 'moisture meter', 'balance', 'barometer', 'divider', 'other')",
            name=op.f("ck_equipment_kind_listed"),
        ),
        sa.ForeignKeyConstraint(
            ["site_no", "part_of"],
            ["equipment.site_no", "equipment.key"],
            name=op.f("fk_equipment_site_no_part_of_equipment"),
        ),
        sa.ForeignKeyConstraint(["site_no"], ["sites.site_no"], name=op.f("fk_equipment_site_no_sites")),
        sa.PrimaryKeyConstraint("site_no", "key", name=op.f("pk_equipment")),
    )
    op.create_table(
        "fee_codes",
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("key", TEXT, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("what", TEXT, nullable=False),
        sa.Column("price", TEXT, nullable=False),
        sa.Column("currency", TEXT, nullable=False),
        sa.Column("valid_from", TEXT, nullable=True),
        sa.ForeignKeyConstraint(["site_no"], ["sites.site_no"], name=op.f("fk_fee_codes_site_no_sites")),
        sa.PrimaryKeyConstraint("site_no", "key", name=op.f("pk_fee_codes")),
    )
    op.create_table(
        "parties",
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("key", TEXT, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("role", TEXT, nullable=False),
        sa.Column("region", TEXT, nullable=True),
        sa.Column("wants_price", sa.Boolean(), nullable=False),
        sa.Column("active", sa.Boolean(), nullable=False),
        sa.CheckConstraint(
            "role IN ('grower', 'buyer', 'payer', 'laboratory', 'carrier', 'other')",
            name=op.f("ck_parties_role_listed"),
        ),
        sa.ForeignKeyConstraint(["site_no"], ["sites.site_no"], name=op.f("fk_parties_site_no_sites")),
        sa.PrimaryKeyConstraint("site_no", "key", name=op.f("pk_parties")),
    )
    op.create_table(
        "plans",
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("key", TEXT, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("kind", TEXT, nullable=False),
        sa.Column("made_at", TEXT, nullable=False),
        sa.Column("problem", TEXT, nullable=False),
        sa.Column("answer", TEXT, nullable=False),
        sa.Column("chosen", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(["site_no"], ["sites.site_no"], name=op.f("fk_plans_site_no_sites")),
        sa.PrimaryKeyConstraint("site_no", "key", name=op.f("pk_plans")),
    )
    op.create_table(
        "retention_rules",
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("key", TEXT, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("applies_to", TEXT, nullable=False),
        sa.Column("keep_days", NUMBER, nullable=False),
        sa.Column("source", TEXT, nullable=False),
        sa.Column("provenance", TEXT, nullable=False),
        sa.ForeignKeyConstraint(
            ["site_no"], ["sites.site_no"], name=op.f("fk_retention_rules_site_no_sites")
        ),
        sa.PrimaryKeyConstraint("site_no", "key", name=op.f("pk_retention_rules")),
    )
    op.create_table(
        "ring_tests",
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("key", TEXT, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("organiser", TEXT, nullable=False),
        sa.Column("round", TEXT, nullable=False),
        sa.Column("received_at", TEXT, nullable=True),
        sa.Column("due_at", TEXT, nullable=True),
        sa.Column("assigned_s", sa.Double(), nullable=True),
        sa.Column("assigned_u_s", sa.Double(), nullable=True),
        sa.Column("between_labs_s", sa.Double(), nullable=True),
        sa.ForeignKeyConstraint(["site_no"], ["sites.site_no"], name=op.f("fk_ring_tests_site_no_sites")),
        sa.PrimaryKeyConstraint("site_no", "key", name=op.f("pk_ring_tests")),
    )
    op.create_table(
        "check_runs",
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("key", TEXT, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("material", TEXT, nullable=False),
        sa.Column("run_at", TEXT, nullable=False),
        sa.Column("seconds", sa.Double(), nullable=False),
        sa.Column("sample", TEXT, nullable=True),
        sa.Column("bath", TEXT, nullable=True),
        sa.Column("mill", TEXT, nullable=True),
        sa.Column("judged", TEXT, nullable=True),
        sa.ForeignKeyConstraint(
            ["site_no", "bath"],
            ["equipment.site_no", "equipment.key"],
            name=op.f("fk_check_runs_site_no_bath_equipment"),
        ),
        sa.ForeignKeyConstraint(
            ["site_no", "material"],
            ["check_materials.site_no", "check_materials.key"],
            name=op.f("fk_check_runs_site_no_material_check_materials"),
        ),
        sa.ForeignKeyConstraint(
            ["site_no", "mill"],
            ["equipment.site_no", "equipment.key"],
            name=op.f("fk_check_runs_site_no_mill_equipment"),
        ),
        sa.ForeignKeyConstraint(["site_no"], ["sites.site_no"], name=op.f("fk_check_runs_site_no_sites")),
        sa.PrimaryKeyConstraint("site_no", "key", name=op.f("pk_check_runs")),
    )
    op.create_index(op.f("ix_check_runs_material_run_at"), "check_runs", ["material", "run_at"], unique=False)


def _tables_3() -> None:
    op.create_table(
        "equipment_checks",
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("key", TEXT, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("equipment", TEXT, nullable=False),
        sa.Column("what", TEXT, nullable=False),
        sa.Column("checked_at", TEXT, nullable=False),
        sa.Column("checked_by", TEXT, nullable=False),
        sa.Column("held", sa.Boolean(), nullable=False),
        sa.Column("value", sa.Double(), nullable=True),
        sa.Column("unit", TEXT, nullable=True),
        sa.Column("least", sa.Double(), nullable=True),
        sa.Column("most", sa.Double(), nullable=True),
        sa.Column("note", TEXT, nullable=True),
        sa.ForeignKeyConstraint(
            ["site_no", "checked_by"],
            ["people.site_no", "people.key"],
            name=op.f("fk_equipment_checks_site_no_checked_by_people"),
        ),
        sa.ForeignKeyConstraint(
            ["site_no", "equipment"],
            ["equipment.site_no", "equipment.key"],
            name=op.f("fk_equipment_checks_site_no_equipment_equipment"),
        ),
        sa.ForeignKeyConstraint(
            ["site_no"], ["sites.site_no"], name=op.f("fk_equipment_checks_site_no_sites")
        ),
        sa.PrimaryKeyConstraint("site_no", "key", name=op.f("pk_equipment_checks")),
    )
    op.create_table(
        "fee_items",
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("key", TEXT, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("code", TEXT, nullable=False),
        sa.Column("done_at", TEXT, nullable=False),
        sa.Column("sample", TEXT, nullable=True),
        sa.Column("payer", TEXT, nullable=True),
        sa.Column("quantity", NUMBER, nullable=False),
        sa.ForeignKeyConstraint(
            ["site_no", "code"],
            ["fee_codes.site_no", "fee_codes.key"],
            name=op.f("fk_fee_items_site_no_code_fee_codes"),
        ),
        sa.ForeignKeyConstraint(
            ["site_no", "payer"],
            ["parties.site_no", "parties.key"],
            name=op.f("fk_fee_items_site_no_payer_parties"),
        ),
        sa.ForeignKeyConstraint(["site_no"], ["sites.site_no"], name=op.f("fk_fee_items_site_no_sites")),
        sa.PrimaryKeyConstraint("site_no", "key", name=op.f("pk_fee_items")),
    )
    op.create_index(op.f("ix_fee_items_done_at"), "fee_items", ["done_at"], unique=False)
    op.create_table(
        "releases",
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("key", TEXT, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("sample", TEXT, nullable=False),
        sa.Column("day", TEXT, nullable=False),
        sa.Column("result", TEXT, nullable=False),
        sa.Column("released_at", TEXT, nullable=False),
        sa.Column("released_by", TEXT, nullable=False),
        sa.Column("status", TEXT, nullable=False),
        sa.Column("by_rule", sa.Boolean(), nullable=False),
        sa.Column("supersedes", TEXT, nullable=True),
        sa.Column("reason", TEXT, nullable=True),
        sa.CheckConstraint("status IN ('released', 'superseded')", name=op.f("ck_releases_status_listed")),
        sa.ForeignKeyConstraint(
            ["site_no", "day"], ["days.site_no", "days.key"], name=op.f("fk_releases_site_no_day_days")
        ),
        sa.ForeignKeyConstraint(
            ["site_no", "supersedes"],
            ["releases.site_no", "releases.key"],
            name=op.f("fk_releases_site_no_supersedes_releases"),
        ),
        sa.ForeignKeyConstraint(["site_no"], ["sites.site_no"], name=op.f("fk_releases_site_no_sites")),
        sa.PrimaryKeyConstraint("site_no", "key", name=op.f("pk_releases")),
    )
    op.create_index(op.f("ix_releases_sample"), "releases", ["sample"], unique=False)
    op.create_table(
        "ring_results",
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("key", TEXT, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("ring_test", TEXT, nullable=False),
        sa.Column("material", TEXT, nullable=False),
        sa.Column("seconds", sa.Double(), nullable=False),
        sa.Column("reported_at", TEXT, nullable=False),
        sa.Column("sample", TEXT, nullable=True),
        sa.ForeignKeyConstraint(
            ["site_no", "ring_test"],
            ["ring_tests.site_no", "ring_tests.key"],
            name=op.f("fk_ring_results_site_no_ring_test_ring_tests"),
        ),
        sa.ForeignKeyConstraint(["site_no"], ["sites.site_no"], name=op.f("fk_ring_results_site_no_sites")),
        sa.PrimaryKeyConstraint("site_no", "key", name=op.f("pk_ring_results")),
    )
    op.create_table(
        "samples",
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("key", TEXT, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("kind", TEXT, nullable=False),
        sa.Column("received_at", TEXT, nullable=False),
        sa.Column("ticket", TEXT, nullable=True),
        sa.Column("material", TEXT, nullable=True),
        sa.Column("whose", TEXT, nullable=True),
        sa.Column("payer", TEXT, nullable=True),
        sa.Column("tests_wanted", TEXT, nullable=False),
        sa.Column("needed_by", TEXT, nullable=True),
        sa.Column("drawn_how", TEXT, nullable=True),
        sa.Column("drawn_by", TEXT, nullable=True),
        sa.Column("probes", NUMBER, nullable=True),
        sa.Column("increments", NUMBER, nullable=True),
        sa.Column("mass_g", sa.Double(), nullable=True),
        sa.Column("condition", TEXT, nullable=True),
        sa.Column("seal", TEXT, nullable=True),
        sa.Column("sprouted_pct", sa.Double(), nullable=True),
        sa.Column("sprouted_counted_by", TEXT, nullable=True),
        sa.Column("variety", TEXT, nullable=True),
        sa.Column("variety_how", TEXT, nullable=True),
        sa.Column("origin", TEXT, nullable=True),
        sa.Column("harvest_date", TEXT, nullable=True),
        sa.Column("note", TEXT, nullable=True),
        sa.CheckConstraint(
            "kind IN ('load', 'bin', 'composite', 'check', 'retest', 'split', 'regrind')",
            name=op.f("ck_samples_kind_listed"),
        ),
        sa.ForeignKeyConstraint(
            ["site_no", "payer"],
            ["parties.site_no", "parties.key"],
            name=op.f("fk_samples_site_no_payer_parties"),
        ),
        sa.ForeignKeyConstraint(
            ["site_no", "whose"],
            ["parties.site_no", "parties.key"],
            name=op.f("fk_samples_site_no_whose_parties"),
        ),
        sa.ForeignKeyConstraint(["site_no"], ["sites.site_no"], name=op.f("fk_samples_site_no_sites")),
        sa.PrimaryKeyConstraint("site_no", "key", name=op.f("pk_samples")),
    )
    op.create_index(op.f("ix_samples_received_at"), "samples", ["received_at"], unique=False)
    op.create_index(op.f("ix_samples_ticket"), "samples", ["ticket"], unique=False)
    op.create_table(
        "shift_checks",
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("key", TEXT, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("checked_at", TEXT, nullable=False),
        sa.Column("checked_by", TEXT, nullable=False),
        sa.Column("items", TEXT, nullable=False),
        sa.Column("held", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(
            ["site_no", "checked_by"],
            ["people.site_no", "people.key"],
            name=op.f("fk_shift_checks_site_no_checked_by_people"),
        ),
        sa.ForeignKeyConstraint(["site_no"], ["sites.site_no"], name=op.f("fk_shift_checks_site_no_sites")),
        sa.PrimaryKeyConstraint("site_no", "key", name=op.f("pk_shift_checks")),
    )
    op.create_table(
        "terms",
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("key", TEXT, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("kind", TEXT, nullable=False),
        sa.Column("terms_id", TEXT, nullable=False),
        sa.Column("document", TEXT, nullable=False),
        sa.Column("valid_from", TEXT, nullable=True),
        sa.Column("valid_to", TEXT, nullable=True),
        sa.Column("party", TEXT, nullable=True),
        sa.CheckConstraint(
            "kind IN ('buyer', 'delivery_point', 'schedule', 'contract', 'bid', 'bin')",
            name=op.f("ck_terms_kind_listed"),
        ),
        sa.ForeignKeyConstraint(
            ["site_no", "party"],
            ["parties.site_no", "parties.key"],
            name=op.f("fk_terms_site_no_party_parties"),
        ),
        sa.ForeignKeyConstraint(["site_no"], ["sites.site_no"], name=op.f("fk_terms_site_no_sites")),
        sa.PrimaryKeyConstraint("site_no", "key", name=op.f("pk_terms")),
    )
    op.create_index(op.f("ix_terms_terms_id"), "terms", ["terms_id"], unique=False)
    op.create_table(
        "cargoes",
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("key", TEXT, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("name", TEXT, nullable=False),
        sa.Column("buyer", TEXT, nullable=True),
        sa.Column("terms", TEXT, nullable=True),
        sa.Column("tonnes", sa.Double(), nullable=True),
        sa.Column("loading_began_at", TEXT, nullable=True),
        sa.Column("loading_ended_at", TEXT, nullable=True),
        sa.ForeignKeyConstraint(
            ["site_no", "buyer"],
            ["parties.site_no", "parties.key"],
            name=op.f("fk_cargoes_site_no_buyer_parties"),
        ),
        sa.ForeignKeyConstraint(
            ["site_no", "terms"], ["terms.site_no", "terms.key"], name=op.f("fk_cargoes_site_no_terms_terms")
        ),
        sa.ForeignKeyConstraint(["site_no"], ["sites.site_no"], name=op.f("fk_cargoes_site_no_sites")),
        sa.PrimaryKeyConstraint("site_no", "key", name=op.f("pk_cargoes")),
    )


def _tables_4() -> None:
    op.create_table(
        "loads",
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("key", TEXT, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("received_at", TEXT, nullable=False),
        sa.Column("grower", TEXT, nullable=True),
        sa.Column("sample", TEXT, nullable=True),
        sa.Column("tonnes", sa.Double(), nullable=True),
        sa.Column("bin", TEXT, nullable=True),
        sa.Column("answer", TEXT, nullable=True),
        sa.ForeignKeyConstraint(
            ["site_no", "bin"], ["bins.site_no", "bins.key"], name=op.f("fk_loads_site_no_bin_bins")
        ),
        sa.ForeignKeyConstraint(
            ["site_no", "grower"],
            ["parties.site_no", "parties.key"],
            name=op.f("fk_loads_site_no_grower_parties"),
        ),
        sa.ForeignKeyConstraint(
            ["site_no", "sample"],
            ["samples.site_no", "samples.key"],
            name=op.f("fk_loads_site_no_sample_samples"),
        ),
        sa.ForeignKeyConstraint(["site_no"], ["sites.site_no"], name=op.f("fk_loads_site_no_sites")),
        sa.PrimaryKeyConstraint("site_no", "key", name=op.f("pk_loads")),
    )
    op.create_table(
        "lots",
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("key", TEXT, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("name", TEXT, nullable=False),
        sa.Column("tonnes", sa.Double(), nullable=True),
        sa.Column("bin", TEXT, nullable=True),
        sa.Column("sample", TEXT, nullable=True),
        sa.ForeignKeyConstraint(
            ["site_no", "bin"], ["bins.site_no", "bins.key"], name=op.f("fk_lots_site_no_bin_bins")
        ),
        sa.ForeignKeyConstraint(
            ["site_no", "sample"],
            ["samples.site_no", "samples.key"],
            name=op.f("fk_lots_site_no_sample_samples"),
        ),
        sa.ForeignKeyConstraint(["site_no"], ["sites.site_no"], name=op.f("fk_lots_site_no_sites")),
        sa.PrimaryKeyConstraint("site_no", "key", name=op.f("pk_lots")),
    )
    op.create_table(
        "moistures",
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("key", TEXT, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("sample", TEXT, nullable=False),
        sa.Column("moisture_pct", sa.Double(), nullable=False),
        sa.Column("as_entered", TEXT, nullable=False),
        sa.Column("method", TEXT, nullable=False),
        sa.Column("measured_on", TEXT, nullable=False),
        sa.Column("measured_at", TEXT, nullable=False),
        sa.Column("meter", TEXT, nullable=True),
        sa.CheckConstraint("measured_on IN ('grain', 'meal')", name=op.f("ck_moistures_measured_on_listed")),
        sa.ForeignKeyConstraint(
            ["site_no", "meter"],
            ["equipment.site_no", "equipment.key"],
            name=op.f("fk_moistures_site_no_meter_equipment"),
        ),
        sa.ForeignKeyConstraint(
            ["site_no", "sample"],
            ["samples.site_no", "samples.key"],
            name=op.f("fk_moistures_site_no_sample_samples"),
        ),
        sa.ForeignKeyConstraint(["site_no"], ["sites.site_no"], name=op.f("fk_moistures_site_no_sites")),
        sa.PrimaryKeyConstraint("site_no", "key", name=op.f("pk_moistures")),
    )
    op.create_index(op.f("ix_moistures_sample"), "moistures", ["sample"], unique=False)
    op.create_table(
        "preparations",
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("key", TEXT, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("sample", TEXT, nullable=False),
        sa.Column("cleaned_how", TEXT, nullable=False),
        sa.Column("dockage_pct", sa.Double(), nullable=True),
        sa.Column("besatz_pct", sa.Double(), nullable=True),
        sa.Column("divider", TEXT, nullable=True),
        sa.Column("mill", TEXT, nullable=True),
        sa.Column("order_on_mill", NUMBER, nullable=True),
        sa.Column("ground_mass_g", sa.Double(), nullable=True),
        sa.Column("ground_at", TEXT, nullable=True),
        sa.ForeignKeyConstraint(
            ["site_no", "mill"],
            ["equipment.site_no", "equipment.key"],
            name=op.f("fk_preparations_site_no_mill_equipment"),
        ),
        sa.ForeignKeyConstraint(
            ["site_no", "sample"],
            ["samples.site_no", "samples.key"],
            name=op.f("fk_preparations_site_no_sample_samples"),
        ),
        sa.ForeignKeyConstraint(["site_no"], ["sites.site_no"], name=op.f("fk_preparations_site_no_sites")),
        sa.PrimaryKeyConstraint("site_no", "key", name=op.f("pk_preparations")),
    )
    op.create_index(op.f("ix_preparations_sample"), "preparations", ["sample"], unique=False)
    op.create_table(
        "release_copies",
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("key", TEXT, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("release", TEXT, nullable=False),
        sa.Column("how", TEXT, nullable=False),
        sa.Column("sent_at", TEXT, nullable=False),
        sa.Column("party", TEXT, nullable=True),
        sa.Column("said", TEXT, nullable=True),
        sa.Column("document", TEXT, nullable=True),
        sa.CheckConstraint(
            "how IN ('phone', 'paper', 'mail', 'screen', 'other')", name=op.f("ck_release_copies_how_listed")
        ),
        sa.ForeignKeyConstraint(
            ["site_no", "document"],
            ["documents.site_no", "documents.key"],
            name=op.f("fk_release_copies_site_no_document_documents"),
        ),
        sa.ForeignKeyConstraint(
            ["site_no", "party"],
            ["parties.site_no", "parties.key"],
            name=op.f("fk_release_copies_site_no_party_parties"),
        ),
        sa.ForeignKeyConstraint(
            ["site_no", "release"],
            ["releases.site_no", "releases.key"],
            name=op.f("fk_release_copies_site_no_release_releases"),
        ),
        sa.ForeignKeyConstraint(["site_no"], ["sites.site_no"], name=op.f("fk_release_copies_site_no_sites")),
        sa.PrimaryKeyConstraint("site_no", "key", name=op.f("pk_release_copies")),
    )
    op.create_table(
        "retained_samples",
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("key", TEXT, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("sample", TEXT, nullable=False),
        sa.Column("mass_g", sa.Double(), nullable=False),
        sa.Column("place", TEXT, nullable=False),
        sa.Column("retained_at", TEXT, nullable=False),
        sa.Column("seal", TEXT, nullable=True),
        sa.Column("rule", TEXT, nullable=True),
        sa.Column("destroy_by", TEXT, nullable=True),
        sa.Column("destroyed_on", TEXT, nullable=True),
        sa.ForeignKeyConstraint(
            ["site_no", "rule"],
            ["retention_rules.site_no", "retention_rules.key"],
            name=op.f("fk_retained_samples_site_no_rule_retention_rules"),
        ),
        sa.ForeignKeyConstraint(
            ["site_no", "sample"],
            ["samples.site_no", "samples.key"],
            name=op.f("fk_retained_samples_site_no_sample_samples"),
        ),
        sa.ForeignKeyConstraint(
            ["site_no"], ["sites.site_no"], name=op.f("fk_retained_samples_site_no_sites")
        ),
        sa.PrimaryKeyConstraint("site_no", "key", name=op.f("pk_retained_samples")),
    )
    op.create_index(op.f("ix_retained_samples_destroy_by"), "retained_samples", ["destroy_by"], unique=False)
    op.create_index(op.f("ix_retained_samples_sample"), "retained_samples", ["sample"], unique=False)
    op.create_table(
        "sample_parents",
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("key", TEXT, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("sample", TEXT, nullable=False),
        sa.Column("parent", TEXT, nullable=False),
        sa.Column("how", TEXT, nullable=False),
        sa.Column("mass_g", sa.Double(), nullable=True),
        sa.Column("asked_by", TEXT, nullable=True),
        sa.Column("reason", TEXT, nullable=True),
        sa.CheckConstraint(
            "how IN ('split', 'composite', 'regrind', 'retest')", name=op.f("ck_sample_parents_how_listed")
        ),
        sa.ForeignKeyConstraint(
            ["site_no", "parent"],
            ["samples.site_no", "samples.key"],
            name=op.f("fk_sample_parents_site_no_parent_samples"),
        ),
        sa.ForeignKeyConstraint(
            ["site_no", "sample"],
            ["samples.site_no", "samples.key"],
            name=op.f("fk_sample_parents_site_no_sample_samples"),
        ),
        sa.ForeignKeyConstraint(["site_no"], ["sites.site_no"], name=op.f("fk_sample_parents_site_no_sites")),
        sa.PrimaryKeyConstraint("site_no", "key", name=op.f("pk_sample_parents")),
    )
    op.create_index(op.f("ix_sample_parents_parent"), "sample_parents", ["parent"], unique=False)
    op.create_table(
        "sent_samples",
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("key", TEXT, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("sample", TEXT, nullable=False),
        sa.Column("laboratory", TEXT, nullable=False),
        sa.Column("sent_at", TEXT, nullable=False),
        sa.Column("purpose", TEXT, nullable=False),
        sa.Column("mass_g", sa.Double(), nullable=True),
        sa.Column("seal", TEXT, nullable=True),
        sa.ForeignKeyConstraint(
            ["site_no", "laboratory"],
            ["parties.site_no", "parties.key"],
            name=op.f("fk_sent_samples_site_no_laboratory_parties"),
        ),
        sa.ForeignKeyConstraint(
            ["site_no", "sample"],
            ["samples.site_no", "samples.key"],
            name=op.f("fk_sent_samples_site_no_sample_samples"),
        ),
        sa.ForeignKeyConstraint(["site_no"], ["sites.site_no"], name=op.f("fk_sent_samples_site_no_sites")),
        sa.PrimaryKeyConstraint("site_no", "key", name=op.f("pk_sent_samples")),
    )
    op.create_index(op.f("ix_sent_samples_sample"), "sent_samples", ["sample"], unique=False)


def _tables_5() -> None:
    op.create_table(
        "bin_layers",
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("key", TEXT, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("bin", TEXT, nullable=False),
        sa.Column("order_no", NUMBER, nullable=False),
        sa.Column("tonnes", sa.Double(), nullable=False),
        sa.Column("load", TEXT, nullable=True),
        sa.Column("mixed", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(
            ["site_no", "bin"], ["bins.site_no", "bins.key"], name=op.f("fk_bin_layers_site_no_bin_bins")
        ),
        sa.ForeignKeyConstraint(
            ["site_no", "load"], ["loads.site_no", "loads.key"], name=op.f("fk_bin_layers_site_no_load_loads")
        ),
        sa.ForeignKeyConstraint(["site_no"], ["sites.site_no"], name=op.f("fk_bin_layers_site_no_sites")),
        sa.PrimaryKeyConstraint("site_no", "key", name=op.f("pk_bin_layers")),
    )
    op.create_index(op.f("ix_bin_layers_bin_order_no"), "bin_layers", ["bin", "order_no"], unique=False)
    op.create_table(
        "retained_uses",
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("key", TEXT, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("retained", TEXT, nullable=False),
        sa.Column("mass_g", sa.Double(), nullable=False),
        sa.Column("taken_at", TEXT, nullable=False),
        sa.Column("purpose", TEXT, nullable=False),
        sa.ForeignKeyConstraint(
            ["site_no", "retained"],
            ["retained_samples.site_no", "retained_samples.key"],
            name=op.f("fk_retained_uses_site_no_retained_retained_samples"),
        ),
        sa.ForeignKeyConstraint(["site_no"], ["sites.site_no"], name=op.f("fk_retained_uses_site_no_sites")),
        sa.PrimaryKeyConstraint("site_no", "key", name=op.f("pk_retained_uses")),
    )
    op.create_table(
        "sent_results",
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("key", TEXT, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("sent", TEXT, nullable=False),
        sa.Column("received_at", TEXT, nullable=False),
        sa.Column("as_entered", TEXT, nullable=False),
        sa.Column("seconds", sa.Double(), nullable=False),
        sa.Column("kind", NUMBER, nullable=False),
        sa.Column("moisture_basis_pct", sa.Double(), nullable=True),
        sa.Column("own_release", TEXT, nullable=True),
        sa.ForeignKeyConstraint(
            ["site_no", "own_release"],
            ["releases.site_no", "releases.key"],
            name=op.f("fk_sent_results_site_no_own_release_releases"),
        ),
        sa.ForeignKeyConstraint(
            ["site_no", "sent"],
            ["sent_samples.site_no", "sent_samples.key"],
            name=op.f("fk_sent_results_site_no_sent_sent_samples"),
        ),
        sa.ForeignKeyConstraint(["site_no"], ["sites.site_no"], name=op.f("fk_sent_results_site_no_sites")),
        sa.PrimaryKeyConstraint("site_no", "key", name=op.f("pk_sent_results")),
    )
    op.create_table(
        "sublots",
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("key", TEXT, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("cargo", TEXT, nullable=False),
        sa.Column("order_no", NUMBER, nullable=False),
        sa.Column("tonnes", sa.Double(), nullable=True),
        sa.Column("lot", TEXT, nullable=True),
        sa.Column("sample", TEXT, nullable=True),
        sa.ForeignKeyConstraint(
            ["site_no", "cargo"],
            ["cargoes.site_no", "cargoes.key"],
            name=op.f("fk_sublots_site_no_cargo_cargoes"),
        ),
        sa.ForeignKeyConstraint(
            ["site_no", "lot"], ["lots.site_no", "lots.key"], name=op.f("fk_sublots_site_no_lot_lots")
        ),
        sa.ForeignKeyConstraint(
            ["site_no", "sample"],
            ["samples.site_no", "samples.key"],
            name=op.f("fk_sublots_site_no_sample_samples"),
        ),
        sa.ForeignKeyConstraint(["site_no"], ["sites.site_no"], name=op.f("fk_sublots_site_no_sites")),
        sa.PrimaryKeyConstraint("site_no", "key", name=op.f("pk_sublots")),
    )
    op.create_table(
        "movements",
        sa.Column("site_no", sa.Integer(), nullable=False),
        sa.Column("key", TEXT, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("kind", TEXT, nullable=False),
        sa.Column("moved_at", TEXT, nullable=False),
        sa.Column("tonnes", sa.Double(), nullable=False),
        sa.Column("from_bin", TEXT, nullable=True),
        sa.Column("to_bin", TEXT, nullable=True),
        sa.Column("load", TEXT, nullable=True),
        sa.Column("sublot", TEXT, nullable=True),
        sa.CheckConstraint("kind IN ('in', 'move', 'turn', 'out')", name=op.f("ck_movements_kind_listed")),
        sa.ForeignKeyConstraint(
            ["site_no", "from_bin"],
            ["bins.site_no", "bins.key"],
            name=op.f("fk_movements_site_no_from_bin_bins"),
        ),
        sa.ForeignKeyConstraint(
            ["site_no", "load"], ["loads.site_no", "loads.key"], name=op.f("fk_movements_site_no_load_loads")
        ),
        sa.ForeignKeyConstraint(
            ["site_no", "sublot"],
            ["sublots.site_no", "sublots.key"],
            name=op.f("fk_movements_site_no_sublot_sublots"),
        ),
        sa.ForeignKeyConstraint(
            ["site_no", "to_bin"], ["bins.site_no", "bins.key"], name=op.f("fk_movements_site_no_to_bin_bins")
        ),
        sa.ForeignKeyConstraint(["site_no"], ["sites.site_no"], name=op.f("fk_movements_site_no_sites")),
        sa.PrimaryKeyConstraint("site_no", "key", name=op.f("pk_movements")),
    )


def upgrade() -> None:
    """Make the tables; no kept row is ever taken out, and bytes under a digest never change."""
    _tables_1()
    _tables_2()
    _tables_3()
    _tables_4()
    _tables_5()
    for table in TABLES:
        if table == "attachment_bytes":
            keep_whole(table, ("sha256",))
        elif table not in FREE:
            keep_rows(table)


def downgrade() -> None:
    """Take them away; the caller has seen that there are no entries."""
    for table in reversed(TABLES):
        op.drop_table(table)
