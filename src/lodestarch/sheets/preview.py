"""A sheet looked at before it is read: its header, its first rows, and what each column seems to be."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from lodestarch.common.findings import Finding, Where
from lodestarch.sheets.codes import found
from lodestarch.sheets.columns import BENCH, Column
from lodestarch.sheets.csv_text import read_grid
from lodestarch.sheets.decode import decode
from lodestarch.sheets.header import MOST_COLUMNS, Names
from lodestarch.sheets.workbook import is_package, read_workbook

__all__ = ["Preview", "SeenColumn", "look_at_sheet"]

_ROWS: Final = 6


@dataclass(frozen=True, slots=True)
class SeenColumn:
    """One column as it stands.

    Parameters
    ----------
    header : str
        As read; empty where the header row has nothing there.
    ours : str or None
        The column of ours that it is read as.
    cells : tuple of str
        The first ones beneath it.
    """

    header: str
    ours: str | None
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Preview:
    """A sheet as it is seen.

    Parameters
    ----------
    columns : tuple of SeenColumn
    rows : int
        Rows beneath the header.
    complete : bool
        Every column that is needed is there once.
    findings : tuple of Finding
        Why it cannot be looked at; then there are no columns.
    """

    columns: tuple[SeenColumn, ...]
    rows: int
    complete: bool
    findings: tuple[Finding, ...] = ()


def look_at_sheet(
    data: bytes,
    name: str,
    *,
    columns: tuple[Column, ...] = BENCH,
    mapping: Mapping[str, str] | None = None,
) -> Preview:
    r"""Look at a sheet; never raises on its content.

    Examples
    --------
    >>> seen = look_at_sheet(b"Lab no.;FN\n8814;287\n", "ours.csv")
    >>> [(c.header, c.ours, c.cells) for c in seen.columns], seen.complete
    ([('Lab no.', None, ('8814',)), ('FN', None, ('287',))], False)
    >>> look_at_sheet(b"Lab no.;FN\n8814;287\n", "x", mapping={"FN": "seconds", "Lab no.": "sample"}).complete
    True
    """
    names = Names.of(columns, mapping)
    if is_package(data):
        grid, found_first = read_workbook(data, name, names)
    else:
        decoded = decode(data, name)
        found_first = decoded.findings
        grid = None if decoded.text is None else read_grid(decoded.text, names)
    if grid is None:
        return Preview((), 0, complete=False, findings=found_first)
    if len(grid.header) > MOST_COLUMNS:
        where, met = Where(source=name), len(grid.header)
        wide = found("sheet-too-many-columns", where, columns=met, limit=MOST_COLUMNS)
        return Preview((), 0, complete=False, findings=(wide,))
    head = grid.cells.head(_ROWS)
    seen = tuple(
        SeenColumn(
            header.strip(),
            names.known(header) if header.strip() else None,
            tuple("" if cell is None else str(cell).strip() for cell in head[f"c{index}"]),
        )
        for index, header in enumerate(grid.header)
    )
    met_names = [one.ours for one in seen if one.ours is not None]
    wanted = {c.name for c in columns if c.required}
    complete = wanted <= set(met_names) and len(met_names) == len(set(met_names))
    return Preview(seen, len(grid.rows), complete=complete)
