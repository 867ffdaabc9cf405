from __future__ import annotations

from datetime import date, timedelta

import polars as pl
import pytest
from polars.testing import assert_frame_equal

from lodestarch.common.errors import UnknownName
from lodestarch.method.table import RESULTS
from lodestarch.records.backup import backup, is_due
from lodestarch.records.engine import open_records, verify_at
from lodestarch.records.lists import FEES
from lodestarch.records.tables import FeeCode, FeeItem
from records.harvest import START, day
from records.house import fill


def test_results_are_taken_away_as_they_are(records, store):
    stored = store(day(40))
    with records.view() as view:
        frame = view.all_results()
    assert frame.drop("day_id", "read_at").schema == pl.Schema(RESULTS)
    assert frame.select("day_id", "read_at").unique().rows() == [
        (stored.day_id, "2026-07-14T06:00:00.000000Z")
    ]
    assert_frame_equal(frame.drop("day_id", "read_at"), day(40).results)


def test_a_month_of_fees_adds_up_in_decimals(records):
    with records.unit("Ann Example", START) as unit:
        one, two = unit.add_party("Grower 3", "grower"), unit.add_party("Grower 4", "grower")
        unit.add(FeeCode(key="fn", what="falling number", price="14.10", currency="EUR"))
        items = [
            (one, "8000", "2026-07-01", 1),
            (one, "8001", "2026-07-31", 2),
            (two, None, "2026-07-31", 1),
            (one, "8002", "2026-08-01", 1),
        ]
        for n, (payer, sample, done, quantity) in enumerate(items):
            unit.add(
                FeeItem(key=str(n), code="fn", payer=payer, sample=sample, done_at=done, quantity=quantity)
            )
        unit.erase("parties", two, "asked for")
    with records.view() as view:
        july, may = view.month_of_fees(date(2026, 7, 14)), view.month_of_fees(date(2026, 5, 1))
    assert july.rows() == [
        (one, "Grower 3", "fn", "falling number", 3, "14.10", "42.30", "EUR", "8000 8001"),
        (two, None, "fn", "falling number", 1, "14.10", "14.10", "EUR", ""),
    ]
    assert (may.height, may.schema) == (0, pl.Schema(FEES))


def test_a_file_comes_back_byte_for_byte(records, clock):
    fill(records, clock)
    with records.view() as view:
        (entry,) = view.history("samples:8000")[-1:]
        mark = entry["data"]["changes"][0]["row"]["sha256"]
        assert view.file(mark) == b"\x89PNG not really"
        with pytest.raises(UnknownName):
            view.file("0" * 64)


def test_a_backup_is_due_when_the_last_one_is_old(file, tmp_path, clock):
    every = timedelta(hours=24)
    assert is_due(tmp_path / "b", "lab", every, clock())
    backup(file, tmp_path / "b", clock=clock)
    assert not is_due(tmp_path / "b", "lab", every, clock())
    assert is_due(tmp_path / "b", "lab", every, clock.move(hours=24))


def test_kept_rows_are_made_anew_from_the_log(file, tmp_path, clock):
    """A table that was changed behind the guards: what the log says is made again from a package."""
    with open_records(file, clock=clock) as records:
        fill(records, clock)
        with records._writer.connect() as conn, conn.begin():
            conn.exec_driver_sql("UPDATE samples SET variety = 'another'")
        assert not records.verify().holds
        package, _ = records.write_package(clock())
    with open_records(tmp_path / "anew.db", clock=clock, site="bystander") as anew:
        anew.take_package(package, clock())
    assert verify_at(tmp_path / "anew.db").holds
