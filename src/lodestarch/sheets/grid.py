"""A sheet as a grid of text: one column a polars series, one row a record, nothing lost.

A *row* is what a spreadsheet would number as one: a record of RFC 4180, blank ones counted in the numbering
but not kept. A row whose fields cannot be told apart (an open quotation mark, more fields than the header)
leaves the grid as :class:`Odd`, with its text and the code of its refusal.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import repeat
from typing import Final

import polars as pl

from lodestarch.common.findings import Value
from lodestarch.sheets.header import LOOK_AT, MOST_COLUMNS, Names, header_index

__all__ = ["LONGEST_ROW", "SEPARATOR", "Grid", "Odd", "Remark", "as_line", "build"]

SEPARATOR: Final = "\x1f"
"""Unit separator between the fields of a row's text; in cells it is replaced on decoding."""

LONGEST_ROW: Final = 20_000
"""Longest row that is taken. [characters]  Common practice: a bench sheet's row has about 80."""

_NO_VALUES: Final[Mapping[str, Value]] = {}


@dataclass(frozen=True, slots=True)
class Odd:
    """A row that is refused before its fields are looked at."""

    row: int
    text: str
    code: str
    values: Mapping[str, Value] = field(default_factory=lambda: _NO_VALUES)


@dataclass(frozen=True, slots=True)
class Remark:
    """A finding about one cell or row of the grid, by its place in the grid and not in the sheet."""

    index: int
    column: int | None
    code: str
    values: Mapping[str, Value]


@dataclass(frozen=True, slots=True)
class Grid:
    """A sheet beneath its header.

    Parameters
    ----------
    header : tuple of str
        Fields of the header row, as read.
    header_row : int
        Its row number.
    skipped : int
        Rows above it that are not blank.
    delimiter : str
        Between fields; a comma for workbooks.
    rows : polars.Series
        Row number of each record.
    texts : polars.Series
        Each record, its fields joined by :data:`SEPARATOR`.
    cells : polars.DataFrame
        Columns ``c0``, ``c1``, ... as text, as many as the header has fields; empty is null or "".
    odd : tuple of Odd
        Records that are not in ``cells``.
    remarks : tuple of Remark
        Records that are, with something to say about them.
    unclean : bool
        Some cells may hold replaced characters.
    typed : bool
        Numbers came as numbers (workbook), so a number kept as text was typed as text.
    padded, apostrophes : bool
        Some cells may have blanks around them; may hold an apostrophe. False only where it is certain.
    """

    header: tuple[str, ...]
    header_row: int
    skipped: int
    delimiter: str
    rows: pl.Series
    texts: pl.Series
    cells: pl.DataFrame
    odd: tuple[Odd, ...]
    remarks: tuple[Remark, ...] = ()
    unclean: bool = False
    typed: bool = False
    padded: bool = True
    apostrophes: bool = True

    def filled(self, column: int) -> bool:
        """Return whether a column holds anything at all."""
        return bool((self.cells[f"c{column}"].str.strip_chars() != "").any())


def as_line(fields: Sequence[str], delimiter: str) -> str:
    """Return fields as one line of CSV, the way a refused row is kept and shown.

    Examples
    --------
    >>> as_line(["A1", "2,87", ""], ",")
    'A1,"2,87",'
    """
    out = io.StringIO()
    csv.writer(out, delimiter=delimiter, lineterminator="").writerow(fields)
    return out.getvalue()


