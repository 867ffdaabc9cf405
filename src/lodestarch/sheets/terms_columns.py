"""The columns of a terms sheet: every key of a terms file in one row of headers.

A row says under ``table`` what it is a row of. A further row of the same table and id adds a part or band to
a schedule, a clause to a contract or bid, a layer to a bin.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from lodestarch.sheets.columns import Column, Form
from lodestarch.sheets.terms_entry import Key, Kind
from lodestarch.sheets.terms_keys import (
    BAND,
    BID,
    BIN,
    BUYER,
    CLAUSE,
    CONTRACT,
    DELIVERY_POINT,
    LAYER,
    PARTS,
    SCHEDULE,
    TOP,
)

__all__ = ["BANDS", "FILE", "INLINE", "ROWS", "TABLE", "TERMS_COLUMNS", "InlineTable", "RowTable"]

TABLE: Final = "table"
FILE: Final = "file"
"""What a row says under ``table`` that holds for the whole sheet."""


@dataclass(frozen=True, slots=True)
class RowTable:
    """What a row of one table may say.

    Parameters
    ----------
    head : tuple of Key
        Keys of the entry itself.
    inner : str or None
        Name of the list that further rows add to.
    keys : tuple of Key
        Keys of one item of it.
    columns : mapping of str to str
        Columns of keys of an item that are named otherwise.
    """

    head: tuple[Key, ...]
    inner: str | None = None
    keys: tuple[Key, ...] = ()
    columns: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class InlineTable:
    """An entry that a contract or bid may state in its own row, where it has no row of its own.

    Parameters
    ----------
    table : str
    refers : str
        Key of the offer that names it.
    columns : mapping of str to str
        Column of each of its keys.
    """

    table: str
    refers: str
    columns: Mapping[str, str]


def _plain(keys: tuple[Key, ...]) -> tuple[Key, ...]:
    return tuple(k for k in keys if k.kind is not Kind.TABLES)


_IN_ORDER: Final = (
    "shape", "below", "above", "step", "discount", "premium", "per", "most", "down_to", "up_to", "started",
    "at_least", "at_most", "action", "price", "unit",
)  # fmt: skip
"""Keys of a part as a person writes them."""


def _of_parts() -> tuple[Key, ...]:
    by_name = {k.name: k for keys in PARTS.values() for k in _plain(keys)}
    return tuple(sorted(by_name.values(), key=lambda k: _IN_ORDER.index(k.name)))


BANDS: Final = _plain(BAND)
ROWS: Final[dict[str, RowTable]] = {
    FILE: RowTable(tuple(k for k in _plain(TOP) if k.name != "terms")),
    "buyer": RowTable(BUYER),
    "delivery_point": RowTable(DELIVERY_POINT),
    "schedule": RowTable(_plain(SCHEDULE), "part", _of_parts()),
    "contract": RowTable(_plain(CONTRACT), "clause", CLAUSE),
    "bid": RowTable(_plain(BID), "clause", CLAUSE),
    "bin": RowTable(_plain(BIN), "layer", LAYER, {"tonnes": "layer_t"}),
}
"""Kinds of row, in the order in which a person writes them."""

_SAME: Final = ("use", "lab_sd_s", "lab_bias_s", "lab_bias_u_s", "test_fee", "test_fee_unit")
_WAY: Final = ("distance_mi", "distance_km", "freight", "freight_unit", "load_t")
INLINE: Final = (
    InlineTable("buyer", "buyer", {"name": "buyer_name"} | {k: k for k in _SAME}),
    InlineTable("delivery_point", "delivery_point", {"name": "place"} | {k: k for k in _WAY}),
)


def _names() -> tuple[str, ...]:
    names = [TABLE]
    for rows in ROWS.values():
        names += [k.name for k in rows.head]
        names += [rows.columns.get(k.name, k.name) for k in rows.keys]
        if rows.inner == "part":
            names += [k.name for k in BANDS]
    names += [column for inline in INLINE for column in inline.columns.values()]
    return tuple(dict.fromkeys(names))


TERMS_COLUMNS: Final = tuple(Column(name, Form.TEXT, required=name == TABLE) for name in _names())
"""A row a contract, bid or band of a schedule; only ``table`` is needed."""
