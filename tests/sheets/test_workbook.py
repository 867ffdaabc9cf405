from __future__ import annotations

import io
import re
import zipfile
from datetime import date, datetime

import openpyxl
import pytest

from lodestarch.sheets import workbook as module
from lodestarch.sheets.bench_sheet import read_bench_sheet
from sheets.sheet_text import assert_accounted, codes, workbook


def read(data: bytes):
    return read_bench_sheet(data, "day.xlsx")


def edited(data: bytes, change) -> bytes:
    """The package with its parts changed by ``change(name, bytes)``; ``None`` drops a part."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for part in old.namelist():
            body = change(part, old.read(part))
            if body is not None:
                new.writestr(part, body)
    return out.getvalue()


def test_a_workbook_reads_like_its_csv():
    book = read(
        workbook(
            [
                ["Sample", "Seconds", "moisture pct", "mass_g", "run_at", "corrected_by_instrument"],
                ["S1", 287, 13.5, 6.8, datetime(2031, 8, 14, 9, 30), True],  # noqa: DTZ001 - clock time
                [8815, "<=62", 0.1 + 12.2, "6,80", date(2031, 8, 14), "no"],
                [None, None],
                ["S3", 300.25],
            ]
        )
    )
    csv = read_bench_sheet(
        b"Sample,Seconds,moisture pct,mass_g,run_at,corrected_by_instrument\n"
        b"S1,287,13.5,6.8,2031-08-14T09:30:00,true\n"
        b'8815,<=62,12.3,"6,80",2031-08-14,no\n\nS3,300.25,,,,\n',
        "day.csv",
    )
    assert book.findings == ()
    assert book.frame.equals(csv.frame)


def test_the_kind_of_file_is_told_by_content_and_not_by_name():
    assert read_bench_sheet(workbook([["sample", "seconds"], ["S1", 287]]), "day.csv").frame.height == 1
    assert read_bench_sheet(b"sample,seconds\nS1,287\n", "day.xlsx").frame.height == 1


def with_values(cells: dict[str, str]) -> bytes:
    """A workbook whose formula cells hold calculated values, as a spreadsheet would save them."""
    data = workbook([["sample", "seconds", "moisture_pct"], ["S1", "=280+7", "=12+1"], ["S2", 290, 13]])

    def change(part: str, body: bytes) -> bytes:
        if part == "xl/worksheets/sheet1.xml":
            for place, value in cells.items():
                body = re.sub(
                    rf'(<c r="{place}"[^>]*><f>[^<]*</f>)<v ?/?>(?:</v>)?'.encode(),
                    rf"\g<1><v>{value}</v>".encode(),
                    body,
                )
        return body

    return edited(data, change)


def test_a_formula_with_a_value_is_taken_with_a_finding():
    sheet = read(with_values({"B2": "287", "C2": "13"}))
    assert codes(sheet) == [(2, "seconds", "field-formula"), (2, "moisture_pct", "field-formula")]
    assert sheet.findings[0].values == {"value": "=280+7"}
    assert sheet.frame["seconds"].to_list() == [287.0, 290.0]
    assert sheet.frame["moisture_pct"].to_list() == [13.0, 13.0]


def test_a_formula_without_a_value_refuses_its_row():
    sheet = read(with_values({"B2": "287"}))
    assert codes(sheet) == [(2, "seconds", "field-formula"), (2, "moisture_pct", "row-formula-no-value")]
    assert sheet.frame["sample"].to_list() == ["S2"]
    assert_accounted(sheet, 2)


def test_a_row_of_formulas_without_values_is_not_blank():
    sheet = read(workbook([["sample", "seconds"], ["=A9", "=B9"], ["S2", 290]]))
    assert [r.code for r in sheet.refused] == ["row-formula-no-value"]
    assert_accounted(sheet, 2)


def test_a_value_that_a_formula_gives_is_checked_like_any_other():
    sheet = read(with_values({"B2": "287", "C2": "70"}))
    assert (2, "moisture_pct", "field-out-of-range") in codes(sheet)


def test_text_that_looks_like_a_formula_is_text():
    book = openpyxl.Workbook()
    book.active.append(["sample", "seconds"])
    book.active.append(["x", 287])
    book.active["A2"].value = "=A1"
    book.active["A2"].data_type = "s"
    out = io.BytesIO()
    book.save(out)
    sheet = read(out.getvalue())
    assert sheet.findings == ()
    assert sheet.frame["sample"].to_list() == ["=A1"]


def test_the_worksheet_with_the_columns_is_read():
    book = openpyxl.Workbook()
    book.active.title = "notes"
    book.active.append(["whatever"])
    day = book.create_sheet("day")
    day.append(["sample", "seconds"])
    day.append(["S1", 287])
    again = book.create_sheet("copy")
    again.append(["sample", "seconds"])
    out = io.BytesIO()
    book.save(out)
    sheet = read(out.getvalue())
    assert sheet.frame["sample"].to_list() == ["S1"]
    assert sheet.findings[0].code == "sheet-several-tables"
    assert sheet.findings[0].values == {"used": "day", "others": "copy"}


def test_an_empty_workbook():
    assert [f.code for f in read(workbook([])).findings] == ["sheet-empty"]


SHARED = b"application/vnd.openxmlformats-officedocument.spreadsheetml.sharedStrings+xml"


def with_shared_strings() -> bytes:
    """A workbook that keeps its texts in a part of their own, as most spreadsheets do."""
    texts: list[bytes] = []

    def change(name: str, body: bytes) -> bytes:
        if name == "xl/worksheets/sheet1.xml":
            texts.extend(re.findall(rb"<is><t>([^<]*)</t></is>", body))
            for i, text in enumerate(texts):
                body = body.replace(b't="inlineStr"><is><t>' + text + b"</t></is>", b't="s"><v>%d</v>' % i, 1)
        if name == "[Content_Types].xml":
            part = b'<Override PartName="/xl/sharedStrings.xml" ContentType="' + SHARED + b'"/></Types>'
            body = body.replace(b"</Types>", part)
        return body

    data = edited(workbook([["sample", "seconds", "analyst"], ["S1", 287, "J. Kay"]]), change)
    assert texts == [b"sample", b"seconds", b"analyst", b"S1", b"J. Kay"]
    out = io.BytesIO(data)
    with zipfile.ZipFile(out, "a") as package:
        items = b"".join(b"<si><t>" + t + b"</t></si>" for t in texts)
        main = b"http://schemas.openxmlformats.org/spreadsheetml/2006/main"
        package.writestr("xl/sharedStrings.xml", b'<sst xmlns="' + main + b'">' + items + b"</sst>")
    return out.getvalue()


def test_shared_strings_are_read():
    sheet = read(with_shared_strings())
    assert sheet.findings == ()
    assert sheet.frame["analyst"].to_list() == ["J. Kay"]


@pytest.mark.parametrize(
    "part", ["xl/worksheets/sheet1.xml", "xl/sharedStrings.xml", "xl/styles.xml", "[Content_Types].xml"]
)
def test_entities_are_refused(part):
    bomb = (
        b'<!DOCTYPE x [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">'
        b'<!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;">]>'
    )
    data = with_shared_strings()

    def change(name: str, body: bytes) -> bytes:
        if name != part:
            return body
        declaration, _, rest = body.partition(b"?>") if body.startswith(b"<?xml") else (b"", b"", body)
        return (declaration + b"?>" if declaration else b"") + bomb + rest

    sheet = read(edited(data, change))
    assert [f.code for f in sheet.findings] == ["sheet-workbook-unsafe"]
    assert sheet.rows == 0


def test_a_package_that_unpacks_to_too_much_is_refused_unread(monkeypatch):
    monkeypatch.setattr(module, "MOST_UNPACKED_BYTES", 2**20)
    data = edited(workbook([["sample", "seconds"]]), lambda _, body: body)
    out = io.BytesIO(data)
    with zipfile.ZipFile(out, "a", zipfile.ZIP_DEFLATED) as package:
        package.writestr("xl/padding.bin", bytes(2 * 2**20))
    sheet = read(out.getvalue())
    assert [f.code for f in sheet.findings] == ["sheet-workbook-too-large"]
    assert sheet.findings[0].values["unpacked_mib"] == 2


def test_a_package_of_too_many_parts_is_refused():
    out = io.BytesIO(workbook([["sample", "seconds"]]))
    with zipfile.ZipFile(out, "a") as package:
        for i in range(1001):
            package.writestr(f"x/{i}", b"")
    assert [f.code for f in read(out.getvalue()).findings] == ["sheet-workbook-too-large"]


def test_rows_that_come_again_are_not_passed_over_in_silence():
    data = workbook([["sample", "seconds"], ["S1", 287], ["S2", 290]])

    def change(name: str, body: bytes) -> bytes:
        if name != "xl/worksheets/sheet1.xml":
            return body
        return body.replace(b'<row r="3"', b'<row r="2"')

    assert [f.code for f in read(edited(data, change)).findings] == ["sheet-workbook-damaged"]


def test_a_cell_far_to_the_right_is_refused():
    book = openpyxl.Workbook()
    book.active.append(["sample", "seconds"])
    book.active.append(["S1", 287])
    book.active["XFD2"] = 1
    out = io.BytesIO()
    book.save(out)
    assert [f.code for f in read(out.getvalue()).findings] == ["sheet-too-many-columns"]


def test_a_cell_beyond_the_header_refuses_its_row():
    sheet = read(workbook([["sample", "seconds"], ["S1", 287, "odd"], ["S2", 290]]))
    assert codes(sheet) == [(2, None, "row-too-many-fields")]


def test_other_packages_are_named():
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w") as package:
        package.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
    assert [f.code for f in read(data.getvalue()).findings] == ["sheet-open-document"]
    other = io.BytesIO()
    with zipfile.ZipFile(other, "w") as package:
        package.writestr("readme.txt", "hello")
    assert [f.code for f in read(other.getvalue()).findings] == ["sheet-workbook-damaged"]


def test_a_spreadsheets_own_fault_texts_are_not_numbers():
    sheet = read(workbook([["sample", "seconds", "moisture_pct"], ["S1", 287, "#DIV/0!"]]))
    assert codes(sheet) == [(2, "moisture_pct", "field-not-a-number")]
