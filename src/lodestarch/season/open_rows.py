"""Rows of a season that may leave the house: coarser where a cell is small, and without names.

A row keeps district, variety and week only where enough results of enough growers share them; otherwise the
week is left empty, then the district, then the variety; what is still alone is withheld. No totals are given,
from which a withheld row could be worked out.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import polars as pl

from lodestarch.common.errors import OutOfRange
from lodestarch.common.findings import Finding, Severity, Where

__all__ = ["LEAST_GROWERS", "OPEN", "SMALLEST_CELL", "OpenRows", "open_rows"]

SMALLEST_CELL: Final = 5
"""Results that must share what a row says of itself.  Common practice of official statistics: 3 to 10."""

LEAST_GROWERS: Final = 3
"""Growers among them, where growers are known.  Common practice: so that no two can work the third out."""

OPEN: Final[dict[str, pl.DataType]] = {
    "season": pl.Int64(),
    "week": pl.Int64(),
    "district": pl.String(),
    "variety": pl.String(),
    "falling_number_s": pl.Float64(),
    "kind": pl.String(),  # exact, at or below, above
    "grower": pl.String(),
}
"""A row a result; ``grower`` serves to count and is left out of what is given unless it is asked for."""

_LEVELS: Final = (
    ("season", "week", "district", "variety"),
    ("season", "district", "variety"),
    ("season", "variety"),
    ("season",),
)


@dataclass(frozen=True, slots=True)
class OpenRows:
    """What may be given.

    Parameters
    ----------
    frame : polars.DataFrame
        In :data:`OPEN`, ordered by what it says and never by how it came in.
    given, coarser, withheld : int
        Rows given, of these without district, week or variety, and rows left out.
    findings : tuple of Finding
    """

    frame: pl.DataFrame
    given: int
    coarser: int
    withheld: int
    findings: tuple[Finding, ...]


def open_rows(
    frame: pl.DataFrame, *, smallest: int = SMALLEST_CELL, growers: int = LEAST_GROWERS,
    names: bool = False, source: str = "",
) -> OpenRows:  # fmt: skip
    """Make rows coarser until none stands alone.

    Parameters
    ----------
    frame : polars.DataFrame
        In :data:`OPEN`.
    smallest : int
        Results that a cell must have. Legal 1 to 1000.
    growers : int
        Growers that a cell must have, where any of them is known. Legal 1 to 1000.
    names : bool
        Keep the growers' names: with their consent only, and then nothing is made coarser.
    source : str
        For findings.

    Returns
    -------
    OpenRows
        With ``season-open-withheld``, ``season-open-coarser``, ``season-open-names``.

    Raises
    ------
    OutOfRange
        When a least number is not 1 to 1000.

    Examples
    --------
    >>> rows = pl.DataFrame({"season": [2031] * 6, "week": [32] * 6, "district": ["A"] * 5 + ["B"],
    ...     "variety": ["v"] * 6, "falling_number_s": [300.0] * 6, "kind": ["exact"] * 6,
    ...     "grower": [None] * 6}, schema=OPEN)
    >>> made = open_rows(rows)
    >>> made.given, made.withheld
    (5, 1)
    """
    for name, value in (("smallest_cell", smallest), ("least_growers", growers)):
        if not 1 <= value <= 1000:
            raise OutOfRange(name, value, 1, 1000, "1")
    where = Where(source=source or None)
    if names:
        told = Finding("season-open-names", where, Severity.CHECK, {"count": frame.height})
        return OpenRows(_ordered(frame), frame.height, 0, 0, (told,))
    left, given, coarser = frame, [], 0
    for i, kept in enumerate(_LEVELS):
        blank = [c for c in _LEVELS[0] if c not in kept]
        part = left.with_columns(pl.lit(None, dtype=OPEN[c]).alias(c) for c in blank)
        enough = part.select(_enough(kept, smallest, growers).alias("enough"))["enough"]
        out = part.filter(enough)
        given.append(out)
        coarser += out.height if i else 0
        left = left.filter(~enough)
    whole = pl.concat(given).with_columns(pl.lit(None, dtype=pl.String).alias("grower"))
    found = []
    if left.height:
        told_of = {"count": left.height, "smallest": smallest, "growers": growers}
        found.append(Finding("season-open-withheld", where, Severity.CHECK, told_of))
    if coarser:
        found.append(Finding("season-open-coarser", where, Severity.NOTE, {"count": coarser}))
    return OpenRows(_ordered(whole), whole.height, coarser, left.height, tuple(found))


def _enough(kept: tuple[str, ...], smallest: int, growers: int) -> pl.Expr:
    """Whether each row has enough company at a level."""
    keys = list(kept)
    known = pl.col("grower").is_not_null().any().over(keys)
    many = pl.col("grower").drop_nulls().n_unique().over(keys) >= growers
    return (pl.len().over(keys) >= smallest) & (~known | many)


def _ordered(frame: pl.DataFrame) -> pl.DataFrame:
    by = ["season", "week", "district", "variety", "falling_number_s", "kind", "grower"]
    return frame.select(list(OPEN)).sort(by, nulls_last=True)
