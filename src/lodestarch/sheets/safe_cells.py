"""Cells that a spreadsheet cannot take for a formula, and CSV made of them.

A text that starts with ``=``, ``+``, ``-``, ``@``, a tab or a line end gets a quote in front, in CSV and in
xlsx alike; numbers stay numbers, negative ones too. Our own readers take the quote off again.
"""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from typing import Final

from lodestarch.common.errors import OutOfRange

__all__ = ["QUOTED_LEAD", "Cell", "csv_bytes", "safe_cell", "safe_text"]

Cell = str | float | int | bool | date | datetime | None

_LEAD: Final = re.compile(r"^'*[=+\-@\t\r\n\x00]")
QUOTED_LEAD: Final = r"^'('*[=+\-@\t])"
"""Pattern of a text with our quote in front; the group is the text itself."""


def safe_text(text: str) -> str:
    """Return a text that no spreadsheet takes for a formula.

    Examples
    --------
    >>> safe_text("=1+1"), safe_text("-12A"), safe_text("8814")
    ("'=1+1", "'-12A", '8814')
    """
    return f"'{text}" if _LEAD.match(text) else text


def safe_cell(value: Cell) -> Cell:
    """Return a value as it may be written into a cell: text made safe, numbers and dates as they are.

    Raises
    ------
    OutOfRange
        When a number is not finite: what is not known is written as an empty cell.

    Examples
    --------
    >>> safe_cell("-287"), safe_cell(-287)
    ("'-287", -287)
    """
    if isinstance(value, str):
        return safe_text(value)
    if isinstance(value, float) and not math.isfinite(value):
        raise OutOfRange("cell", value, -math.inf, math.inf, "1")
    return value


def csv_bytes(header: Sequence[str], rows: Iterable[Sequence[Cell]], *, delimiter: str = ",") -> bytes:
    r"""Return a CSV by RFC 4180 in UTF-8, every text made safe.

    Parameters
    ----------
    header : sequence of str
        Column names.
    rows : iterable
        Cells; ``None`` is empty, dates and times in ISO form, ``True`` and ``False`` as yes and no.
    delimiter : str
        Between fields.

    Examples
    --------
    >>> csv_bytes(["sample", "seconds"], [["=A1", -287]])
    b"sample,seconds\r\n'=A1,-287\r\n"
    """
    out = io.StringIO()
    writer = csv.writer(out, delimiter=delimiter, lineterminator="\r\n")
    writer.writerow([safe_cell(h) for h in header])
    writer.writerows([_written(safe_cell(v)) for v in row] for row in rows)
    return out.getvalue().encode("utf-8")


def _written(value: Cell) -> str | float | int:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return value.isoformat() if isinstance(value, date) else value
