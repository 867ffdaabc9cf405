from __future__ import annotations

from datetime import datetime

import polars as pl
import pytest

from lodestarch.sheets.cells import read_number, read_seconds
from lodestarch.sheets.moment import read_dates, read_moments
from lodestarch.sheets.sample_sheet import read_sample_sheet
from sheets.sheet_text import bench, codes


def number(text: str, name: str = "tonnes", marks: str = ".,"):
    values, troubles = read_number(name, pl.Series([text]), lambda: frozenset(marks))
    return values.to_list()[0], [t.code for t in troubles]


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("28.4", 28.4),
        ("28,4", 28.4),
        ("+28.4", 28.4),
        ("028.40", 28.4),
        ("28.4 t", 28.4),
        ("28.4t", 28.4),
        ("0.333333333333333", 0.333333333333333),
    ],
)
def test_numbers(text, value):
    assert number(text) == (value, [])


@pytest.mark.parametrize(
    "text",
    [
        "4O",
        "28.4.1",
        "1,234.5",
        "1e3",
        "nan",
        "inf",
        "28.4 kg",
        ".5",
        "13.",
        "--3",
        "٣",
        "²",
        "0x10",
        "1_000",
    ],
)
def test_what_is_no_number(text):
    assert number(text) == (None, ["field-not-a-number"])


def test_a_negative_number_is_read_and_then_out_of_range():
    assert number("-28.4") == (None, ["field-out-of-range"])
    assert number("\N{MINUS SIGN}28.4") == (None, ["field-out-of-range"])


@pytest.mark.parametrize(
    ("sheet", "expected"),
    [
        ('sample,tonnes,ground_mass_g\nA,28.4,"1,250"\n', None),
        ("sample;tonnes;ground_mass_g\nA;28,4;1,250\n", 1.25),
        ("sample;tonnes;ground_mass_g\nA;28,4;1.250\n", None),
        ("sample,tonnes,ground_mass_g\nA,28.4,1.250\n", 1.25),
        ("sample;tonnes;ground_mass_g\nA;28;1,250\n", 1.25),
        ("sample;tonnes;ground_mass_g\nA;28;1.250\n", None),
        ("sample\ttonnes\tground_mass_g\nA\t28\t1,250\n", None),
        ("sample\ttonnes\tground_mass_g\nA\t28\t1.250\n", 1.25),
        ("sample;tonnes;ground_mass_g\nA;28,4;1,250\nB;28.4;\n", None),
    ],
)
def test_a_thousands_mark_is_never_guessed(sheet, expected):
    read = read_sample_sheet(sheet.encode(), "s.csv")
    assert read.frame["ground_mass_g"].to_list()[0] == expected
    assert [f.code for f in read.findings] == ([] if expected else ["field-thousands-mark"])


def test_seconds_of_every_form():
    texts = ["287", "287.5", "287,5", "≤ 62", "<62", "=<62", ">400", "≥400", "287 s", "-287", " 287 ", "x"]
    seconds, kind, troubles = read_seconds(pl.Series(texts))
    assert seconds.to_list() == [287, 287.5, 287.5, 62, 62, 62, 400, 400, 287, -287, 287, None]
    assert kind.to_list() == [0, 0, 0, 1, 1, 1, 2, 2, 0, 0, 0, None]
    assert [t.index for t in troubles] == [11]


@pytest.mark.parametrize(
    ("text", "moment"),
    [
        ("2031-08-14", (2031, 8, 14)),
        ("2031-08-14 09:30", (2031, 8, 14, 9, 30)),
        ("2031-08-14T09:30", (2031, 8, 14, 9, 30)),
        ("2031-08-14T09:30:15", (2031, 8, 14, 9, 30, 15)),
        ("2031-08-14T09:30:15.25", (2031, 8, 14, 9, 30, 15, 250000)),
        ("2031-08-14 09:30:15,25", (2031, 8, 14, 9, 30, 15, 250000)),
        ("2031-08-14T09:30Z", (2031, 8, 14, 9, 30)),
        ("2031-08-14T09:30:15+02:00", (2031, 8, 14, 9, 30, 15)),
        ("2031-08-14 09:30 -0700", (2031, 8, 14, 9, 30)),
        ("2032-02-29", (2032, 2, 29)),
    ],
)
def test_moments_keep_the_clock_time_as_written(text, moment):
    values, troubles, _ = read_moments(pl.Series([text]))
    assert values.to_list() == [datetime(*moment)]  # noqa: DTZ001 - clock time of the bench
    assert troubles == []


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("03/04/2031", "field-date-ambiguous"),
        ("3.4.2031", "field-date-ambiguous"),
        ("03-04-31", "field-date-ambiguous"),
        ("03/04/2031 09:30", "field-date-ambiguous"),
        ("25.12.2031", "field-date-not-iso"),
        ("03/03/2031", "field-date-not-iso"),
        ("2031/08/14", "field-date-not-iso"),
        ("20310814", "field-date-not-iso"),
        ("48074", "field-date-not-iso"),
        ("14 Aug 2031", "field-date-not-iso"),
        ("2031-8-14", "field-date-not-iso"),
        ("2031-W33-4", "field-date-not-iso"),
        ("yesterday", "field-date-not-iso"),
        ("2031-02-30", "field-date-impossible"),
        ("2031-02-29", "field-date-impossible"),
        ("2031-13-01", "field-date-impossible"),
        ("2031-08-14T25:00", "field-date-impossible"),
        ("2031-08-14T24:00", "field-date-impossible"),
        ("2031-08-14T09:61", "field-date-impossible"),
        ("0031-08-14", "field-date-impossible"),
        ("9031-08-14", "field-date-impossible"),
    ],
)
def test_dates_are_never_guessed(text, code):
    values, troubles, _ = read_moments(pl.Series([text, "2031-08-14"]))
    assert values.is_null().to_list() == [True, False]
    assert [(t.index, t.code) for t in troubles] == [(0, code)]


def test_a_date_of_a_moment_is_its_date():
    values, troubles, _ = read_dates(pl.Series(["2031-08-14 23:59", None]))
    assert [str(v) for v in values] == ["2031-08-14", "None"]
    assert troubles == []


def test_zones_are_named_and_mixed_ones_are_a_check():
    head = "sample,seconds,run_at\n"
    one = bench(head + "S1,287,2031-08-14T09:30+02:00\nS2,287,2031-08-14T09:31+02:00\n")
    assert codes(one) == [(None, None, "sheet-times-zoned")]
    two = bench(head + "S1,287,2031-08-14T09:30+02:00\nS2,287,2031-08-14T09:31Z\n")
    assert codes(two) == [(None, None, "sheet-zones-mixed")]
    assert two.findings[0].values == {"zones": "+02:00, Z"}
    three = bench(head + "S1,287,2031-08-14T09:30+02:00\nS2,287,2031-08-14T09:31\n")
    assert codes(three) == [(None, None, "sheet-zones-mixed")]
    assert "+02:00" in three.frame["row_text"].to_list()[0]


@pytest.mark.parametrize(
    ("text", "value"),
    [("yes", True), ("Y", True), ("TRUE", True), ("1", True), ("no", False), ("0", False), ("F", None)],
)
def test_yes_and_no(text, value):
    sheet = bench(f"sample,seconds,corrected_by_instrument\nS1,287,{text}\n")
    assert sheet.frame["corrected_by_instrument"].to_list() == [value]
    assert len(sheet.findings) == (value is None)
