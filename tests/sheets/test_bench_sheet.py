from __future__ import annotations

from datetime import datetime

import polars as pl
import pytest

from lodestarch.common.findings import Severity
from lodestarch.method.reading import CAUSES
from lodestarch.method.table import READINGS
from sheets.sheet_text import HEADER, assert_accounted, bench, codes


def test_a_full_row_arrives_in_every_column():
    sheet = bench(
        ",".join(HEADER)
        + "\n8814,S1,meal-14@1,am,A,2,T7,R3,287,13.5,6.80,1004.2,yes,JK,2031-08-14T09:30,hang-up\n"
    )
    assert sheet.frame.schema == pl.Schema(READINGS)
    assert sheet.findings == ()
    row = sheet.frame.to_dicts()[0]
    text = row.pop("row_text")
    assert row == {
        "row": 2,
        "sample": "S1",
        "ticket": "8814",
        "profile": "meal-14@1",
        "run": "am",
        "bath": "A",
        "position": "2",
        "tube_id": "T7",
        "stirrer_id": "R3",
        "seconds": 287.0,
        "kind": 0,
        "moisture_pct": 13.5,
        "mass_g": 6.80,
        "pressure_hpa": 1004.2,
        "corrected_by_instrument": True,
        "analyst": "JK",
        "run_at": datetime(2031, 8, 14, 9, 30),  # noqa: DTZ001 - clock time of the bench
        "set_aside_cause": "hang-up",
        "position_stated": True,
    }
    assert text.split("\x1f")[8:11] == ["287", "13.5", "6.80"]


def test_row_text_keeps_the_order_of_the_sheet_and_its_strange_columns():
    sheet = bench("seconds,note,sample\n287,odd smell,S1\n")
    assert sheet.frame["row_text"].to_list() == ["287\x1fodd smell\x1fS1"]
    assert codes(sheet) == [(1, "note", "sheet-column-unknown")]


def test_only_sample_and_seconds_are_needed():
    sheet = bench("sample,seconds\nS1,287\nS1,<=62\nS2,>400\n")
    assert sheet.frame["seconds"].to_list() == [287.0, 62.0, 400.0]
    assert sheet.frame["kind"].to_list() == [0, 1, 2]
    assert sheet.frame["run"].to_list() == ["1", "1", "1"]
    assert sheet.frame["position"].to_list() == ["1", "2", "1"]
    assert sheet.frame["position_stated"].to_list() == [False, False, False]


def test_an_empty_run_is_the_date_of_the_run():
    sheet = bench(
        "sample,seconds,run,run_at\nS1,287,,2031-08-14 09:30\nS1,290,pm,2031-08-14 15:00\nS1,291,,\n"
    )
    assert sheet.frame["run"].to_list() == ["2031-08-14", "pm", "1"]


def test_positions_count_refused_rows_so_that_mending_one_renumbers_nothing():
    before = bench("sample,seconds\nS1,287\nS1,2b7\nS1,290\n")
    after = bench("sample,seconds\nS1,287\nS1,277\nS1,290\n")
    assert before.frame["position"].to_list() == ["1", "3"]
    assert after.frame["position"].to_list() == ["1", "2", "3"]


def test_an_empty_position_beside_stated_ones_takes_the_lowest_free_number():
    sheet = bench("sample,seconds,position\nS1,287,\nS1,290,1\nS1,291,\nS1,292,3\n")
    assert sheet.frame["position"].to_list() == ["2", "1", "4", "3"]
    assert sheet.refused == ()


