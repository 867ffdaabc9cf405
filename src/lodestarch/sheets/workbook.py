"""An xlsx workbook to a grid, with openpyxl over defusedxml.

Before anything is parsed the package is looked at from outside: how much it unpacks to, how many parts it
has, how far its rows and columns run. Values come as the text that a CSV of the same sheet would hold:
numbers with at most 15 digits (what a spreadsheet keeps), dates in ISO form.
"""

from __future__ import annotations

import io
import re
import warnings
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime, time
from itertools import pairwise
from typing import Any, Final

import openpyxl
from defusedxml.common import DefusedXmlException
from defusedxml.ElementTree import iterparse

from lodestarch.common.findings import Finding, Where
from lodestarch.sheets.codes import found
from lodestarch.sheets.decode import UNCLEAN, clean
from lodestarch.sheets.grid import SEPARATOR, Grid, Remark, build
from lodestarch.sheets.header import LOOK_AT, MOST_COLUMNS, Names, header_index

__all__ = ["MOST_ENTRIES", "MOST_UNPACKED_BYTES", "is_package", "read_workbook"]

MOST_UNPACKED_BYTES: Final = 256 * 2**20
"""Most that a workbook may unpack to. [B]  Common practice: 100,000 rows of a bench sheet unpack to 60 MB."""

MOST_ENTRIES: Final = 1000
"""Most parts that a workbook may have. Common practice: a plain one has about ten."""

MOST_ROWS: Final = 1_048_576
"""Rows of a worksheet (ECMA-376 leaves it open; what spreadsheets allow, common practice)."""

_ROW: Final = re.compile(rb"<(?:\w+:)?row\b[^>]*?\br=[\"'](\d+)[\"']")
_FAR_COLUMN: Final = re.compile(rb"<(?:\w+:)?c\b[^>]*?\br=[\"'](?:[A-Z]{3,}|[J-Z][A-Z]|I[W-Z])\d")
_FORMULA: Final = re.compile(rb"<(?:\w+:)?f[ >/]")


@dataclass(frozen=True, slots=True)
class _Package:
    """What the package says from outside."""

    finding: Finding | None
    formulas: bool = False


def is_package(data: bytes) -> bool:
    """Return whether the bytes are a zip package, as every xlsx is."""
    return data.startswith(b"PK\x03\x04")


def read_workbook(data: bytes, name: str, names: Names) -> tuple[Grid | None, tuple[Finding, ...]]:
    """Return the grid of the first worksheet that has the columns asked for.

    Parameters
    ----------
    data : bytes
        The file.
    name : str
        Its name, for findings.
    names : Names
        What the header may say.

    Returns
    -------
    grid : Grid or None
        ``None`` where the workbook cannot be read; then a finding of severity *stop* says why.
    findings : tuple of Finding
    """
    where = Where(source=name)
    try:
        package = _look(data, where)
        if package.finding is not None:
            return None, (package.finding,)
        with warnings.catch_warnings():
            # openpyxl warns of parts it leaves out (styles, validation), none of which holds a value.
            warnings.simplefilter("ignore")
            return _read(data, where, names, formulas=package.formulas)
    except Exception as problem:  # noqa: BLE001  a damaged package makes its readers raise almost anything
        unsafe = isinstance(problem, DefusedXmlException) or isinstance(
            problem.__cause__, DefusedXmlException
        )
        return None, (found("sheet-workbook-unsafe" if unsafe else "sheet-workbook-damaged", where),)


def _look(data: bytes, where: Where) -> _Package:
    with zipfile.ZipFile(io.BytesIO(data)) as package:
        parts = package.infolist()
        unpacked = sum(p.file_size for p in parts)
        if len(parts) > MOST_ENTRIES or unpacked > MOST_UNPACKED_BYTES:
            finding = found(
                "sheet-workbook-too-large",
                where,
                unpacked_mib=unpacked // 2**20,
                limit_mib=MOST_UNPACKED_BYTES // 2**20,
                entries=len(parts),
                entries_limit=MOST_ENTRIES,
            )
            return _Package(finding)
        if "mimetype" in package.namelist():
            return _Package(found("sheet-open-document", where))
        formulas = False
        for part in parts:
            if part.filename.endswith((".xml", ".rels")):
                _refuse_entities(package, part)
            if not re.fullmatch(r"xl/worksheets/[^/]+\.xml", part.filename):
                continue
            xml = package.read(part)
            rows = [int(r) for r in _ROW.findall(xml)]
            # openpyxl passes over rows that come again or out of order, so such a sheet is refused whole.
            if any(b <= a for a, b in pairwise(rows)) or max(rows, default=0) > MOST_ROWS:
                return _Package(found("sheet-workbook-damaged", where))
            if _FAR_COLUMN.search(xml):
                return _Package(found("sheet-too-many-columns", where, columns=None, limit=MOST_COLUMNS))
            formulas = formulas or _FORMULA.search(xml) is not None
    return _Package(None, formulas)


