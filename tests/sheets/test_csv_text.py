from __future__ import annotations

import pytest

from lodestarch.sheets.grid import LONGEST_ROW
from sheets.sheet_text import assert_accounted, bench, codes, count_rows


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("quote", ["", '"'])
def test_delimiter_and_line_end_and_quotes_make_no_difference(delimiter, end, quote):
    rows = [["sample", "seconds", "analyst"], ["S1", "287", "J K"], ["S2", "<=62", ""]]
    text = "".join(delimiter.join(f"{quote}{f}{quote}" for f in r) + end for r in rows)
    sheet = bench(text)
    assert sheet.findings == ()
    assert sheet.frame["row_text"].to_list() == ["S1\x1f287\x1fJ K", "S2\x1f<=62\x1f"]
    assert sheet.frame["analyst"].to_list() == ["J K", None]


def test_a_quoted_field_holds_delimiters_quotes_and_line_ends():
    sheet = bench('sample,seconds,analyst\nS1,287,"Kay, ""J""\nbench 2"\nS2,290,\n')
    assert sheet.frame["analyst"].to_list() == ['Kay, "J"\nbench 2', None]
    assert sheet.frame["row"].to_list() == [2, 3]


def test_both_ways_of_reading_give_the_same_grid():
    plain = "sample,seconds,note\n S1 ,287,\nS2,2b7,x\n\nS3,1\nS4,1,2,3\nS5,1,,,\n,,\nS6,400"
    quoted = plain.replace("note", '"note"')
    one, two = bench(plain), bench(quoted)
    assert one.frame.equals(two.frame)
    assert (one.findings, one.refused, one.rows) == (two.findings, two.refused, two.rows)


def test_decimal_comma():
    sheet = bench("sample;seconds;moisture_pct;mass_g\nS1;287,5;13,5;6,80\n")
    assert sheet.frame.select("seconds", "moisture_pct", "mass_g").row(0) == (287.5, 13.5, 6.8)


def test_more_fields_than_columns_refuse_the_row():
    sheet = bench("sample,seconds,moisture_pct\nS1,287,13,5\nS2,287,13.5\n")
    assert codes(sheet) == [(2, None, "row-too-many-fields")]
    assert sheet.findings[0].values == {"fields": 4, "columns": 3}
    assert sheet.refused[0].text == "S1,287,13,5"


def test_blank_fields_beyond_the_header_are_nothing():
    sheet = bench("sample,seconds\nS1,287,,,\n")
    assert sheet.findings == ()
    assert sheet.frame["row_text"].to_list() == ["S1\x1f287"]


def test_a_short_row_is_taken_with_a_finding():
    sheet = bench("sample,seconds,moisture_pct\nS1,287\nS2,290,13\n")
    assert codes(sheet) == [(2, None, "row-short")]
    assert sheet.frame["moisture_pct"].to_list() == [None, 13.0]


def test_a_short_last_row_without_line_end_is_cut_off():
    sheet = bench("sample,seconds,moisture_pct\nS1,287,13\nS2,29")
    assert codes(sheet) == [(3, None, "row-cut-off")]
    assert sheet.frame.height == 1
    assert bench("sample,seconds,moisture_pct\nS1,287,13\nS2,290,13").findings == ()


def test_blank_lines_count_in_the_numbering_and_not_as_rows():
    sheet = bench("sample,seconds\n\nS1,287\n , \n,\nS2,290\n\n")
    assert sheet.frame["row"].to_list() == [3, 6]
    assert_accounted(sheet, 2)


def test_an_open_quotation_mark_costs_its_own_row_only():
    text = 'sample,seconds,analyst\nS1,287,"JK\nS2,290,AB\nS3,291,"CD"\n'
    sheet = bench(text)
    assert codes(sheet) == [(2, None, "row-quote-open")]
    assert sheet.frame["seconds"].to_list() == [290.0, 291.0]
    assert_accounted(sheet, count_rows(text, ","))


def test_a_stray_quotation_mark_costs_its_own_row_only():
    text = 'sample,seconds,analyst\nS1,287,"JK" jr\nS2,290,AB\n'
    sheet = bench(text)
    assert codes(sheet) == [(2, None, "row-quote-stray")]
    assert sheet.frame["seconds"].to_list() == [290.0]
    assert_accounted(sheet, count_rows(text, ","))


def test_an_inch_mark_inside_a_bare_field_is_text():
    sheet = bench('sample,seconds,tube_id\nS1,287,5" tube\n')
    assert sheet.frame["tube_id"].to_list() == ['5" tube']


def test_a_quotation_mark_that_closes_far_below_counts_as_open():
    text = 'sample,seconds,analyst\nS1,287,"\n' + "S2,290,AB\n" * 60 + 'S3,291,"\n'
    sheet = bench(text)
    assert sheet.refused[0].code == "row-quote-open"
    assert_accounted(sheet, count_rows(text, ","))


def test_ten_megabytes_on_a_line_refuse_that_row():
    long = "x" * 10_000_000
    for text in (
        f"sample,seconds,analyst\nS1,287,{long}\nS2,290,AB\n",
        f'sample,seconds,analyst\nS1,287,"{long}"\nS2,290,AB\n',
        f'sample,seconds,analyst\nS1,287,"{long}\nS2,290,AB\n',
        f"sample,seconds,analyst\nS1,287,{',' * 10_000_000}x\nS2,290,AB\n",
    ):
        sheet = bench(text)
        assert sheet.frame["sample"].to_list() == ["S2"]
        assert sheet.refused[0].code == "row-too-long"
        assert sheet.findings[0].values["limit"] == LONGEST_ROW
        assert_accounted(sheet, 2)


def test_a_cell_too_long_for_a_name_is_emptied_and_a_key_too_long_refuses():
    long = "x" * 201
    sheet = bench(f"sample,seconds,analyst\nS1,287,{long}\n{long},290,\n")
    assert codes(sheet) == [(2, "analyst", "field-too-long"), (3, "sample", "row-key-too-long")]
    assert sheet.frame["analyst"].to_list() == [None]


def test_an_empty_column_without_a_name_is_nobodys():
    assert bench("sample,seconds,\nS1,287,\n").findings == ()
    assert codes(bench("sample,seconds,\nS1,287,x\n")) == [(1, "(3)", "sheet-column-unknown")]
