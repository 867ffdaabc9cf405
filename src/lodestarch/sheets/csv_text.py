"""Text to a grid: RFC 4180 with comma, semicolon or tab.

Two ways give the same grid. Text without a quotation mark, which is most of it, is split column by column
in polars; the rest goes through Python's ``csv`` in strict mode, and where that stops (a quotation mark left
open, a stray one) the line it stopped at is refused by itself and reading goes on with the next.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from dataclasses import replace
from typing import Final

from lodestarch.sheets.grid import LONGEST_ROW, SEPARATOR, Grid, Odd, build
from lodestarch.sheets.header import LOOK_AT, Names, header_index

__all__ = ["DELIMITERS", "LONGEST_QUOTE", "read_grid"]

DELIMITERS: Final = (",", ";", "\t")
LONGEST_QUOTE: Final = 50
"""Most lines that one quoted row may span; beyond that its quotation mark counts as left open."""


def read_grid(text: str, names: Names, *, unclean: bool = False, cut: bool = False) -> Grid:
    """Return the grid of a sheet's text.

    Parameters
    ----------
    text : str
        Lines end in a line feed (see ``decode``).
    names : Names
        What the header may say; also decides the delimiter, which is the one that finds most columns.
    unclean : bool
        The text holds replaced characters.
    cut : bool
        The bytes ended inside a character.
    """
    delimiter = _delimiter(text, names)
    open_end = cut or not text.endswith("\n")
    padded = True
    broken: list[Odd] = []
    if '"' in text:
        lines, broken = _quoted(text, delimiter)
    else:
        separated = text.replace(delimiter, SEPARATOR)
        padded = _padded(separated)
        lines = separated.split("\n")
        if not open_end or not lines[-1]:
            lines.pop()
    grid = build(lines, names, delimiter, open_end=open_end, broken=broken)
    return replace(grid, unclean=unclean, padded=padded, apostrophes="'" in text)


def _delimiter(text: str, names: Names) -> str:
    """The delimiter under which the first lines name most of our columns, then give most fields."""
    head = [line[:LONGEST_ROW] for line in text.split("\n", LOOK_AT)[:LOOK_AT]]
    best = ((-1, -1), -1)
    chosen = DELIMITERS[0]
    for delimiter in DELIMITERS:
        rows = [next(csv.reader([line], delimiter=delimiter), []) for line in head]
        row = rows[header_index(rows, names)]
        score = (names.score(row), len(row))
        if score > best:
            best, chosen = score, delimiter
    return chosen


def _padded(text: str) -> bool:
    """Whether a cell may have blanks around it; ``text`` with its separators in place."""
    if not text.isascii():
        return True
    edges = (SEPARATOR, "\n")
    return any(b in text and any(e + b in text or b + e in text for e in edges) for b in " \t\v\f")


def _quoted(text: str, delimiter: str) -> tuple[list[str], list[Odd]]:
    """Records of text with quotation marks; a broken one leaves a blank line in its place."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    try:
        lines = list(map(SEPARATOR.join, reader))
    except csv.Error:
        pass
    else:
        if reader.line_num == len(lines):
            return lines, []
    lines, broken = [], []
    for row, met in enumerate(_one_by_one(text.removesuffix("\n").split("\n"), delimiter), 1):
        if isinstance(met, Odd):
            broken.append(replace(met, row=row))
        lines.append("" if isinstance(met, Odd) else SEPARATOR.join(met))
    return lines, broken


def _one_by_one(lines: list[str], delimiter: str) -> Iterator[list[str] | Odd]:
    """Yield each record; a line whose quotation marks do not come out is refused by itself."""
    i = 0
    while i < len(lines):
        line = lines[i]
        if '"' not in line:
            yield line.split(delimiter)
            i += 1
            continue
        reader = csv.reader(
            (x + "\n" for x in lines[i : i + LONGEST_QUOTE]), delimiter=delimiter, strict=True
        )
        try:
            record = next(reader)
        except csv.Error:
            if len(line) > LONGEST_ROW:
                yield Odd(0, line, "row-too-long", {"length": len(line), "limit": LONGEST_ROW})
            else:
                yield Odd(0, line, "row-quote-stray" if reader.line_num == 1 else "row-quote-open")
            i += 1
        else:
            yield record
            i += reader.line_num
