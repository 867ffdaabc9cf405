from __future__ import annotations

import pytest

from lodestarch.common.errors import RecordsUnusable, Refused
from lodestarch.records import server as pg
from lodestarch.records import sqlite
from lodestarch.records.address import parse_address
from lodestarch.records.engine import open_records, verify_at
from lodestarch.records.schema import REVISIONS, migrate
from lodestarch.records.sites import found_site
from lodestarch.records.upgrade import downgrade, upgrade
from records.harvest import START, Clock, day


@pytest.fixture(params=["sqlite", "postgresql"])
def old(request, tmp_path):
    """Records as the first version of the tables left them, with one entry in the log."""
    address = tmp_path / "lab.db" if request.param == "sqlite" else request.getfixturevalue("server").fresh()
    where = parse_address(address)
    engine = sqlite.writing(where.path) if where.path else pg.engine(where.url, read_only=False)
    with engine.connect() as conn, conn.begin():
        if where.path:
            conn.exec_driver_sql(f"PRAGMA application_id={sqlite.APPLICATION_ID}")
        migrate(conn, REVISIONS[0])
        found_site(conn, "lab", START)
    engine.dispose()
    return address


def test_records_of_an_earlier_version_are_refused_and_brought_up_to_date(old, tmp_path, clock):
    with pytest.raises(RecordsUnusable, match="records upgrade"):
        open_records(old, clock=clock)
    before, after, copy = upgrade(old, tmp_path / "copies", clock=clock)
    assert (before, after) == (REVISIONS[0], REVISIONS[-1])
    assert (copy is not None) == (old == tmp_path / "lab.db")
    with open_records(old, clock=clock) as records, records.unit("Ann Example", START) as unit:
        unit.store_day(day(4))
    assert verify_at(old).holds
    assert upgrade(old, tmp_path, clock=clock) == (after, after, None)
    with pytest.raises(Refused, match=copy.name if copy else "before the upgrade"):
        downgrade(old, REVISIONS[0])
    assert verify_at(old).holds


def test_empty_tables_go_down(tmp_path):
    path = tmp_path / "lab.db"
    engine = sqlite.writing(path)
    with engine.connect() as conn, conn.begin():
        conn.exec_driver_sql(f"PRAGMA application_id={sqlite.APPLICATION_ID}")
        migrate(conn)
    engine.dispose()
    downgrade(path, REVISIONS[0])
    engine = sqlite.writing(path)
    with engine.connect() as conn:
        assert conn.exec_driver_sql("SELECT version_num FROM alembic_version").scalar_one() == REVISIONS[0]
    engine.dispose()


def test_records_of_a_later_version_are_not_touched(file, tmp_path):
    engine = sqlite.writing(file)
    with engine.connect() as conn, conn.begin():
        conn.exec_driver_sql("UPDATE alembic_version SET version_num = '9999'")
    engine.dispose()
    before = file.read_bytes()
    with pytest.raises(RecordsUnusable, match="later version"):
        upgrade(file, tmp_path, clock=Clock())
    assert file.read_bytes() == before
