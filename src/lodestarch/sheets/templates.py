"""Blank sheets and files to fill in: bench, samples, terms, plans, a receiving site, a cargo, a mapping."""

from __future__ import annotations

import io
from importlib.resources import files
from typing import Final

from openpyxl import Workbook
from openpyxl.styles import Font
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.worksheet import Worksheet

from lodestarch.common.nomenclature import QUANTITIES
from lodestarch.sheets.columns import BENCH, SAMPLE, Column, Form
from lodestarch.sheets.safe_cells import csv_bytes
from lodestarch.sheets.terms_columns import TERMS_COLUMNS

__all__ = [
    "bench_sheet_csv",
    "bench_sheet_xlsx",
    "loadout_toml",
    "loads_csv",
    "mapping_toml",
    "plan_toml",
    "receive_toml",
    "sample_sheet_csv",
    "sample_sheet_xlsx",
    "sublots_csv",
    "terms_csv",
    "terms_toml",
]

_ROWS: Final = 500
"""Rows of a blank workbook that offer pick-lists; below them cells are plain."""

_TEXT_FORMAT: Final = "@"
_FORMATS: Final = {
    Form.MOMENT: "yyyy-mm-dd hh:mm",
    Form.DATE: "yyyy-mm-dd",
    # Codes keep their leading zeros, and <=62 stays as typed.
    Form.KEY: _TEXT_FORMAT,
    Form.TEXT: _TEXT_FORMAT,
    Form.SECONDS: "General",
}


def bench_sheet_csv() -> bytes:
    """Return a blank bench sheet as CSV."""
    return csv_bytes([c.name for c in BENCH], [])


def sample_sheet_csv() -> bytes:
    """Return a blank sample sheet as CSV."""
    return csv_bytes([c.name for c in SAMPLE], [])


def bench_sheet_xlsx() -> bytes:
    """Return a blank bench sheet as a workbook, with pick-lists where the sheet has them."""
    return _workbook(BENCH, "bench")


def sample_sheet_xlsx() -> bytes:
    """Return a blank sample sheet as a workbook, with pick-lists where the sheet has them."""
    return _workbook(SAMPLE, "samples")


def terms_toml() -> bytes:
    """Return a terms file with every table and key, commented, to be filled in."""
    return files("lodestarch.sheets").joinpath("blanks", "terms.toml").read_bytes()


def terms_csv() -> bytes:
    """Return a blank terms sheet as CSV: every column; those that nobody needs may be deleted."""
    return csv_bytes([c.name for c in TERMS_COLUMNS], [])


def plan_toml() -> bytes:
    """Return a plan problem that runs as it stands, every key explained, to be filled in."""
    return files("lodestarch.sheets").joinpath("blanks", "plan.toml").read_bytes()


def receive_toml() -> bytes:
    """Return a receiving site that runs as it stands, to be filled in."""
    return files("lodestarch.sheets").joinpath("blanks", "receive.toml").read_bytes()


def loads_csv() -> bytes:
    """Return a blank sheet of the loads at the probe."""
    return csv_bytes(["ticket", "tonnes", "field", "variety", "to_come", "day", "seconds", "bin"], [])


def loadout_toml() -> bytes:
    """Return a cargo that runs as it stands, to be filled in."""
    return files("lodestarch.sheets").joinpath("blanks", "loadout.toml").read_bytes()


def sublots_csv() -> bytes:
    """Return a blank sheet of the sublots of a cargo."""
    return csv_bytes(["number", "tonnes", "shares", "seconds"], [])


def mapping_toml() -> bytes:
    """Return a mapping file to be filled in."""
    return files("lodestarch.sheets").joinpath("blanks", "mapping.toml").read_bytes()


def _workbook(columns: tuple[Column, ...], title: str) -> bytes:
    book = Workbook()
    sheet = book.active
    if not isinstance(sheet, Worksheet):  # a new workbook always has a worksheet
        raise TypeError(title)
    sheet.title = title
    sheet.append([c.name for c in columns])
    sheet.freeze_panes = "A2"
    for i, column in enumerate(columns, 1):
        letter = get_column_letter(i)
        sheet[f"{letter}1"].font = Font(bold=column.required)
        sheet.column_dimensions[letter].width = len(column.name) + 4
        if column.form in _FORMATS:
            for row in range(2, _ROWS + 2):
                sheet[f"{letter}{row}"].number_format = _FORMATS[column.form]
        choices = ("yes", "no") if column.form is Form.YES_NO else column.choices
        if choices:
            picks = DataValidation(type="list", formula1=f'"{",".join(choices)}"', allow_blank=True)
            picks.add(f"{letter}2:{letter}{_ROWS + 1}")
            sheet.add_data_validation(picks)
    _describe(book.create_sheet("columns"), columns)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _describe(sheet: Worksheet, columns: tuple[Column, ...]) -> None:
    """List the columns with unit, legal range and choices."""
    sheet.append(["column", "needed", "unit", "low", "high", "choices"])
    for column in columns:
        line = QUANTITIES.get(column.name)
        # The legal range of seconds is for judging them; the sheet takes any number.
        numbers = [line.unit, line.low, line.high] if line and column.form is Form.NUMBER else [None] * 3
        needed = "yes" if column.required else "no"
        sheet.append([column.name, needed, *numbers, ", ".join(column.choices) or None])