def _refuse_entities(package: zipfile.ZipFile, part: zipfile.ZipInfo) -> None:
    """Look at what stands before the first element of a part: entities are declared there or nowhere.

    openpyxl is guarded by defusedxml only where lxml is not installed, and other packages bring lxml along.
    """
    with package.open(part) as stream:
        next(iter(iterparse(stream, events=("start",))), None)


def _read(
    data: bytes, where: Where, names: Names, *, formulas: bool
) -> tuple[Grid | None, tuple[Finding, ...]]:
    book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True)
    tables = []
    for sheet in book.worksheets:
        sheet.reset_dimensions()
        head = [_fields(r) for r in sheet.iter_rows(max_row=LOOK_AT, values_only=True)]
        if any(any(r) for r in head):
            tables.append(
                (names.score(head[header_index(head, names)]), sheet.sheet_state == "visible", sheet)
            )
    if not tables:
        return None, (found("sheet-empty", where),)
    wanted = sum(c.required for c in names.columns)
    complete = [t for t in tables if t[0][0] == wanted]
    chosen = next((t for t in complete if t[1]), (complete or tables)[0])[2]
    # One name alone can be a word in a list; two make a header.
    others = [t[2].title for t in complete if t[2] is not chosen and t[0][1] > 1]
    findings = []
    if others:
        findings.append(found("sheet-several-tables", where, used=chosen.title, others=", ".join(others)))
    if formulas:
        twin_book = openpyxl.load_workbook(io.BytesIO(data), read_only=True)
        twin = twin_book[chosen.title]
        twin.reset_dimensions()
        places = dict(_formulas(twin))
    else:
        places = {}
    return _grid([_fields(r) for r in chosen.iter_rows(values_only=True)], names, places), tuple(findings)


def _grid(records: list[list[str]], names: Names, formulas: dict[tuple[int, int], str]) -> Grid:
    first = header_index(records, names)
    columns = len(records[first])
    places = {place: text for place, text in formulas.items() if place[0] > first + 1 and place[1] < columns}
    lacking = set()
    for row, column in places:
        fields = records[row - 1]
        fields += [""] * (columns - len(fields))
        if not fields[column]:
            # The formula stands in for the value that it lacks, so that its row is not taken for blank.
            fields[column] = formulas[row, column]
            lacking.add((row, column))
    # Spreadsheets do not store what is empty, so a row shorter than the header is not short.
    lines = [SEPARATOR.join(r + [""] * (columns - len(r)) if r else r) for r in records]
    grid = build(lines, names, ",")
    at = {row: i for i, row in enumerate(grid.rows)} if places else {}
    remarks = tuple(
        Remark(
            at[row],
            column,
            "row-formula-no-value" if (row, column) in lacking else "field-formula",
            {"value": text},
        )
        for (row, column), text in places.items()
        if row in at
    )
    unclean = bool(grid.texts.str.contains(UNCLEAN).any())
    return replace(grid, remarks=(*grid.remarks, *remarks), unclean=unclean, typed=True)


def _formulas(sheet: Any) -> Iterator[tuple[tuple[int, int], str]]:
    """Yield row number, column index and text of each formula."""
    for number, row in enumerate(sheet.iter_rows(), 1):
        for column, cell in enumerate(row):
            if cell.value is not None and cell.data_type == "f":
                yield (number, column), str(getattr(cell.value, "text", cell.value))


def _fields(row: tuple[Any, ...]) -> list[str]:
    fields = [_text(v) for v in row]
    while fields and not fields[-1].strip():
        fields.pop()
    return fields


def _text(value: Any) -> str:
    """Text of a cell's value, as a CSV of the same sheet would hold it."""
    if value is None:
        return ""
    if isinstance(value, str):
        return clean(value)
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return format(value, ".15g")
    if isinstance(value, datetime):
        return value.date().isoformat() if value.time() == time.min else value.isoformat()
    return value.isoformat() if isinstance(value, (date, time)) else str(value)
