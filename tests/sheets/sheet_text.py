"""Sheets for tests, and a second way of counting their rows that shares nothing with the reader."""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence

import openpyxl

from lodestarch.sheets.bench_sheet import read_bench_sheet

HEADER = [
    "ticket",
    "sample",
    "profile",
    "run",
    "bath",
    "position",
    "tube_id",
    "stirrer_id",
    "seconds",
    "moisture_pct",
    "mass_g",
    "pressure_hpa",
    "corrected_by_instrument",
    "analyst",
    "run_at",
    "set_aside_cause",
]


def bench(text: str, **kwargs):
    return read_bench_sheet(text.encode(), "day.csv", **kwargs)


def codes(sheet):
    return [(f.where.row, f.where.field, f.code) for f in sheet.findings]


def workbook(rows: Iterable[Sequence[object]], title: str = "bench") -> bytes:
    book = openpyxl.Workbook()
    book.active.title = title
    for row in rows:
        book.active.append(list(row))
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def records(text: str, delimiter: str) -> list[str]:
    """Every record below the first, as raw text: RFC 4180, a character at a time.

    A quotation mark that does not close within 50 lines, or that is followed by something else than a
    delimiter, makes its line a record of its own.
    """
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    if lines[-1] == "":
        lines.pop()
    out, i = [], 0
    while i < len(lines):
        used = 0
        for n in range(1, 51):
            if i + n > len(lines):
                break
            state = _state("\n".join(lines[i : i + n]), delimiter)
            if state == "closed":
                used = n
                break
            if state == "broken":
                break
        out.append("\n".join(lines[i : i + max(used, 1)]))
        i += max(used, 1)
    return out[1:]


def _state(text: str, delimiter: str) -> str:
    """Where a reader stands after ``text``: every field closed, a quotation mark open, or broken."""
    state = "start"
    for c in text:
        if state == "quoted":
            if c == '"':
                state = "after"
        elif state == "after":
            if c == '"':
                state = "quoted"
            elif c == delimiter:
                state = "start"
            else:
                return "broken"
        elif state == "start" and c == '"':
            state = "quoted"
        else:
            state = "start" if c == delimiter else "bare"
    return "open" if state == "quoted" else "closed"


def count_rows(text: str, delimiter: str) -> int:
    """Data rows of a sheet whose first line is its header: records that hold more than blanks."""
    return sum(
        bool(r.replace(delimiter, "").replace('""', "").strip(" \t\n\xa0")) for r in records(text, delimiter)
    )


def assert_accounted(sheet, rows: int | None = None) -> None:
    """Nothing is lost: every row is in the frame or refused with a finding of its own."""
    assert sheet.rows == sheet.frame.height + len(sheet.refused)
    if rows is not None:
        assert sheet.rows == rows
    taken = sheet.frame["row"].to_list()
    refused = [r.row for r in sheet.refused]
    assert len(set(taken + refused)) == sheet.rows
    assert taken == sorted(taken)
    assert refused == sorted(refused)
    for row in sheet.refused:
        assert any(f.where.row == row.row and f.code == row.code for f in sheet.findings)
        assert row.text
    if not sheet.rows:
        assert sheet.findings
