from __future__ import annotations

import io

import openpyxl
import pytest

from lodestarch.common.errors import OutOfRange
from lodestarch.method.reading import CAUSES
from lodestarch.sheets.bench_sheet import read_bench_sheet
from lodestarch.sheets.mapping import read_mapping
from lodestarch.sheets.safe_cells import csv_bytes, safe_cell, safe_text
from lodestarch.sheets.sample_sheet import read_sample_sheet
from lodestarch.sheets.templates import (
    bench_sheet_csv,
    bench_sheet_xlsx,
    mapping_toml,
    sample_sheet_csv,
    sample_sheet_xlsx,
)

DESIGN_BENCH = (
    b"ticket,sample,profile,run,bath,position,tube_id,stirrer_id,seconds,moisture_pct,mass_g,pressure_hpa,"
    b"corrected_by_instrument,analyst,run_at,set_aside_cause\r\n"
)
DESIGN_SAMPLES = (
    b"ticket,sample,kind,material,grower,origin,variety,harvest_date,tonnes,bin,received_at,ground_mass_g,mill_id,"
    b"ground_at,moisture_method,moisture_on,moisture_at\r\n"
)


def test_blank_csv_sheets_have_the_columns_of_the_design():
    assert bench_sheet_csv() == DESIGN_BENCH
    assert sample_sheet_csv() == DESIGN_SAMPLES


@pytest.mark.parametrize("data", [bench_sheet_csv(), bench_sheet_xlsx()])
def test_a_blank_bench_sheet_reads_back_as_blank(data):
    assert [f.code for f in read_bench_sheet(data, "blank").findings] == ["sheet-no-rows"]


@pytest.mark.parametrize("data", [sample_sheet_csv(), sample_sheet_xlsx()])
def test_a_blank_sample_sheet_reads_back_as_blank(data):
    assert [f.code for f in read_sample_sheet(data, "blank").findings] == ["sheet-no-rows"]


def test_a_filled_workbook_reads_back():
    book = openpyxl.load_workbook(io.BytesIO(bench_sheet_xlsx()))
    sheet = book["bench"]
    place = {c.value: c.column_letter for c in sheet[1]}
    for row, (sample, seconds) in enumerate([("0814", 287), ("0815", "<=62")], 2):
        sheet[f"{place['sample']}{row}"] = sample
        sheet[f"{place['seconds']}{row}"] = seconds
    picks = {v.formula1 for v in sheet.data_validations.dataValidation}
    assert picks == {f'"{",".join(CAUSES)}"', '"yes,no"'}
    out = io.BytesIO()
    book.save(out)
    read = read_bench_sheet(out.getvalue(), "day.xlsx")
    assert read.findings == ()
    assert read.frame["sample"].to_list() == ["0814", "0815"]


def test_the_blank_mapping_is_readable_and_says_nothing():
    mapping = read_mapping(mapping_toml(), "map.toml")
    assert (dict(mapping.columns), mapping.findings) == ({}, ())
    filled = mapping_toml().replace(b'# "', b'"')
    assert read_mapping(filled, "map.toml").columns == {
        "lab_no.": "sample",
        "hagberg": "seconds",
        "water": "moisture_pct",
    }


@pytest.mark.parametrize("lead", ["=", "+", "-", "@", "\t", "\r", "\n", "\x00", "'="])
def test_text_that_a_spreadsheet_would_run_gets_a_quote(lead):
    assert safe_text(f"{lead}cmd") == f"'{lead}cmd"


@pytest.mark.parametrize("text", ["8814", "O'Hara", "a=b", "", "'quoted'", "≤ 62"])
def test_other_text_stays_as_it_is(text):
    assert safe_text(text) == text


def test_numbers_stay_numbers():
    assert safe_cell(-287) == -287
    assert csv_bytes(["a", "b"], [[-1.5, None], [True, "-x"]]) == b"a,b\r\n-1.5,\r\nyes,'-x\r\n"
    with pytest.raises(OutOfRange):
        safe_cell(float("nan"))


@pytest.mark.parametrize("text", ["=1+1", "-12A", "@x", "+4", "'=1+1", "''-2", "O'Hara", "'ok'"])
def test_what_we_write_we_read_back(text):
    data = csv_bytes(["sample", "seconds"], [[text, 287]])
    assert read_bench_sheet(data, "x").frame["sample"].to_list() == [text]
