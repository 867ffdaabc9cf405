"""What goes wrong under the records: each time a clear message, and everything left as it was."""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pytest

from lodestarch.common.errors import RecordsUnusable
from lodestarch.records.backup import backup
from lodestarch.records.conflict import KeyTaken, RefersNowhere
from lodestarch.records.engine import open_records, verify_at
from lodestarch.records.tables import Bin, Load
from records.harvest import START, Clock, day

clock = Clock()


def head(records):
    with records.view() as view:
        return view.head()


def store(records, parts):
    with records.unit("Ann Example", START) as unit:
        return unit.store_day(parts)


def test_no_room_in_the_file(file):
    with open_records(file, clock=clock) as records:
        store(records, day(20))
        before = head(records)
        with records._writer.connect() as conn:
            pages = conn.exec_driver_sql("PRAGMA page_count").scalar_one()
            conn.exec_driver_sql(f"PRAGMA max_page_count={pages + 4}")
        with pytest.raises(RecordsUnusable, match="full; nothing was written"):
            store(records, day(2000, first_sample=20000, sheet="b"))
        assert head(records) == before
        with records._writer.connect() as conn:
            conn.exec_driver_sql("PRAGMA max_page_count=1073741823")
        assert store(records, day(2000, first_sample=20000, sheet="b")).new
    assert verify_at(file).holds


@pytest.fixture
def small_disk(tmp_path):
    """A disk of two megabytes; without the right to mount one, a limit on the file's size stands in."""
    folder = tmp_path / "disk"
    folder.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=2m", "none", str(folder)], check=False, capture_output=True
    )
    yield folder, mounted.returncode == 0
    if mounted.returncode == 0:
        subprocess.run(["umount", "-l", str(folder)], check=True)


STORE_MUCH = """
import resource, signal, sys
sys.path.insert(0, {tests!r})
from records.harvest import START, Clock, day
from lodestarch.common.errors import RecordsUnusable
from lodestarch.records.engine import open_records
if {limit}:
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, ({limit}, {limit}))
with open_records(sys.argv[1], clock=Clock()) as records:
    with records.unit("Ann Example", START) as unit:
        unit.store_day(day(20))
    try:
        with records.unit("Ann Example", START) as unit:
            unit.store_day(day(8000, first_sample=20000, sheet="b"))
    except RecordsUnusable as told:
        print(told)
    else:
        print("nothing happened")
    with records.view() as view:
        print(len(view.list_days()))
"""


def test_a_full_disk(small_disk, blank_file):
    folder, is_disk = small_disk
    path = Path(shutil.copy(blank_file, folder / "lab.db"))
    program = STORE_MUCH.format(tests=str(Path(__file__).parents[1]), limit=0 if is_disk else 2_000_000)
    done = subprocess.run(
        [sys.executable, "-c", program, str(path)], check=True, capture_output=True, text=True
    )
    told, days = done.stdout.strip().splitlines()
    assert "nothing happened" not in told
    assert ("full; nothing was written" in told) or not is_disk
    assert days == "1"
    assert verify_at(path).holds


def test_a_backup_onto_a_full_disk_leaves_nothing_half_done(small_disk, file):
    folder, is_disk = small_disk
    with open_records(file, clock=clock) as records:
        store(records, day(6000))
    if not is_disk:
        folder = Path("/dev/full")  # the nearest thing: a place that takes nothing
    with pytest.raises(RecordsUnusable, match=r"room|full|cannot be written"):
        backup(file, folder, clock=clock)
    if is_disk:
        assert list(folder.iterdir()) == []
    assert verify_at(file).holds


READ_ONLY = """
import os, sys
sys.path.insert(0, {tests!r})
from records.harvest import START, Clock, day
from lodestarch.common.errors import RecordsUnusable
from lodestarch.records.engine import open_records, verify_at
from lodestarch.common.canonical import digest
verify_at({warm!r}), digest({{"all": 1}})  # everything is loaded before the rights are given up
if os.geteuid() == 0:
    os.setgid(65534)
    os.setuid(65534)
try:
    open_records(sys.argv[1], clock=Clock())
    print("opened")
except RecordsUnusable as told:
    print(told)
with open_records(sys.argv[1], mode="read", clock=Clock()) as records, records.view() as view:
    print(len(view.list_days()), verify_at(sys.argv[1]).holds)
"""


@pytest.fixture
def open_folder():
    """A folder that an account without rights can reach, which those of the test runner's may not be."""
    with tempfile.TemporaryDirectory() as name:
        Path(name).chmod(0o755)
        yield Path(name)


def test_a_folder_that_cannot_be_written(open_folder, blank_file):
    folder = open_folder
    path = Path(shutil.copy(blank_file, folder / "lab.db"))
    with open_records(path, clock=clock) as records:
        store(records, day(20))
    (folder / "lab.db-writer").unlink()
    before = {p.name: p.read_bytes() for p in folder.iterdir()}
    path.chmod(0o444)
    folder.chmod(0o555)
    try:
        program = READ_ONLY.format(tests=str(Path(__file__).parents[1]), warm=str(blank_file))
        done = subprocess.run(
            [sys.executable, "-c", program, str(path)], check=False, capture_output=True, text=True
        )
    finally:
        folder.chmod(0o755)
    assert done.returncode == 0, done.stderr
    told, read = done.stdout.strip().splitlines()
    assert "cannot be written" in told
    assert "reading only" in told
    assert read == "1 True"
    assert {p.name: p.read_bytes() for p in folder.iterdir()} == before


def test_a_damaged_page_is_named_and_left(file):
    with open_records(file, clock=clock) as records:
        store(records, day(2000))
    data = bytearray(file.read_bytes())
    size = int.from_bytes(data[16:18], "big")
    middle = len(data) // size // 2
    data[middle * size : (middle + 1) * size] = b"\x5a" * size
    file.write_bytes(bytes(data))
    said = []
    try:
        said += [f.code for f in verify_at(file).findings]
    except RecordsUnusable as told:
        said.append(str(told))
        assert "damaged" in said[-1]
        assert "restore the last backup" in said[-1]
    assert said
    assert file.read_bytes() == bytes(data)


@pytest.mark.parametrize("zone", ["Pacific/Kiritimati", "America/St_Johns", "Asia/Kathmandu"])
def test_zone_and_locale_change_nothing(file, zone, monkeypatch):
    with open_records(file, clock=clock) as records:
        before = store(records, day(20))
        monkeypatch.setenv("TZ", zone)
        monkeypatch.setenv("LC_ALL", "tr_TR.UTF-8")
        time.tzset()
        try:
            assert not store(records, day(20)).new
            with records.view() as view:
                kept = view.load_day(before.day_id).parts
            assert kept.read_at == START
            assert kept.readings.equals(day(20).readings)
            assert verify_at(file).holds
        finally:
            monkeypatch.undo()
            time.tzset()


def test_a_key_that_is_taken_and_one_that_leads_nowhere(records):
    def add(*rows):
        with records.unit("Ann Example", START) as unit:
            for row in rows:
                unit.add(row)

    add(Bin(key="4", name="bin four"))
    before = head(records)
    with pytest.raises(KeyTaken, match="4 in bins"):
        add(Bin(key="5", name="bin five"), Bin(key="4", name="another"))
    with pytest.raises(RefersNowhere, match="loads T-1"):
        add(Load(key="T-1", received_at=START.isoformat(), bin="9"))
    assert head(records) == before
    assert records.verify().holds
