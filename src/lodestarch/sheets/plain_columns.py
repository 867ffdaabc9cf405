"""Plain columns of a quality file: pairs, check results, ring tests, comparisons, nested values.

Cells that cannot be read become findings and leave a hole (NaN) in their column; the rooms say what a hole
means. Row numbers are those of the sheet.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import polars as pl

from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.method.reading import parse_seconds
from lodestarch.sheets.codes import found
from lodestarch.sheets.columns import Column, Form
from lodestarch.sheets.take import Table, open_sheet

__all__ = ["PlainColumns", "headers_of", "placed", "read_columns"]

_NUMBER: Final = re.compile(r"^[+-]?(?:\d{1,15}(?:[.,]\d{0,20})?|[.,]\d{1,20})(?:[eE][+-]?\d{1,3})?$")
_NAMED: Final = 20
"""Cells of a column that are named one by one."""


@dataclass(frozen=True, slots=True)
class PlainColumns:
    """Columns as read, all of one length.

    Parameters
    ----------
    source : str
    rows : tuple of int
        Row of the sheet for each place.
    texts : dict of str to tuple
        ``None`` where empty.
    numbers : dict of str to tuple of float
        NaN where empty or unreadable.
    kinds : dict of str to tuple of int
        For columns of seconds: ``method.reading.Kind``.
    findings : tuple of Finding
        About the sheet and its cells.
    """

    source: str
    rows: tuple[int, ...]
    texts: dict[str, tuple[str | None, ...]]
    numbers: dict[str, tuple[float, ...]]
    kinds: dict[str, tuple[int, ...]]
    findings: tuple[Finding, ...]

    @property
    def n(self) -> int:
        """How many rows."""
        return len(self.rows)

    def has(self, name: str) -> bool:
        """Tell whether the sheet has a column."""
        return name in self.texts or name in self.numbers


def read_columns(
    data: bytes,
    source: str,
    *,
    texts: Sequence[str] = (),
    numbers: Sequence[str] = (),
    seconds: Sequence[str] = (),
    required: Sequence[str] = (),
) -> PlainColumns:
    """Read named columns of a CSV or xlsx; never raises on its content.

    Parameters
    ----------
    data : bytes
    source : str
        File name, for findings.
    texts, numbers, seconds : sequence of str
        Columns by how they are read; seconds may be ``<=62`` or ``>400``.
    required : sequence of str
        Without one of these there is no answer.

    Returns
    -------
    PlainColumns
        With ``column-not-a-number`` for each cell that cannot be read, and the findings of the sheet.
    """
    wanted = tuple(Column(n, Form.TEXT, required=n in required) for n in (*texts, *numbers, *seconds))
    table = open_sheet(data, source, wanted, None)
    if isinstance(table, tuple):
        return PlainColumns(source, (), {}, {}, {}, table)
    findings = [*table.findings, *_of_rows(table)]
    rows = tuple(int(r) for r in table.frame["row"].to_list())
    frame = table.frame
    read_texts = {n: tuple(frame[n].to_list()) for n in texts if n in frame.columns}
    read_numbers: dict[str, tuple[float, ...]] = {}
    kinds: dict[str, tuple[int, ...]] = {}
    for name in numbers:
        if name in frame.columns:
            values = [_number(text) for text in frame[name].to_list()]
            read_numbers[name] = tuple(math.nan if v is None else v for v in values)
            findings += _unread(source, name, rows, frame[name], [v is None for v in values])
    for name in seconds:
        if name in frame.columns:
            said = [_seconds(text) for text in frame[name].to_list()]
            read_numbers[name] = tuple(math.nan if s is None else s[0] for s in said)
            kinds[name] = tuple(0 if s is None else s[1] for s in said)
            findings += _unread(source, name, rows, frame[name], [s is None for s in said])
    return PlainColumns(source, rows, read_texts, read_numbers, kinds, tuple(findings))


def headers_of(data: bytes, source: str, known: Sequence[str]) -> tuple[str, ...]:
    """Return the headers of a sheet beside the known ones; empty where it cannot be read."""
    table = open_sheet(data, source, tuple(Column(n, Form.TEXT) for n in known), None)
    if isinstance(table, tuple):
        return ()
    ours = {n.casefold() for n in known}
    return tuple(h.strip() for h in table.grid.header if h.strip() and h.strip().casefold() not in ours)


def placed(findings: Sequence[Finding], columns: PlainColumns) -> tuple[Finding, ...]:
    """Return a room's findings with the sheet's rows: rooms count what they were given, from 1."""
    return tuple(
        replace(f, where=replace(f.where, row=columns.rows[f.where.row - 1], source=columns.source))
        if f.where.row is not None and f.where.row <= columns.n
        else f
        for f in findings
    )


def _of_rows(table: Table) -> list[Finding]:
    """Records that left the grid, and cells that the reader of sheets could not take."""
    out = [found(o.code, Where(source=table.name, row=o.row), **o.values) for o in table.grid.odd]
    rows = table.frame["row"].to_list()
    return out + [
        found(c.code, Where(source=table.name, row=rows[c.index], field=c.column), **c.values)
        for c in table.cells
    ]


def _unread(
    source: str, name: str, rows: tuple[int, ...], texts: pl.Series, missing: Sequence[bool]
) -> list[Finding]:
    bad = [i for i, (gone, text) in enumerate(zip(missing, texts.to_list(), strict=True)) if gone and text]
    return [
        Finding(
            "column-not-a-number",
            Where(source=source, row=rows[i], field=name),
            Severity.STOP,
            {"value": texts[i], "column": name},
        )
        for i in bad[:_NAMED]
    ]


def _number(text: str | None) -> float | None:
    bare = (text or "").replace("\N{MINUS SIGN}", "-").strip()
    if not _NUMBER.match(bare):
        return None
    return float(bare.replace(",", "."))


def _seconds(text: str | None) -> tuple[float, int] | None:
    bare = (text or "").replace("\N{MINUS SIGN}", "-").strip()
    number = _number(bare)
    if number is not None:
        return number, 0
    said = parse_seconds(bare) if bare else None
    return None if said is None else (said.value_s, int(said.kind))
