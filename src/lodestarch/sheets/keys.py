"""Rows of one sheet that claim the same key."""

from __future__ import annotations

import polars as pl

from lodestarch.sheets.take import Table

__all__ = ["refuse_twins"]


def refuse_twins(table: Table, key: tuple[str, ...], *, differing: str) -> None:
    """Refuse every row whose key stands further up among the rows taken.

    Parameters
    ----------
    table : Table
        Its frame holds the columns of ``key``.
    key : tuple of str
        Columns that together name a row.
    differing : str
        Code where the two rows differ; where they are the same it is ``row-twice``.
    """
    keys = table.frame.select(*key).with_row_index("index")
    if table.cells:
        keys = keys.filter(table.taken())
    first = keys.select(pl.struct(*key).is_first_distinct()).to_series()
    if first.all():
        return
    again = keys.filter(~first)
    firsts = keys.unique(subset=list(key), keep="first", maintain_order=True)
    pairs = again.join(firsts, on=list(key), how="left", suffix="_first", maintain_order="left")
    texts, rows = table.frame["row_text"], table.frame["row"]
    for second, first in pairs.select("index", "index_first").iter_rows():
        same = texts[second] == texts[first]
        table.add(second, None, "row-twice" if same else differing, first_row=rows[first])