def build(
    lines: list[str],
    names: Names,
    delimiter: str,
    *,
    open_end: bool = False,
    broken: Sequence[Odd] = (),
) -> Grid:
    """Return the grid of all records of a sheet.

    Parameters
    ----------
    lines : list of str
        Every record from the first on, fields joined by :data:`SEPARATOR`; consumed.
    names : Names
        What the header may say.
    delimiter : str
        For the text of refused rows.
    open_end : bool
        The last record has no line end, so its last field may have lost its tail.
    broken : sequence of Odd
        Records refused before; each has a blank line in its place.
    """
    first = header_index([line.split(SEPARATOR, MOST_COLUMNS) for line in lines[:LOOK_AT]], names)
    header = lines[first].split(SEPARATOR) if lines else [""]
    if len(header) > MOST_COLUMNS:  # refused by its width; no use in taking its rows apart
        return _without_rows(header, first, delimiter)
    # SEPARATOR is white space to Python, so a line of empty fields counts as blank here.
    skipped = sum(bool(line) and not line.isspace() for line in lines[:first])
    skipped += sum(o.row <= first for o in broken)
    last, columns = len(lines), len(header)
    del lines[: first + 1]
    odd = [o for o in broken if o.row > first + 1]
    short: dict[int, int] = {}
    gone: list[int] = []
    for i in _ragged(lines, columns - 1):
        row = first + 2 + i
        if not lines[i].strip():
            gone.append(i)
            continue
        fitted = _fit(row, lines[i].split(SEPARATOR), columns, delimiter, cut=open_end and row == last)
        if isinstance(fitted, Odd):
            odd.append(fitted)
            gone.append(i)
            continue
        if fitted.short:
            short[row] = len(lines[i].split(SEPARATOR))
        lines[i] = fitted.line
    rows = pl.int_range(first + 2, last + 1, eager=True).alias("row")
    texts = pl.Series("text", lines, dtype=pl.String)
    if gone:
        kept = ~pl.int_range(len(lines), eager=True).is_in(gone)
        rows, texts = rows.filter(kept), texts.filter(kept)
    split = texts.to_frame().select(pl.col("text").str.split_exact(SEPARATOR, columns - 1)).unnest("text")
    cells = split.rename({name: f"c{i}" for i, name in enumerate(split.columns)})
    at = {row: i for i, row in enumerate(rows)} if short else {}
    remarks = tuple(
        Remark(at[row], None, "row-short", {"fields": met, "columns": columns}) for row, met in short.items()
    )
    odd.sort(key=lambda o: o.row)
    return Grid(tuple(header), first + 1, skipped, delimiter, rows, texts, cells, tuple(odd), remarks)


def _without_rows(header: list[str], first: int, delimiter: str) -> Grid:
    none, no_text = pl.Series("row", [], dtype=pl.Int64), pl.Series("text", [], dtype=pl.String)
    return Grid(tuple(header), first + 1, 0, delimiter, none, no_text, pl.DataFrame(), ())


@dataclass(frozen=True, slots=True)
class _Fitted:
    line: str
    short: bool


def _fit(row: int, fields: list[str], columns: int, delimiter: str, *, cut: bool) -> _Fitted | Odd:
    """A row at the width of the header, or refused.

    Blank fields beyond the header say nothing and go; a short row is filled with empty fields, unless it is
    the last one of a file that ends without a line end: there the last field may have lost its tail.
    """
    met = len(fields)
    length = sum(map(len, fields)) + met - 1
    values: dict[str, Value] = {"fields": met, "columns": columns}
    if length > LONGEST_ROW:
        return Odd(row, as_line(fields, delimiter), "row-too-long", {"length": length, "limit": LONGEST_ROW})
    if met > columns and any(f.strip() for f in fields[columns:]):
        return Odd(row, as_line(fields, delimiter), "row-too-many-fields", values)
    if met < columns and cut:
        return Odd(row, as_line(fields, delimiter), "row-cut-off", values)
    wide = fields[:columns] + [""] * (columns - met)
    return _Fitted(SEPARATOR.join(wide), short=met < columns)


def _ragged(lines: list[str], wanted: int) -> list[int]:
    """Places of the lines that do not have ``wanted`` separators, are blank, or are too long."""
    counts = list(map(str.count, lines, repeat(SEPARATOR)))
    if wanted and counts.count(wanted) == len(lines) and max(map(len, lines), default=0) <= LONGEST_ROW:
        return [i for i, blank in enumerate(map(str.isspace, lines)) if blank]
    return [
        i
        for i, (line, count) in enumerate(zip(lines, counts, strict=True))
        if count != wanted or len(line) > LONGEST_ROW or not line or line.isspace()
    ]
