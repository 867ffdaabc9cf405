"""Districts by week: a kernel a cell, as full as its share that meets a limit, as large as its count."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from typing import Final

from lodestarch.words.drawing.svg import Drawing, element, finished, percent, text
from lodestarch.words.numbers import number

__all__ = ["KernelCell", "KernelRow", "board_height", "kernel_board"]

_ROW_PX: Final = 46.0
_TOP_PX: Final = 34.0
_LEFT: Final = 0.17
_LARGEST_PX: Final = 15.0
_SMALLEST_PX: Final = 5.0
_LEAN: Final = 0.58
"""A kernel's width beside its height."""


@dataclass(frozen=True, slots=True)
class KernelCell:
    """Results of one place in one week, the share of them that meets the limit, and both as a sentence."""

    results: int
    meets: float
    said: str


@dataclass(frozen=True, slots=True)
class KernelRow:
    """One place and its weeks; ``None`` where nothing was tested."""

    name: str
    cells: Sequence[KernelCell | None]


def board_height(rows: int) -> float:
    """Height of a board of so many rows. [px]"""
    return _TOP_PX + _ROW_PX * rows


def _outline(half_px: float) -> str:
    """A kernel around the origin: two bows that meet in points above and below."""
    w, h = _LEAN * half_px, half_px
    bow, pull = 1.3 * w, 0.5 * h
    right = f"C{bow:.2f} {-pull:.2f} {bow:.2f} {pull:.2f} 0 {h:.2f}"
    left = f"C{-bow:.2f} {pull:.2f} {-bow:.2f} {-pull:.2f} 0 {-h:.2f}"
    return f"M0 {-h:.2f}{right}{left}Z"


def _kernel(cell: KernelCell, most: int, x: str, y: float, key: str) -> str:
    """The outline with its filled part, which rises from below."""
    half = max(_SMALLEST_PX, _LARGEST_PX * math.sqrt(cell.results / max(most, 1)))
    d = _outline(half)
    level = half - 2.0 * half * cell.meets
    clip = element("clipPath", [element("rect", x="-20", y=f"{level:.2f}", width="40", height="40")], id=key)
    parts = [clip] if 0.0 < cell.meets < 1.0 else []
    if cell.meets > 0.0:
        cut = f"url(#{key})" if cell.meets < 1.0 else None
        parts.append(element("path", d=d, class_="kernel-full", clip_path=cut))
    parts.append(element("path", d=d, class_="kernel-line"))
    said = element("title", [escape(cell.said)])
    return element("svg", [said, *parts], x=x, y=y, width=16, height=16, viewBox="0 0 16 16", class_="over")


def kernel_board(rows: Sequence[KernelRow], weeks: Sequence[str], title: str, key: str = "board") -> Drawing:
    """Draw the board.

    Parameters
    ----------
    rows : sequence of KernelRow
        Each with as many cells as there are weeks.
    weeks : sequence of str
        Names of the columns; where they are many, every second or third is written.
    title : str
        A sentence.
    key : str
        Begins the names of parts, where a page holds two boards.
    """
    most = max((c.results for r in rows for c in r.cells if c), default=1)
    step = max(1, math.ceil(len(weeks) / 10))
    width = (1.0 - _LEFT) / max(len(weeks), 1)
    parts = []
    for j, week in enumerate(weeks):
        if j % step == 0:
            parts.append(text(week, percent(_LEFT + width * (j + 0.5)), 14.0, "tick-number", "middle"))
    for i, row in enumerate(rows):
        y = _TOP_PX + _ROW_PX * i
        parts.append(element("line", x1="0", x2="100%", y1=y - 8.0, y2=y - 8.0, class_="row-line"))
        parts.append(text(row.name, "0", y + 16.0, "row-name strong"))
        for j, cell in enumerate(row.cells):
            if cell is None:
                continue
            at = percent(_LEFT + width * (j + 0.5))
            parts.append(_kernel(cell, most, at, y + 6.0, f"{key}-{i}-{j}"))
            parts.append(text(number(cell.results), at, y + 34.0, "tick-number", "middle"))
    return finished(parts, board_height(len(rows)), title)
