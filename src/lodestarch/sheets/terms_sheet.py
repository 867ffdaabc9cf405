"""A terms sheet (CSV or xlsx) as the tables of a terms file, each with its row."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import partial
from typing import Final

import polars as pl

from lodestarch.common.findings import Finding, Where
from lodestarch.sheets.cells import decimal_marks
from lodestarch.sheets.codes import found
from lodestarch.sheets.decode import decode
from lodestarch.sheets.header import LOOK_AT, Names
from lodestarch.sheets.take import Table, account, open_sheet
from lodestarch.sheets.terms_cells import terms_value
from lodestarch.sheets.terms_columns import BANDS, FILE, INLINE, ROWS, TABLE, TERMS_COLUMNS, InlineTable
from lodestarch.sheets.terms_entry import Key, Kind, Place, Twice
from lodestarch.sheets.terms_keys import BUYER, DELIVERY_POINT, VERSION
from lodestarch.sheets.workbook import is_package

__all__ = ["TermsRows", "is_terms_sheet", "read_terms_rows"]

Row = dict[str, str]
Tables = dict[str, object]
_SCHEMA: Final[dict[str, pl.DataType]] = {
    "row": pl.Int64(),
    "row_text": pl.String(),
    **{c.name: pl.String() for c in TERMS_COLUMNS},
}
_INLINE_KEYS: Final = {"buyer": BUYER, "delivery_point": DELIVERY_POINT}
_SHEETS: Final = (".csv", ".tsv", ".xlsx")


@dataclass(slots=True)
class TermsRows:
    """A sheet as tables.

    Parameters
    ----------
    tables : dict
        As a terms file has them.
    places : dict
        Rows, by table, id and prefix within the entry.
    findings : list of Finding
    """

    tables: Tables = field(default_factory=dict)
    places: dict[tuple[str, str, str], Place] = field(default_factory=dict)
    findings: list[Finding] = field(default_factory=list)


def is_terms_sheet(data: bytes, name: str, mapping: Mapping[str, str] | None = None) -> bool:
    r"""Tell a sheet from a TOML file: by its name, by being a workbook, or by a header among its first lines.

    Examples
    --------
    >>> is_terms_sheet(b"table;id;price\n", "offers.txt"), is_terms_sheet(b"terms = 1\n", "offers.txt")
    (True, False)
    """
    if name.casefold().endswith(_SHEETS) or is_package(data):
        return True
    if name.casefold().endswith(".toml"):
        return False
    names = Names.of(TERMS_COLUMNS, mapping)
    text = decode(data[:20_000], name).text or ""
    lines = (line.replace("\t", ",").replace(";", ",").split(",") for line in text.splitlines()[:LOOK_AT])
    return any(score[0] >= 1 and score[1] >= 2 for score in map(names.score, lines))


def read_terms_rows(data: bytes, name: str, mapping: Mapping[str, str] | None = None) -> TermsRows:
    """Take the rows of a terms sheet apart; never raises on its content.

    Parameters
    ----------
    data : bytes
        CSV or xlsx, told apart by content.
    name : str
        For findings.
    mapping : mapping of str to str, optional
        Header names of other sheets and ours that they stand for.
    """
    table = open_sheet(data, name, TERMS_COLUMNS, mapping)
    if isinstance(table, tuple):
        return TermsRows(findings=list(table))
    taken = account(table, table.frame, _SCHEMA)
    out = _Builder(name, partial(decimal_marks, _numbers(table), table.grid))
    out.rows.findings += taken.findings
    for line in taken.frame.iter_rows(named=True):
        cells = {c.name: line[c.name] for c in TERMS_COLUMNS if line[c.name]}
        out.take(int(line["row"]), cells)
    out.complete()
    return out.rows


def _numbers(table: Table) -> list[pl.Series]:
    names = {k.name for rows in ROWS.values() for k in (*rows.head, *rows.keys) if k.kind is Kind.NUMBER}
    return [table.frame[n] for n in table.frame.columns if n in names]


@dataclass(slots=True)
class _Entry:
    """An entry in the making: what its first row says, and further ones add."""

    table: str
    label: str
    raw: Tables = field(default_factory=dict)
    said: dict[str, tuple[str, int]] = field(default_factory=dict)


class _Builder:
    """Rows in, tables out."""

    def __init__(self, name: str, marks: Callable[[], frozenset[str]]) -> None:
        self.rows = TermsRows()
        self._name, self._marks = name, marks
        self._entries: dict[tuple[str, str], _Entry] = {}
        self._offers: list[tuple[int, Row]] = []

    def take(self, row: int, cells: Row) -> None:
        """Take one row."""
        kind = cells.pop(TABLE, "").casefold().replace(" ", "_")
        if kind not in ROWS:
            where, choices = Where(source=self._name, row=row, field=TABLE), ", ".join(ROWS)
            self.rows.findings.append(found("terms-row-table", where, value=kind, choices=choices))
            return
        known = ROWS[kind]
        label = FILE if kind == FILE else cells.get("id", "")
        entry = self._entries.get((kind, label)) if label and (known.inner or kind == FILE) else None
        first = entry is None
        if entry is None:
            entry = self._begin(kind, label, row)
        if kind in {"contract", "bid"}:
            cells = self._without_inline(row, cells)
        strangers = set(cells)
        for key in known.head:
            text = cells.get(key.name)
            # Of a schedule the unit of a later row is that of its band, which must be the same.
            if text is None or (kind == "schedule" and key.name == "unit" and not first):
                continue
            strangers.discard(key.name)
            self._say(entry, key, text, row)
        if known.inner is not None:
            strangers -= self._add(kind, entry, row, cells, first=first)
        for column in sorted(strangers):
            entry.raw[column] = cells[column]  # a key that this table does not have: said as such

    def _begin(self, kind: str, label: str, row: int) -> _Entry:
        entry = _Entry(kind, label)
        if kind == FILE:
            entry.raw = self.rows.tables
            self.rows.places["terms", "file", ""] = Place(row)
        else:
            listed = self.rows.tables.setdefault(kind, [])
            assert isinstance(listed, list)  # noqa: S101 - made above
            listed.append(entry.raw)
            self.rows.places[kind, label or f"#{len(listed)}", ""] = Place(row)
        self._entries.setdefault((kind, label), entry)
        return entry

    def _say(self, entry: _Entry, key: Key, text: str, row: int) -> None:
        """State a key; another row may repeat it and must not say otherwise."""
        before = entry.said.setdefault(key.name, (text, row))
        differs = before[0] != text
        entry.raw[key.name] = Twice(before[0], text, before[1]) if differs else self._value(key, text)
        if differs:
            self.rows.places[entry.table, entry.label, ""] = Place(row)

    def _value(self, key: Key, text: str) -> object:
        return terms_value(key, text, self._marks)

    def _add(self, kind: str, entry: _Entry, row: int, cells: Row, *, first: bool) -> set[str]:
        """Add what the row says of an item of the entry's list, and return the columns that were used."""
        known = ROWS[kind]
        inner = known.inner or ""
        keys = {known.columns.get(k.name, k.name): k for k in known.keys}
        head = {k.name for k in known.head}
        band = kind == "schedule" and ({"from", "to"} & set(cells) or cells.get("shape") == "table")
        if band:
            keys = {k.name: k for k in BANDS}
        of_item = [c for c in cells if c in keys and (c not in head or (c == "unit" and not first))]
        used = set(of_item) | ({"shape"} if band else set())
        if not of_item:
            return used
        raw = {keys[c].name: self._value(keys[c], cells[c]) for c in of_item}
        listed = entry.raw.setdefault(inner, [])
        assert isinstance(listed, list)  # noqa: S101 - made above
        prefix = f"{inner}[{len(listed) + 1}]."
        if band:
            if not listed or listed[-1].get("shape") != "table":
                listed.append({"shape": "table", "bands": []})
                self.rows.places[kind, entry.label, prefix] = Place(row)
            listed[-1]["bands"].append(raw)
            prefix = f"{inner}[{len(listed)}].bands[{len(listed[-1]['bands'])}]."
        else:
            listed.append(raw)
        named = {k.name: c for c, k in keys.items() if k.name != c}
        self.rows.places[kind, entry.label, prefix] = Place(row, named)
        return used

    def _without_inline(self, row: int, cells: Row) -> Row:
        """Set aside what the row of an offer says of its buyer and delivery point."""
        if "delivery_point" not in cells and "buyer" in cells:
            cells = {**cells, "delivery_point": cells["buyer"]}
        self._offers.append((row, cells))
        columns = {column for inline in INLINE for column in inline.columns.values()}
        return {k: v for k, v in cells.items() if k not in columns}

    def complete(self) -> None:
        """Make buyers and delivery points that have no row of their own; say what the sheet is."""
        for inline in INLINE:
            own = {label for kind, label in self._entries if kind == inline.table}
            for row, cells in self._offers:
                self._inline(inline, row, cells, own)
        self.rows.tables["terms"] = VERSION

    def _inline(self, inline: InlineTable, row: int, cells: Row, own: set[str]) -> None:
        label = cells.get(inline.refers)
        stated = {k: cells[c] for k, c in inline.columns.items() if c in cells}
        if label is None:
            return
        if label in own:
            # It has a row of its own: what stands here would be passed over, and that is told.
            for name in stated:
                column = inline.columns[name]
                where = Where(source=self._name, row=row, field=column)
                told = found("terms-key-unknown", where, table=inline.table, id=label, key=column)
                self.rows.findings.append(told)
            return
        entry = self._entries.get((inline.table, label))
        if entry is None:
            entry = self._begin(inline.table, label, row)
            self.rows.places[inline.table, label, ""] = Place(row, {**inline.columns, "id": inline.refers})
            entry.raw["id"] = label
            if inline.table == "delivery_point":
                entry.raw["buyer"] = cells.get("buyer", "")
        for key in _INLINE_KEYS[inline.table]:
            if key.name in stated:
                self._say(entry, key, stated[key.name], row)
        # A name is needed; where no row gives one, the id is what there is.
        if "name" not in entry.said:
            entry.raw["name"] = label
