"""Tables of terms as a plain document that can be kept, and back."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Final

from lodestarch.common.canonical import Json
from lodestarch.sheets.terms_entry import Key, Kind
from lodestarch.sheets.terms_keys import (
    BID,
    BIN,
    BUYER,
    CONTRACT,
    DELIVERY_POINT,
    LAYER,
    SCHEDULE,
    TABLES,
    TOP,
    VERSION,
)

__all__ = ["Tables", "added_to", "as_document", "entries_of", "of_document", "top_of"]

Tables = dict[str, object]
Entry = dict[str, object]

_KEYS: Final[tuple[Key, ...]] = (*TOP, *BUYER, *DELIVERY_POINT, *SCHEDULE, *CONTRACT, *BID, *BIN, *LAYER)
_DAYS: Final = frozenset(k.name for k in _KEYS if k.kind is Kind.DATE)


def as_document(value: object) -> Json:
    """Return tables, or a part of them, with days as ISO 8601 text.

    Raises
    ------
    TypeError
        For a value that no sound terms hold.

    Examples
    --------
    >>> as_document({"as_of": date(2031, 8, 12), "bid": [{"price": 6.2}]})
    {'as_of': '2031-08-12', 'bid': [{'price': 6.2}]}
    """
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Mapping):
        return {str(k): as_document(v) for k, v in value.items()}
    if isinstance(value, (list, tuple)):
        return [as_document(v) for v in value]
    if value is None or isinstance(value, (str, int, float, bool)):
        return value
    raise TypeError(type(value).__name__)


def of_document(value: Json, key: str = "") -> object:
    """Return what :func:`as_document` was given.

    Examples
    --------
    >>> of_document({"as_of": "2031-08-12", "title": "2031-08-12"})
    {'as_of': datetime.date(2031, 8, 12), 'title': '2031-08-12'}
    """
    if isinstance(value, dict):
        return {k: of_document(v, k) for k, v in value.items()}
    if isinstance(value, list):
        return [of_document(v) for v in value]
    if key in _DAYS and isinstance(value, str):
        return date.fromisoformat(value)
    return value


def entries_of(tables: Mapping[str, object], kind: str) -> list[Entry]:
    """Return the entries of one kind of table."""
    listed = tables.get(kind)
    return [e for e in listed if isinstance(e, dict)] if isinstance(listed, list) else []


def top_of(tables: Mapping[str, object]) -> Entry:
    """Return what stands at the top of a file."""
    return {k: v for k, v in tables.items() if k not in TABLES}


def added_to(standing: Mapping[str, object], more: Mapping[str, object]) -> Tables:
    """Return terms with the entries of others put in place of those of the same id, or behind them."""
    out: Tables = {**top_of(standing), **top_of(more), "terms": VERSION}
    for kind in TABLES:
        new = entries_of(more, kind)
        placed: list[Entry] = []
        for entry in entries_of(standing, kind):
            # One of two that share an id is put in place; the other stays behind them, and is told.
            at = next((i for i, e in enumerate(new) if e.get("id") == entry.get("id")), None)
            placed.append(entry if at is None else new.pop(at))
        if placed or new:
            out[kind] = [*placed, *new]
    return out
