"""Numbers of one row of a small sheet, each within the span that it can have."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from lodestarch.sheets.typed import typed_number

__all__ = ["legal_numbers"]


def legal_numbers(
    row: Mapping[str, object], legal: Mapping[str, tuple[float, float]], needed: Collection[str]
) -> tuple[dict[str, float], str]:
    """Read the numbers of a row.

    Parameters
    ----------
    row : mapping of str to object
        Cells as text, by column.
    legal : mapping of str to (float, float)
        Columns, and the least and greatest number that can stand in each.
    needed : collection of str
        Columns that may not be empty.

    Returns
    -------
    numbers : dict of str to float
        Those that are stated.
    wrong : str
        The first column that holds something else; empty where there is none.

    Examples
    --------
    >>> legal_numbers({"hours": "5", "tonnes": "-3"}, {"hours": (0, 9), "tonnes": (0, 9)}, ())
    ({'hours': 5.0}, 'tonnes')
    """
    out: dict[str, float] = {}
    for column, (low, high) in legal.items():
        text = str(row.get(column) or "").strip()
        if not text and column not in needed:
            continue
        value = typed_number(text)
        if value is None or not low <= value <= high:
            return out, column
        out[column] = value
    return out, ""
