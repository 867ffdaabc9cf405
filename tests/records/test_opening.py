from __future__ import annotations

import sqlite3
import subprocess
import sys

import pytest

from lodestarch.common.errors import RecordsBusy, RecordsUnusable
from lodestarch.records.clock import ClockBehind
from lodestarch.records.engine import open_records
from lodestarch.records.schema import REVISIONS
from records.harvest import START, Clock

clock = Clock()


def everything(path):
    return {p.name: p.read_bytes() for p in sorted(path.iterdir())}


def test_no_records_and_none_wanted(tmp_path):
    with pytest.raises(RecordsUnusable, match="records init"):
        open_records(tmp_path / "lab.db", create=False, clock=clock)
    with pytest.raises(RecordsUnusable, match="records init"):
        open_records(tmp_path / "lab.db", mode="read", clock=clock)
    assert everything(tmp_path) == {}


def test_a_missing_folder_and_a_folder_are_named(tmp_path):
    with pytest.raises(RecordsUnusable, match="no folder"):
        open_records(tmp_path / "nowhere" / "lab.db", clock=clock)
    with pytest.raises(RecordsUnusable, match="is a folder"):
        open_records(tmp_path, clock=clock)


@pytest.mark.parametrize(
    "content", [b"ticket,sample,seconds\n1,1,287\n" * 40, b"\x00" * 5000], ids=["csv", "zeros"]
)
def test_a_file_of_another_kind_is_left_as_it_was(tmp_path, content):
    (tmp_path / "lab.db").write_bytes(content)
    for mode in ("write", "read"):
        with pytest.raises(RecordsUnusable, match="not records of ours"):
            open_records(tmp_path / "lab.db", mode=mode, clock=clock)
    assert (tmp_path / "lab.db").read_bytes() == content


def test_a_database_of_somebody_else_is_left_as_it_was(tmp_path):
    with sqlite3.connect(tmp_path / "lab.db") as conn:
        conn.execute("CREATE TABLE events (a)")
    conn.close()
    before = (tmp_path / "lab.db").read_bytes()
    with pytest.raises(RecordsUnusable, match="not records of ours"):
        open_records(tmp_path / "lab.db", clock=clock)
    assert (tmp_path / "lab.db").read_bytes() == before


@pytest.mark.parametrize(("found", "said"), [("9999", "later version"), (None, "no version|damaged")])
def test_records_of_another_version_are_refused(tmp_path, found, said):
    open_records(tmp_path / "lab.db", clock=clock).close()
    with sqlite3.connect(tmp_path / "lab.db") as conn:
        if found is None:
            conn.execute("DROP TABLE alembic_version")
        else:
            conn.execute("UPDATE alembic_version SET version_num=?", (found,))
    conn.close()
    before = (tmp_path / "lab.db").read_bytes()
    with pytest.raises(RecordsUnusable, match=said):
        open_records(tmp_path / "lab.db", clock=clock)
    assert (tmp_path / "lab.db").read_bytes() == before


def test_the_settings_that_durability_rests_on(tmp_path):
    with open_records(tmp_path / "lab.db", clock=clock) as records:
        for engine, mine in ((records._writer, True), (records._reader, False)):
            with engine.connect() as conn:
                ask = lambda name: conn.exec_driver_sql(f"PRAGMA {name}").scalar_one()  # noqa: E731
                assert ask("journal_mode") == "wal"
                assert (ask("foreign_keys"), ask("recursive_triggers"), ask("trusted_schema")) == (1, 1, 0)
                if mine:
                    assert (ask("synchronous"), ask("wal_autocheckpoint")) == (2, 1000)
                else:
                    assert ask("wal_autocheckpoint") == 0
                    with pytest.raises(Exception, match="readonly"):
                        conn.exec_driver_sql("DELETE FROM heads")


def test_a_second_writer_is_refused_and_readers_are_not(file):
    with open_records(file, clock=clock):
        with pytest.raises(RecordsBusy, match="Close that first"):
            open_records(file, clock=clock)
        open_records(file, mode="read", clock=clock).close()
    open_records(file, clock=clock).close()


def test_the_lock_ends_with_its_process(tmp_path):
    program = (
        "import sys; from datetime import UTC, datetime; from lodestarch.records.engine import open_records\n"
        "r = open_records(sys.argv[1], clock=lambda: datetime.now(UTC))\n"
        "print('open', flush=True); sys.stdin.read()"
    )
    holder = subprocess.Popen(
        [sys.executable, "-c", program, str(tmp_path / "lab.db")],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        assert holder.stdout.readline() == "open\n"
        with pytest.raises(RecordsBusy, match=f"process {holder.pid}"):
            open_records(tmp_path / "lab.db", clock=clock)
        open_records(tmp_path / "lab.db", mode="read", clock=clock).close()
    finally:
        holder.kill()
        holder.communicate()
    open_records(tmp_path / "lab.db", clock=Clock(START.replace(year=2099))).close()


def test_a_clock_set_back_is_refused_unless_a_note_says_why(tmp_path):
    with open_records(tmp_path / "lab.db", clock=clock) as records:
        before = START.replace(year=2025)
        with pytest.raises(ClockBehind, match="Set the clock"), records.unit("Ann", before):
            pass
        with records.unit("Ann", before, clock_note="the clock had been a year ahead"):
            pass
        with records.unit("Ann", before):
            pass
    assert REVISIONS[-1] == max(REVISIONS)
