from __future__ import annotations

from dataclasses import replace

import polars as pl
import pytest

from lodestarch.common.errors import ProfileInUse, RecordsUnusable, UnknownName
from lodestarch.records.engine import open_records, verify_at
from records.harvest import START, day


def assert_same(kept, parts):
    for name in ("readings", "samples", "results"):
        assert getattr(kept, name).equals(getattr(parts, name)), name
    assert kept == replace(parts, readings=kept.readings, samples=kept.samples, results=kept.results)


def test_a_day_comes_out_as_it_went_in(records, store):
    parts = day(120)
    stored = store(parts)
    assert (stored.new, stored.added, stored.already_known, stored.changed.height) == (True, 120, 0, 0)
    with records.view() as view:
        assert_same(view.load_day(stored.day_id).parts, parts)
        (line,) = view.list_days()
    assert (line.day_id, line.title, line.read_at) == (stored.day_id, "14 July", START)


def test_the_same_sheet_again_writes_nothing(records, store):
    first = store(day())
    with records.view() as view:
        head = view.head()
    again = store(day())
    assert (again.day_id, again.new, again.added, again.already_known) == (first.day_id, False, 0, 60)
    with records.view() as view:
        assert view.head() == head


def test_a_longer_sheet_lists_known_rows_again_and_adds_the_others(records, store):
    store(day(40))
    longer = day(60, sheet="b")
    # The generator draws anew for a longer day: the first forty rows are those of the first sheet.
    rows = pl.concat([day(40).readings, longer.readings.slice(40)])
    stored = store(replace(longer, readings=rows))
    assert (stored.added, stored.already_known) == (20, 40)
    with records.view() as view:
        assert_same(view.load_day(stored.day_id).parts, replace(longer, readings=rows))


def changed_day():
    parts = day(60, sheet="b")
    rows = parts.readings.with_columns(
        row_text=pl.when(pl.col("row") == 7).then(pl.lit("8002\x1f2\x1f301\x1fAnn")).otherwise("row_text"),
        seconds=pl.when(pl.col("row") == 7).then(301.0).otherwise("seconds"),
    )
    return replace(parts, readings=rows)


def test_a_changed_row_is_reported_and_what_is_kept_stands(records, store):
    first = day()
    store(first)
    parts = changed_day()
    stored = store(parts)
    assert stored.changed.select("row", "sample", "position").rows() == [(7, "8002", "2")]
    assert stored.changed["kept_text"][0] == first.readings.filter(row=7)["row_text"][0]
    assert stored.changed["offered_text"][0].split("\x1f")[2] == "301"
    with records.view() as view:
        assert_same(view.load_day(stored.day_id).parts, parts)
        known = view.known_rows(parts.readings)
    assert known.height == 60
    assert known.filter(sample="8002", position="2")["row_text"][0] == stored.changed["kept_text"][0]


def test_a_changed_row_is_taken_with_a_reason_and_the_earlier_one_is_kept(records, store):
    first = store(day())
    store(changed_day())
    taken = store(changed_day(), take_changes="typing slip, see the instrument's own record")
    assert (taken.new, taken.superseded, taken.already_known, taken.changed.height) == (True, 1, 59, 0)
    with records.view() as view:
        known = view.known_rows(day().readings).filter(sample="8002", position="2")
        assert known["row_text"][0].split("\x1f")[2] == "301"
        assert known["day_id"][0] == taken.day_id
        assert_same(view.load_day(first.day_id).parts, day())
    again = store(changed_day(), take_changes="typing slip")
    assert not again.new


def test_a_key_twice_in_one_sheet_loses_no_row(records, store):
    parts = day(4)
    twice = pl.concat(
        [
            parts.readings,
            parts.readings.slice(1, 1).with_columns(row=pl.lit(9, pl.Int64), row_text=pl.lit("other")),
        ]
    )
    stored = store(replace(parts, readings=twice))
    assert (stored.added, stored.changed["row"].to_list()) == (4, [9])
    with records.view() as view:
        assert_same(view.load_day(stored.day_id).parts, replace(parts, readings=twice))


def test_find_by_ticket_and_by_sample(records, store):
    store(day())
    with records.view() as view:
        assert [(f.sample, f.ticket, f.has_result) for f in view.find("8003")] == [("8003", "T-8003", True)]
        assert [f.sample for f in view.find("T-8003")] == ["8003"]
        assert view.find("nothing") == []


def test_a_failure_inside_a_unit_leaves_everything_as_it_was(records, store):
    store(day(20))
    with records.view() as view:
        head = view.head()

    def fail_half_way():
        with records.unit("Ann Example", START) as unit:
            unit.store_day(day(20, first_sample=9000, sheet="c"))
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        fail_half_way()
    with records.view() as view:
        assert view.head() == head
        assert len(view.list_days()) == 1


def test_profiles_are_kept_and_never_changed(records, store):
    with records.unit("Ann Example", START) as unit:
        unit.save_profile("ours", "1", {"base_mass_g": 7.0})
        unit.save_profile("ours", "1", {"base_mass_g": 7.0})
        unit.save_signoff("ours", "1", {"field": "floor_s", "standard": "our copy, page 4"})
    with records.unit("Ann Example", START) as unit, pytest.raises(ProfileInUse, match="new version"):
        unit.save_profile("ours", "1", {"base_mass_g": 7.5})
    with records.view() as view:
        assert [(p.id, p.version, p.document) for p in view.profiles()] == [
            ("ours", "1", {"base_mass_g": 7.0})
        ]
        assert view.signoffs("ours") == [{"field": "floor_s", "standard": "our copy, page 4"}]


def test_a_reader_sees_what_is_written_and_changes_nothing(records, store, address, clock):
    store(day(4))
    with open_records(address, mode="read", clock=clock) as reader:
        with reader.view() as view:
            assert len(view.list_days()) == 1
        with pytest.raises(RecordsUnusable, match="reading only"), reader.unit("Ann Example", START):
            pass


def test_an_unknown_day_names_those_there_are(records, store):
    stored = store(day(4))
    with records.view() as view, pytest.raises(UnknownName, match=stored.day_id):
        view.load_day("2020-01-01-1")


def test_a_nul_in_a_row_is_kept_as_its_sign(records, store, address):
    parts = day(4)
    nul = parts.readings.with_columns(row_text=pl.col("row_text") + "\x00")
    stored = store(replace(parts, readings=nul))
    assert not store(replace(parts, readings=nul)).new
    with records.view() as view:
        assert set(view.load_day(stored.day_id).parts.readings["row_text"].str.slice(-1)) == {"␀"}
    assert verify_at(address).holds
