from __future__ import annotations

import re
from pathlib import Path

import pytest

from lodestarch.common.nomenclature import legal_range
from lodestarch.sheets import csv_text, decode, grid, header, moment, raw_cells, workbook
from lodestarch.sheets.codes import CODES
from lodestarch.sheets.columns import BENCH, SAMPLE, Form
from lodestarch.sheets.mapping import read_mapping

TEXT = (Path(__file__).parents[2] / "docs" / "bench-sheet.md").read_text("utf-8")


@pytest.mark.parametrize("column", BENCH + SAMPLE, ids=lambda c: c.name)
def test_every_column_and_choice_stands_in_the_docs(column):
    rows = [line for line in TEXT.splitlines() if line.startswith("| `") and f"`{column.name}`" in line]
    assert rows
    assert any(line.split("|")[2].strip() == ("yes" if column.required else "") for line in rows)
    assert all(any(f"`{c}`" in line for line in rows) for c in column.choices)
    if column.form is Form.NUMBER:
        low, high = legal_range(column.name)
        shown = f"{low:g} to {high:,.0f}".replace(",", " ") if high >= 10_000 else f"{low:g} to {high:g}"
        assert any(shown in line for line in rows)


def test_limits_of_the_docs_are_those_of_the_code():
    limits = dict(re.findall(r"^\| ([a-z ]+) \| (.+?) \| common practice \|$", TEXT, re.MULTILINE))
    assert limits == {
        "workbook": f"{workbook.MOST_UNPACKED_BYTES // 2**20} MiB unpacked, {workbook.MOST_ENTRIES} parts, "
        + f"{workbook.MOST_ROWS:,} rows".replace(",", " "),
        "columns": str(header.MOST_COLUMNS),
        "row": f"{grid.LONGEST_ROW:,} characters".replace(",", " "),
        "name or code in a cell": f"{raw_cells.LONGEST_CELL} characters",
        "year of a date": f"{moment.FIRST_YEAR} to {moment.LAST_YEAR}",
    }
    assert f"| CSV file | {decode.LARGEST_BYTES // 2**20} MiB |" in TEXT
    assert f"within {csv_text.LONGEST_QUOTE} lines" in TEXT
    assert f"first {['zero', 'twenty'][header.LOOK_AT == 20]} lines" in TEXT.replace("\n  ", " ").replace(
        "of the ", ""
    )


def test_codes_named_in_the_docs_exist():
    names = {c.name for c in CODES}
    assert set(re.findall(r"`((?:sheet|row|field)-[a-z-]+)`", TEXT)) <= names


def test_the_mapping_of_the_docs_is_readable():
    example = re.search(r"```toml\n(.*?)```", TEXT, re.DOTALL)[1]
    mapping = read_mapping(example.encode(), "x")
    assert (mapping.findings, len(mapping.columns)) == ((), 2)
