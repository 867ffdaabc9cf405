from __future__ import annotations

from datetime import date, datetime

import polars as pl
import pytest

from lodestarch.method.table import SAMPLES
from lodestarch.sheets.columns import KINDS
from lodestarch.sheets.sample_sheet import read_sample_sheet
from sheets.sheet_text import assert_accounted, codes


def read(text: str):
    return read_sample_sheet(text.encode(), "samples.csv")


def test_a_full_row_arrives_in_every_column():
    sheet = read(
        "ticket,sample,kind,material,grower,origin,variety,harvest_date,tonnes,bin,received_at,ground_mass_g,"
        "mill_id,ground_at,moisture_method,moisture_on,moisture_at\n"
        "8814,S1,load,wheat,Grower 12,North flat,Variety A,2031-08-13,28.4,3,2031-08-14 08:10,255,M1,"
        "2031-08-14T08:40,oven,grain,2031-08-14T08:30:30\n"
    )
    assert sheet.findings == ()
    assert sheet.frame.schema == pl.Schema(SAMPLES)
    row = sheet.frame.to_dicts()[0]
    assert row["harvest_date"] == date(2031, 8, 13)
    assert row["received_at"] == datetime(2031, 8, 14, 8, 10)  # noqa: DTZ001 - clock time of the bench
    assert (row["tonnes"], row["ground_mass_g"], row["bin"]) == (28.4, 255.0, "3")
    assert (row["kind"], row["moisture_on"]) == ("load", "grain")
    assert None not in row.values()


def test_only_the_sample_is_needed_and_an_empty_kind_stays_empty():
    sheet = read("sample\nS1\nS2\n")
    assert sheet.findings == ()
    assert sheet.frame["sample"].to_list() == ["S1", "S2"]
    assert sheet.frame["kind"].to_list() == [None, None]
    assert_accounted(sheet, 2)


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind(kind):
    assert read(f"sample,kind\nS1,{kind.title()}\n").frame["kind"].to_list() == [kind]


@pytest.mark.parametrize(
    ("field", "text", "code"),
    [
        ("kind", "truck", "field-not-in-list"),
        ("moisture_on", "flour", "field-not-in-list"),
        ("tonnes", "28,4 lb", "field-not-a-number"),
        ("tonnes", "0", "field-out-of-range"),
        ("ground_mass_g", "6000", "field-out-of-range"),
        ("harvest_date", "08/09/2031", "field-date-ambiguous"),
        ("ground_at", "08:30", "field-date-not-iso"),
    ],
)
def test_a_cell_that_cannot_be_read_is_emptied(field, text, code):
    sheet = read(f"sample;{field}\nS1;{text}\n")
    assert codes(sheet) == [(2, field, code)]
    assert sheet.frame[field].to_list() == [None]


def test_the_same_sample_twice():
    sheet = read("sample,tonnes\nS1,28.4\nS1,28.4\nS1,28.5\n")
    assert codes(sheet) == [(3, None, "row-twice"), (4, None, "row-sample-twice")]
    assert_accounted(sheet, 3)


def test_a_row_without_sample_is_refused():
    assert codes(read("sample,tonnes\n,28.4\n")) == [(2, "sample", "row-no-sample")]


def test_a_bench_sheet_is_not_a_sample_sheet_without_samples():
    assert [f.code for f in read("seconds,mass_g\n287,6.8\n").findings] == ["sheet-header-unknown"]