@pytest.mark.parametrize("text", ["-287", "6000", "29", "0", "\N{MINUS SIGN}287"])
def test_impossible_seconds_are_taken_as_they_stand(text):
    sheet = bench(f"sample,seconds\nS1,{text}\n")
    assert sheet.frame["seconds"].to_list() == [float(text.replace("\N{MINUS SIGN}", "-"))]
    assert sheet.findings == ()


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("", "row-no-seconds"),
        ("2b7", "row-seconds-unreadable"),
        ("28.7.1", "row-seconds-unreadable"),
        ("1e3", "row-seconds-unreadable"),
        ("nan", "row-seconds-unreadable"),
        ("inf", "row-seconds-unreadable"),
        ("<=-5", "row-seconds-unreadable"),
        ("287 290", "row-seconds-unreadable"),
        ("12345678901234567890", "row-seconds-unreadable"),
        ("=1+286", "row-seconds-unreadable"),
    ],
)
def test_seconds_that_are_no_number_refuse_the_row(text, code):
    sheet = bench(f"sample,seconds\nS1,{text}\nS2,287\n")
    assert codes(sheet) == [(2, "seconds", code)]
    assert [(r.row, r.text, r.code) for r in sheet.refused] == [(2, f"S1,{text}", code)]
    assert sheet.findings[0].severity is Severity.STOP
    assert_accounted(sheet, 2)


def test_a_row_without_sample_is_refused():
    sheet = bench("sample,seconds\n  ,287\n")
    assert codes(sheet) == [(2, "sample", "row-no-sample")]


@pytest.mark.parametrize(
    ("field", "text", "code"),
    [
        ("moisture_pct", "4O", "field-not-a-number"),
        ("moisture_pct", "70", "field-out-of-range"),
        ("mass_g", "70", "field-out-of-range"),
        ("pressure_hpa", "29.92", "field-out-of-range"),
        ("corrected_by_instrument", "perhaps", "field-not-yes-no"),
        ("run_at", "03/04/2031", "field-date-ambiguous"),
    ],
)
def test_an_optional_cell_that_cannot_be_read_is_emptied_and_the_row_taken(field, text, code):
    sheet = bench(f"sample,seconds,{field}\nS1,287,{text}\n")
    assert codes(sheet) == [(2, field, code)]
    assert sheet.findings[0].severity is Severity.CHECK
    assert sheet.findings[0].values["value"] == text
    assert sheet.findings[0].where.sample == "S1"
    assert sheet.frame[field].to_list() == [None]
    assert sheet.refused == ()


def test_legal_range_comes_from_the_nomenclature():
    sheet = bench("sample,seconds,moisture_pct\nS1,287,5\nS2,287,30\nS3,287,30.1\nS4,287,4.9\n")
    assert sheet.frame["moisture_pct"].to_list() == [5.0, 30.0, None, None]
    assert [f.values["low"] for f in sheet.findings] == [5.0, 5.0]


@pytest.mark.parametrize("cause", CAUSES)
def test_causes_of_the_pick_list_are_read_whatever_their_case(cause):
    sheet = bench(f"sample,seconds,set_aside_cause\nS1,287,{cause.upper().replace('-', ' ')}\n")
    assert sheet.frame["set_aside_cause"].to_list() == [cause]


def test_an_unknown_cause_refuses_the_row_so_that_the_reading_neither_counts_nor_vanishes():
    sheet = bench("sample,seconds,set_aside_cause\nS1,287,dropped it\nS1,290,\n")
    assert codes(sheet) == [(2, "set_aside_cause", "row-cause-unknown")]
    assert sheet.frame["seconds"].to_list() == [290.0]
    assert sheet.refused[0].text == "S1,287,dropped it"
    assert sheet.findings[0].values["choices"] == ", ".join(CAUSES)


def test_the_same_row_twice_counts_once():
    sheet = bench("sample,seconds,run,position\nS1,287,1,1\nS1,287,1,1\n")
    assert codes(sheet) == [(3, None, "row-twice")]
    assert sheet.findings[0].severity is Severity.NOTE
    assert sheet.findings[0].values == {"first_row": 2}
    assert_accounted(sheet, 2)


def test_another_row_under_the_same_key_is_refused_and_the_first_stays():
    sheet = bench("sample,seconds,run,position\nS1,287,1,1\nS1,290,1,1\nS1,290,1,2\n")
    assert codes(sheet) == [(3, None, "row-key-twice")]
    assert sheet.findings[0].severity is Severity.STOP
    assert sheet.frame["seconds"].to_list() == [287.0, 290.0]


