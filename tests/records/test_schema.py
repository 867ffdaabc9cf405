from __future__ import annotations

import pytest
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import create_engine, inspect

import lodestarch.records.migrations
from lodestarch.method.table import JUDGED, RESULTS, SAMPLES
from lodestarch.records.schema import REVISIONS, migrate
from lodestarch.records.tables import KEPT, OUTSIDE, Base, Reading, Result, SheetSample


@pytest.fixture(scope="module")
def conn():
    engine = create_engine("sqlite://")
    with engine.connect() as opened, opened.begin():
        migrate(opened)
        yield opened
    engine.dispose()


def test_the_scripts_make_what_the_code_declares(conn):
    assert compare_metadata(MigrationContext.configure(conn), Base.metadata) == []


def test_the_list_of_versions_is_that_of_the_scripts():
    config = Config()
    config.set_main_option("script_location", lodestarch.records.migrations.__path__[0])
    scripts = ScriptDirectory.from_config(config)
    assert tuple(s.revision for s in reversed(list(scripts.walk_revisions()))) == REVISIONS


@pytest.mark.parametrize(("model", "schema"), [(Reading, JUDGED), (Result, RESULTS), (SheetSample, SAMPLES)])
def test_tables_have_the_columns_in_which_rows_travel(model, schema):
    assert set(schema) <= {c.name for c in model.__table__.columns}


def test_down_and_up_again_leaves_the_same(conn):
    before = sorted(inspect(conn).get_table_names())
    migrate(conn, "base", down=True)
    assert inspect(conn).get_table_names() == ["alembic_version"]
    assert conn.exec_driver_sql("SELECT count(*) FROM sqlite_master WHERE type='trigger'").scalar_one() == 0
    migrate(conn)
    inspect(conn).clear_cache()
    assert sorted(inspect(conn).get_table_names()) == before


def test_every_table_is_kept_by_the_day_or_named_as_outside():
    bulk = {"readings", "relisted", "sheet_samples", "results", "refused_rows", "day_findings"}
    log = {"events", "heads", "sites", "personal", "attachment_bytes"}
    kept = {m.__table__.name for m in KEPT}
    assert kept | bulk | log | (OUTSIDE - {"alembic_version"}) == set(Base.metadata.tables)
