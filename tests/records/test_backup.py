from __future__ import annotations

import json
import threading

import pytest

from lodestarch.common.errors import RecordsUnusable
from lodestarch.records.backup import RestoreRefused, backup, list_backups, restore
from lodestarch.records.engine import open_records, verify_at
from records.harvest import START, Clock, day
from records.house import fill


@pytest.fixture
def filled(address, clock):
    with open_records(address, clock=clock) as records:
        fill(records, clock)
    return address


def whole(address):
    """Every row of every table that counts, as one value."""
    from lodestarch.records.tables import OUTSIDE, Base

    with open_records(address, mode="read", clock=Clock()) as records, records._reader.connect() as conn:
        return {
            t.name: sorted((tuple(row) for row in conn.execute(t.select())), key=repr)
            for t in Base.metadata.sorted_tables
            if t.name not in OUTSIDE
        }


def test_a_backup_is_restored_as_it_was(filled, tmp_path, clock):
    done = backup(filled, tmp_path / "backups", clock=clock)
    assert [p.name for p in sorted((tmp_path / "backups").iterdir())] == [
        done.path.with_suffix(s).name for s in (".db", ".json")
    ]
    with open_records(filled, mode="read", clock=clock) as records, records.view() as view:
        assert done.heads == {"lab": view.head()}
    assert restore(done.path, tmp_path / "again.db").holds
    assert whole(tmp_path / "again.db") == whole(filled)
    with (
        open_records(tmp_path / "again.db", clock=clock) as records,
        records.unit("Ann Example", clock()) as unit,
    ):
        assert unit.store_day(day(4, first_sample=9900, sheet="z")).new
    assert verify_at(tmp_path / "again.db", known_heads=done.heads).holds


def test_a_backup_goes_back_onto_a_server(filled, tmp_path, clock, server):
    done = backup(filled, tmp_path, clock=clock)
    target = server.fresh()
    assert restore(done.path, target).holds
    assert whole(target) == whole(filled)
    with pytest.raises(RecordsUnusable, match="already"):
        restore(done.path, target)
    with open_records(target, clock=clock) as records, records.unit("Ann Example", clock()) as unit:
        assert unit.store_day(day(4, first_sample=9900, sheet="z")).new
    assert verify_at(target, known_heads=done.heads).holds


def test_a_backup_while_others_write(file, tmp_path, clock):
    with open_records(file, clock=clock) as records:
        stop = threading.Event()

        def keep_storing():
            n = 0
            while not stop.is_set():
                with records.unit("Ann Example", START) as unit:
                    unit.store_day(day(20, first_sample=8000 + 100 * n, sheet=f"{n:04}"))
                n += 1

        writer = threading.Thread(target=keep_storing)
        writer.start()
        try:
            backups = [backup(file, tmp_path / "b", clock=clock) for _ in range(4)]
        finally:
            stop.set()
            writer.join()
    heads = [b.heads["lab"][0] for b in backups]
    assert heads == sorted(heads)
    assert heads[-1] > heads[0]
    for one in backups:
        assert verify_at(one.path).holds
        assert verify_at(file, known_heads=one.heads).holds


def test_only_so_many_are_kept_and_the_newest_stay(file, tmp_path, clock):
    (tmp_path / "b").mkdir()
    (tmp_path / "b" / "lab-not-ours.db").write_text("somebody's")
    done = []
    for _ in range(4):
        done.append(backup(file, tmp_path / "b", clock=clock, keep=2))
        clock.move(hours=1)
    assert [b.path for b in list_backups(tmp_path / "b")] == [done[3].path, done[2].path]
    assert (tmp_path / "b" / "lab-not-ours.db").read_text() == "somebody's"


def damaged(source, target, change):
    data = bytearray(source.read_bytes())
    change(data)
    target.write_bytes(bytes(data))
    return target


def test_a_damaged_backup_is_refused_and_says_where(file, tmp_path, clock):
    with open_records(file, clock=clock) as records:
        fill(records, clock)
    good = backup(file, tmp_path / "b", clock=clock).path
    assert good.stat().st_size > 40 * 4096

    def one_bit(data):
        place = data.rindex(b"result.superseded")
        data[place] ^= 1

    def page_gone(data):
        data[4096 * 5 : 4096 * 6] = bytes(4096)

    for name, change, said in (
        ("bit", one_bit, "log-"),
        ("page", page_gone, r"page|malformed|tree|log-|rows"),
        ("short", lambda data: data.__delitem__(slice(len(data) // 2, None)), r"malformed|page|size"),
        ("head", lambda data: data.__setitem__(slice(0, 16), bytes(16)), "not a database|not records"),
    ):
        bad = damaged(good, tmp_path / f"{name}.db", change)
        with pytest.raises(RecordsUnusable, match=said) as told:
            restore(bad, tmp_path / "target.db")
        assert "backup" in str(told.value)
        assert not (tmp_path / "target.db").exists()
    bad = damaged(good, good, one_bit)
    with pytest.raises(RestoreRefused, match="log-"):
        restore(bad, tmp_path / "target.db")


def test_a_manifest_that_does_not_agree_is_refused(file, tmp_path, clock):
    good = backup(file, tmp_path / "b", clock=clock).path
    manifest = good.with_suffix(".json")
    told = json.loads(manifest.read_text())
    manifest.write_text(json.dumps({**told, "sha256": "0" * 64}))
    with pytest.raises(RestoreRefused, match="manifest"):
        restore(good, tmp_path / "target.db")


def test_nothing_is_restored_over_what_is_there(file, tmp_path, clock):
    good = backup(file, tmp_path / "b", clock=clock).path
    before = file.read_bytes()
    with pytest.raises(RecordsUnusable, match="already"):
        restore(good, file)
    assert file.read_bytes() == before
    with pytest.raises(RecordsUnusable, match="no file"):
        restore(tmp_path / "nothing.db", tmp_path / "target.db")
