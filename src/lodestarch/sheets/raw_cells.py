"""Cells of our columns as stripped text, one column each, before anything is read from them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import polars as pl

from lodestarch.sheets.cells import Trouble, at, longest, put
from lodestarch.sheets.columns import Column, Form
from lodestarch.sheets.decode import UNCLEAN
from lodestarch.sheets.grid import Grid
from lodestarch.sheets.safe_cells import QUOTED_LEAD

__all__ = ["LONGEST_CELL", "RawColumn", "column_texts"]

LONGEST_CELL: Final = 200
"""Longest text that a cell may hold. [characters]  Common practice: names and codes are shorter."""


@dataclass(frozen=True, slots=True)
class RawColumn:
    """Text of one column, empty being null, and the cells that had to be emptied."""

    text: pl.Series
    troubles: tuple[Trouble, ...]


def column_texts(
    grid: Grid, places: Mapping[str, tuple[int, ...]], columns: tuple[Column, ...]
) -> dict[str, RawColumn]:
    """Return the text of each column of ours that a grid has.

    Parameters
    ----------
    grid : Grid
    places : mapping
        Where each column stands; at more than one place when its header stands twice.
    columns : tuple of Column
        Those to return, each with a place.
    """
    wanted = sorted({p for c in columns for p in places[c.name]})
    stripped = grid.cells.select(f"c{p}" for p in wanted)
    if grid.padded:
        stripped = stripped.select(pl.all().str.strip_chars())
    if grid.apostrophes:
        stripped = stripped.select(pl.all().str.replace(QUOTED_LEAD, "${1}"))
    stripped = stripped.with_columns(_without_blanks(text) for text in stripped)
    return {
        column.name: _column([stripped[f"c{p}"] for p in places[column.name]], column, unclean=grid.unclean)
        for column in columns
    }


def _without_blanks(text: pl.Series) -> pl.Series:
    """The column with null for empty text."""
    blank = (text == "").fill_null(value=True)
    if not blank.any():
        return text
    if blank.all():
        return pl.Series(text.name, [None], dtype=pl.String).new_from_index(0, len(text))
    return pl.select(pl.when(~blank).then(text).alias(text.name)).to_series()


def _column(copies: list[pl.Series], column: Column, *, unclean: bool) -> RawColumn:
    text, troubles = _agreed(copies, column)
    if unclean:
        code = "row-key-unreadable" if column.form is Form.KEY else "field-characters"
        if column.form is not Form.SECONDS:
            troubles += [Trouble(i, code, {"value": t}) for i, t in at(text.str.contains(UNCLEAN), text)]
    if column.form in {Form.KEY, Form.TEXT} and longest(text) > LONGEST_CELL:
        code = "row-key-too-long" if column.form is Form.KEY else "field-too-long"
        troubles += [
            Trouble(i, code, {"length": len(t), "limit": LONGEST_CELL})
            for i, t in at(text.str.len_chars() > LONGEST_CELL, text)
        ]
    if not column.refuses:
        text = put(text, {t.index: None for t in troubles})
    return RawColumn(text, tuple(troubles))


def _agreed(copies: list[pl.Series], column: Column) -> tuple[pl.Series, list[Trouble]]:
    """One column from several of the same name; cells that differ are troubles."""
    text = copies[0]
    troubles: list[Trouble] = []
    for other in copies[1:]:
        code = "row-stated-twice" if column.refuses else "field-stated-twice"
        differ = at((text != other).fill_null(value=False), text)
        troubles += [Trouble(i, code, {"first": first, "second": other[i]}) for i, first in differ]
        text = pl.select(pl.coalesce(text, other)).to_series()
    return text, troubles
