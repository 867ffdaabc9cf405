"""Text of a cell or a field as the value that a key of terms holds."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date
from typing import Final

from lodestarch.sheets.cells import NO, YES
from lodestarch.sheets.terms_entry import Key, Kind

__all__ = ["terms_value"]

_NUMBER: Final = re.compile(r"^[+-]?(?:[0-9]{1,12}(?:[.,][0-9]{0,20})?|[.,][0-9]{1,20})$")
_DOUBTFUL: Final = re.compile(r"^[+-]?[1-9][0-9]{0,2}([.,])[0-9]{3}$")
"""Digits, a mark, three digits: a thousands mark or a decimal mark."""
_MIDNIGHT: Final = re.compile(r"[T ]00:00(?::00(?:\.0+)?)?$")
"""A workbook writes a day as a moment."""
_BETWEEN: Final = re.compile(r"[\s;,|]+")


def terms_value(key: Key, text: str, marks: Callable[[], frozenset[str]]) -> object:
    """Return what a text says of a key; where it says nothing of its kind, the text itself.

    Parameters
    ----------
    key : Key
    text : str
        Stripped, not empty.
    marks : callable
        Gives the marks that a number with three digits after its mark may be read with as decimals.

    Examples
    --------
    >>> point = lambda: frozenset(".")
    >>> [terms_value(Key("price", Kind.NUMBER), text, point) for text in ("6,35", "1,250")]
    [6.35, '1,250']
    >>> terms_value(Key("schedules", Kind.TEXTS), "fn; protein", point)
    ['fn', 'protein']
    """
    if key.kind in {Kind.NUMBER, Kind.WHOLE}:
        return _number(key.kind, text, marks)
    if key.kind is Kind.DATE:
        try:
            return date.fromisoformat(_MIDNIGHT.sub("", text))
        except ValueError:
            return text
    if key.kind is Kind.FLAG:
        word = text.casefold()
        return True if word in YES else False if word in NO else text
    if key.kind is Kind.TEXTS:
        return [part for part in _BETWEEN.split(text) if part]
    return text


def _number(kind: Kind, text: str, marks: Callable[[], frozenset[str]]) -> float | int | str:
    bare = text.replace("\N{MINUS SIGN}", "-")
    if not _NUMBER.match(bare):
        return text
    doubtful = _DOUBTFUL.match(bare)
    if doubtful is not None and doubtful[1] not in marks():
        return text
    value = float(bare.replace(",", "."))
    return int(value) if kind is Kind.WHOLE and value.is_integer() else value