def test_a_refused_row_does_not_claim_its_key():
    sheet = bench("sample,seconds,run,position\nS1,2b7,1,1\nS1,290,1,1\n")
    assert sheet.frame["seconds"].to_list() == [290.0]
    assert [r.code for r in sheet.refused] == ["row-seconds-unreadable"]


def test_two_equal_rows_without_position_are_two_tubes():
    sheet = bench("sample,seconds\nS1,<=62\nS1,<=62\n")
    assert sheet.frame["position"].to_list() == ["1", "2"]
    assert sheet.findings == ()


def test_all_faults_of_a_row_are_reported_at_once_in_the_order_of_columns():
    sheet = bench("moisture_pct,seconds,sample,mass_g\n4O,2b7,S1,70\n")
    assert [f.where.field for f in sheet.findings] == ["seconds", "moisture_pct", "mass_g"]
    assert sheet.refused[0].code == "row-seconds-unreadable"


def test_header_names_differ_in_case_blanks_and_hyphens():
    sheet = bench("Sample, SECONDS ,Moisture pct,mass-g\nS1,287,13.5,6.8\n")
    assert sheet.findings == ()
    assert sheet.frame["mass_g"].to_list() == [6.8]


def test_a_mapping_names_their_columns():
    sheet = bench("Lab no.;Hagberg\nS1;287\n", mapping={"lab no.": "sample", "HAGBERG": "seconds"})
    assert sheet.findings == ()
    assert sheet.frame["seconds"].to_list() == [287.0]


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("", "sheet-empty"),
        ("\n\n \n", "sheet-empty"),
        ("8814,287\n8814,290\n", "sheet-header-unknown"),
        ("sample,moisture_pct\nS1,13\n", "sheet-column-missing"),
        ("seconds\n287\n", "sheet-column-missing"),
    ],
)
def test_a_sheet_that_cannot_be_read_has_no_rows_and_a_stop(text, code):
    sheet = bench(text)
    assert [f.code for f in sheet.findings] == [code]
    assert sheet.findings[0].severity is Severity.STOP
    assert (sheet.rows, sheet.frame.height, sheet.refused) == (0, 0, ())
    assert sheet.frame.schema == pl.Schema(READINGS)


def test_a_sheet_with_column_names_alone_says_so():
    assert codes(bench("sample,seconds\n")) == [(None, None, "sheet-no-rows")]


def test_lines_above_the_header_are_counted():
    sheet = bench("Bench sheet\nof Friday\n\nsample,seconds\nS1,287\n")
    assert sheet.frame["row"].to_list() == [5]
    assert sheet.findings[0].code == "sheet-lines-above-header"
    assert sheet.findings[0].values == {"count": 2}


def test_a_column_that_stands_twice_is_read_where_its_copies_agree():
    sheet = bench("sample,seconds,mass_g,mass_g,seconds\nA,287,6.8,,\nB,,,6.8,290\nC,1,6.8,6.9,1\nD,1,,,2\n")
    assert sheet.frame["seconds"].to_list() == [287.0, 290.0, 1.0]
    assert sheet.frame["mass_g"].to_list() == [6.8, 6.8, None]
    assert [c for c in codes(sheet) if c[0] != 1] == [
        (4, "mass_g", "field-stated-twice"),
        (5, "seconds", "row-stated-twice"),
    ]
    assert_accounted(sheet, 4)


def test_our_own_quote_before_a_formula_is_taken_off():
    sheet = bench("sample,seconds,analyst\n'=A1,287,'-JK\n'S1,287,O'Hara\n")
    assert sheet.frame["sample"].to_list() == ["=A1", "'S1"]
    assert sheet.frame["analyst"].to_list() == ["-JK", "O'Hara"]


def test_reading_twice_gives_the_same():
    text = "sample,seconds,run_at\nS1,287,2031-08-14 09:30\nS1,2b7,\n"
    one, two = bench(text), bench(text)
    assert one.frame.equals(two.frame)
    assert (one.findings, one.refused, one.sha256) == (two.findings, two.refused, two.sha256)
