"""What the parts of the page Season are made of, so that one template draws them all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from lodestarch.words.catalogues import term
from lodestarch.words.drawing.svg import Drawing

__all__ = ["Chart", "Part", "Table", "table_of"]


@dataclass(frozen=True, slots=True)
class Table:
    """A table: its caption, its columns (words, and whether they hold numbers), its rows."""

    caption: str
    columns: tuple[tuple[str, bool], ...]
    rows: tuple[tuple[str, ...], ...]
    open: bool


@dataclass(frozen=True, slots=True)
class Chart:
    """A picture with what its marks mean, and the same as a table."""

    picture: Drawing | None
    key: str
    table: Table | None
    wide: bool = False
    after: str = ""


@dataclass(frozen=True, slots=True)
class Part:
    """One part of the page; ``name`` is its place in the address, ``evidence`` are findings shown in it."""

    name: str
    title: str
    said: tuple[str, ...] = ()
    charts: tuple[Chart, ...] = ()
    notes: tuple[str, ...] = ()
    evidence: tuple[tuple[str, str, str], ...] = ()


_SHORT = 20
"""Rows up to which a table stands open beside its picture (a choice of ours)."""
_NARROW = 12
"""Columns up to which it does."""


def table_of(caption: str, heads: Sequence[str], rows: Sequence[tuple[str, ...]], *, words: int = 1) -> Table:
    """Make a table.

    Parameters
    ----------
    caption : str
    heads : sequence of str
        Names of words (``season.results-column``), or the words themselves.
    rows : sequence of tuple of str
    words : int
        Columns from the left that hold words; the others hold numbers.
    """
    columns = tuple((term(h) if "." in h and " " not in h else h, i >= words) for i, h in enumerate(heads))
    return Table(caption, columns, tuple(rows), len(rows) <= _SHORT and len(columns) <= _NARROW)
