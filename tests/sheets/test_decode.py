from __future__ import annotations

import codecs

import pytest

from lodestarch.sheets.bench_sheet import read_bench_sheet
from lodestarch.sheets.decode import decode
from sheets.sheet_text import codes

TEXT = "sample,seconds,analyst\nS1,287,Jørgen Müller\n"


def read(data: bytes):
    return read_bench_sheet(data, "day.csv")


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_encodings_that_say_what_they_are(encoding):
    sheet = read(TEXT.encode(encoding))
    assert sheet.findings == ()
    assert sheet.frame["analyst"].to_list() == ["Jørgen Müller"]


@pytest.mark.parametrize("mark", [codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE])
def test_utf16_of_either_order(mark):
    order = "utf-16-le" if mark == codecs.BOM_UTF16_LE else "utf-16-be"
    assert read(mark + TEXT.encode(order)).frame["seconds"].to_list() == [287.0]


def test_windows_1252_is_assumed_with_a_finding():
    sheet = read(TEXT.encode("cp1252"))
    assert codes(sheet) == [(None, None, "sheet-encoding-assumed")]
    assert sheet.findings[0].values == {"encoding": "Windows-1252"}
    assert sheet.frame["analyst"].to_list() == ["Jørgen Müller"]


def test_plain_ascii_assumes_nothing():
    assert read(b"sample,seconds\nS1,287\n").findings == ()


def test_utf16_without_a_mark_is_refused():
    assert codes(read(TEXT.encode("utf-16-le"))) == [(None, None, "sheet-utf16-no-mark")]


@pytest.mark.parametrize(
    "data",
    [
        b"%PDF-1.7\n1 0 obj",
        b"\x1f\x8b\x08\x00abc",
        b"\x89PNG\r\n\x1a\n",
        bytes(range(32)) * 40,
        TEXT.encode("utf-32"),
    ],
)
def test_what_is_no_text_is_refused(data):
    assert [f.code for f in read(data).findings] == ["sheet-not-text"]


def test_an_old_workbook_is_named():
    assert [f.code for f in read(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(500)).findings] == [
        "sheet-old-workbook"
    ]


def test_a_damaged_byte_in_utf8_costs_its_own_cell():
    data = "sample,seconds,analyst\nS1,287,Jørgen\nS2,290,Müller\nS3,291,X\n".encode()
    data = data.replace(b"M\xc3\xbc", b"M\xc3", 1)
    sheet = read(data)
    assert codes(sheet) == [(None, None, "sheet-bytes-damaged"), (3, "analyst", "field-characters")]
    assert sheet.frame["analyst"].to_list() == ["Jørgen", None, "X"]


def test_nul_in_a_key_refuses_its_row_and_elsewhere_empties_the_cell():
    sheet = read(
        b"sample,seconds,analyst,note\nS\x001,287,JK,\nS2,290,J\x00K,\nS3,2\x0091,JK,\nS4,292,,\x00\n" * 1
    )
    assert codes(sheet) == [
        (1, "note", "sheet-column-unknown"),
        (2, "sample", "row-key-unreadable"),
        (3, "analyst", "field-characters"),
        (4, "seconds", "row-seconds-unreadable"),
    ]
    assert not any("\x00" in t for t in sheet.frame["row_text"].to_list())
    assert not any("\x00" in r.text for r in sheet.refused)


def test_a_name_is_the_same_name_composed_or_not():
    sheet = read("sample,seconds\nMu\u0308ller,287\nM\u00fcller,290\n".encode())
    assert sheet.frame["position"].to_list() == ["1", "2"]


def test_cut_inside_a_character():
    data = "sample,seconds,analyst\nS1,287,Jø".encode()
    decoded = decode(data[:-1], "x")
    assert (decoded.cut, decoded.unclean, decoded.findings) == (True, True, ())
    assert codes(read(data[:-1])) == [(2, "analyst", "field-characters")]
    cut_16 = TEXT.encode("utf-16")[:-3]
    assert decode(cut_16, "x").cut


def test_a_byte_that_windows_1252_lacks_is_counted():
    sheet = read(b"sample,seconds,analyst\nS1,287,J\x81K\xf8\n")
    assert [c for *_, c in codes(sheet)] == [
        "sheet-encoding-assumed",
        "sheet-bytes-damaged",
        "field-characters",
    ]
