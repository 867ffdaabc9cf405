"""From the bytes of any of our sheets to typed columns, and what could not be taken as it stands."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from functools import partial
from typing import Final

import polars as pl

from lodestarch.common.findings import Finding, Value, Where
from lodestarch.method.table import conform, empty
from lodestarch.sheets.account import ReadSheet, RefusedRow
from lodestarch.sheets.cells import Trouble, decimal_marks, pick, read_number, read_seconds, yes_no
from lodestarch.sheets.codes import found
from lodestarch.sheets.columns import Column, Form
from lodestarch.sheets.csv_text import read_grid
from lodestarch.sheets.decode import decode
from lodestarch.sheets.grid import SEPARATOR, Grid, as_line
from lodestarch.sheets.header import MOST_COLUMNS, Binding, Names, bind
from lodestarch.sheets.moment import read_dates, read_moments
from lodestarch.sheets.raw_cells import column_texts
from lodestarch.sheets.workbook import is_package, read_workbook

__all__ = ["Table", "account", "no_sheet", "open_sheet"]

_OLD_WORKBOOK: Final = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_TAKEN_ALL_THE_SAME: Final = frozenset({"row-short"})


@dataclass(frozen=True, slots=True)
class _Cell:
    """A trouble with the column it stands in; column ``None`` is the row as a whole."""

    index: int
    column: str | None
    code: str
    values: Mapping[str, Value]

    @property
    def refuses(self) -> bool:
        return self.code.startswith("row-") and self.code not in _TAKEN_ALL_THE_SAME


@dataclass(slots=True)
class Table:
    """A sheet whose cells have been read.

    Parameters
    ----------
    name, sha256 : str
        Of the file.
    grid : Grid
        Its text.
    frame : polars.DataFrame
        Typed columns, a row for each record of the grid, refused or not; with ``row`` and ``row_text``.
    order : tuple of str
        Columns in our order, for sorting findings.
    findings : list of Finding
        About the sheet as a whole.
    cells : list
        About its rows and cells.
    """

    name: str
    sha256: str
    grid: Grid
    frame: pl.DataFrame
    order: tuple[str, ...]
    findings: list[Finding]
    cells: list[_Cell] = field(default_factory=list)

    def add(self, index: int, column: str | None, code: str, **values: Value) -> None:
        """Note a trouble at a place of the frame."""
        self.cells.append(_Cell(index, column, code, values))

    def taken(self) -> pl.Series:
        """Return which rows of the frame nothing refuses so far."""
        refused = sorted({c.index for c in self.cells if c.refuses})
        keep = pl.Series("taken", [True], dtype=pl.Boolean).new_from_index(0, self.frame.height)
        return keep.scatter(refused, False) if refused else keep


def no_sheet(
    data: bytes, name: str, schema: Mapping[str, pl.DataType], findings: Iterable[Finding]
) -> ReadSheet:
    """Return a sheet that was refused as a whole."""
    return ReadSheet(name, hashlib.sha256(data).hexdigest(), empty(schema), (), tuple(findings), 0)


def open_sheet(
    data: bytes, name: str, columns: tuple[Column, ...], mapping: Mapping[str, str] | None
) -> Table | tuple[Finding, ...]:
    """Return the typed columns of a sheet, or the findings that say why it cannot be read.

    Parameters
    ----------
    data : bytes
        CSV or xlsx, told apart by content.
    name : str
        File name, for findings.
    columns : tuple of Column
        What to look for.
    mapping : mapping of str to str, optional
        Header names of another program and ours that they stand for.
    """
    where = Where(source=name)
    names = Names.of(columns, mapping)
    if data.startswith(_OLD_WORKBOOK):
        return (found("sheet-old-workbook", where),)
    grid: Grid | None
    if is_package(data):
        grid, first = read_workbook(data, name, names)
    else:
        decoded = decode(data, name)
        first = decoded.findings
        text = decoded.text
        grid = None if text is None else read_grid(text, names, unclean=decoded.unclean, cut=decoded.cut)
    if grid is None:
        return first
    if len(grid.header) > MOST_COLUMNS:
        met = len(grid.header)
        return (*first, found("sheet-too-many-columns", where, columns=met, limit=MOST_COLUMNS))
    binding = bind(grid.header, names, Where(source=name, row=grid.header_row), filled=grid.filled)
    findings = [*first, *binding.findings]
    if grid.skipped:
        findings.append(found("sheet-lines-above-header", where, count=grid.skipped))
    if not binding.complete:
        return tuple(findings)
    if not len(grid.rows) + len(grid.odd):
        findings.append(found("sheet-no-rows", where))
    frame = pl.DataFrame({"row": grid.rows, "row_text": grid.texts})
    order = tuple(c.name for c in columns)
    table = Table(name, hashlib.sha256(data).hexdigest(), grid, frame, order, findings)
    _read_columns(table, binding, columns)
    return table


def account(table: Table, frame: pl.DataFrame, schema: Mapping[str, pl.DataType]) -> ReadSheet:
    """Return the sheet as read: rows taken in ``schema``, the rest refused, all findings in order of rows.

    Parameters
    ----------
    table : Table
        With every trouble noted.
    frame : polars.DataFrame
        Its frame, completed; as many rows as the grid has.
    schema : mapping
        ``method.table.READINGS`` or ``SAMPLES``.
    """
    grid = table.grid
    refusing: dict[int, str] = {}
    for cell in table.cells:
        if cell.refuses:
            refusing.setdefault(cell.index, cell.code)
    rows, texts = grid.rows, grid.texts
    refused = [RefusedRow(o.row, o.text, o.code) for o in grid.odd] + [
        RefusedRow(rows[i], as_line(texts[i].split(SEPARATOR), grid.delimiter), code)
        for i, code in refusing.items()
    ]
    ranked = [
        (o.row, -1, found(o.code, Where(source=table.name, row=o.row), **o.values)) for o in grid.odd
    ] + _ranked(table, frame)
    ranked.sort(key=lambda r: r[:2])
    return ReadSheet(
        name=table.name,
        sha256=table.sha256,
        frame=conform(frame.filter(table.taken()) if refusing else frame, schema),
        refused=tuple(sorted(refused, key=lambda r: r.row)),
        findings=(*table.findings, *(f for _, _, f in ranked)),
        rows=frame.height + len(grid.odd),
    )


def _ranked(table: Table, frame: pl.DataFrame) -> list[tuple[int, int, Finding]]:
    """Findings about rows and cells, with what to sort them by."""
    if not table.cells:
        return []
    rank: dict[str | None, int] = {c: i for i, c in enumerate(table.order)}
    shown = [
        c for c in ("row", "ticket", "sample", "run", "position", "position_stated") if c in frame.columns
    ]
    indices = sorted({c.index for c in table.cells})
    places = dict(zip(indices, frame.select(shown)[indices].iter_rows(named=True), strict=True))
    out = []
    for cell in table.cells:
        at = places[cell.index]
        where = Where(
            source=table.name,
            row=at["row"],
            field=cell.column,
            ticket=at.get("ticket"),
            sample=at.get("sample"),
            run=at.get("run"),
            position=at.get("position") if at.get("position_stated") else None,
        )
        out.append((at["row"], rank.get(cell.column, -1), found(cell.code, where, **cell.values)))
    return out


def _read_columns(table: Table, binding: Binding, columns: tuple[Column, ...]) -> None:
    """Read every column of ours that the sheet has; the others stay away from the frame."""
    names = {at: name for name, ats in binding.places.items() for at in ats}
    for remark in table.grid.remarks:
        if remark.column is None or remark.column in names:
            at = None if remark.column is None else names[remark.column]
            table.add(remark.index, at, remark.code, **remark.values)
    without_value = {(c.index, c.column) for c in table.cells if c.code == "row-formula-no-value"}
    met = tuple(c for c in columns if c.name in binding.places)
    texts = column_texts(table.grid, binding.places, met)
    numbers = [texts[c.name].text for c in met if c.form is Form.NUMBER]
    zones: set[str] = set()
    series: list[pl.Series] = []
    for column in met:
        text, troubles = texts[column.name].text, texts[column.name].troubles
        values, more, seen = _read(column, text, partial(decimal_marks, numbers, table.grid))
        series += [v.alias(n) for n, v in values.items()]
        zones.update(seen)
        for t in (*troubles, *more):
            # A cell that holds a formula without a value has said what is wrong with it already.
            if (t.index, column.name) not in without_value:
                table.add(t.index, column.name, t.code, **t.values)
    table.frame = table.frame.with_columns(series)
    if zones - {""}:
        listed = ", ".join(z or "(none)" for z in sorted(zones))
        code = "sheet-zones-mixed" if len(zones) > 1 else "sheet-times-zoned"
        table.findings.append(found(code, Where(source=table.name), zones=listed))


def _read(
    column: Column, text: pl.Series, marks: Callable[[], frozenset[str]]
) -> tuple[dict[str, pl.Series], list[Trouble], tuple[str, ...]]:
    """Values by name of column, troubles and time zones of one column."""
    zones: tuple[str, ...] = ()
    if column.form is Form.SECONDS:
        values, kind, troubles = read_seconds(text)
        return {column.name: values, "kind": kind}, troubles, zones
    if column.form is Form.NUMBER:
        values, troubles = read_number(column.name, text, marks)
    elif column.form is Form.MOMENT:
        values, troubles, zones = read_moments(text)
    elif column.form is Form.DATE:
        values, troubles, _ = read_dates(text)
    elif column.form is Form.YES_NO:
        values, troubles = yes_no(text)
    elif column.form in {Form.ONE_OF, Form.CAUSE}:
        code = "row-cause-unknown" if column.form is Form.CAUSE else "field-not-in-list"
        values, troubles = pick(text, column.choices, code)
    else:
        values, troubles = text, []
    if column.form is Form.KEY and column.required:
        empty_at = text.is_null().arg_true().to_list()
        troubles = troubles + [Trouble(i, "row-no-sample", {}) for i in empty_at]
    return {column.name: values}, troubles, zones
