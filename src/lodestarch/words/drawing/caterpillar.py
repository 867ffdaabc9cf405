"""Intervals over one axis of seconds, a row a level: what a rating knows, and where the limit lies."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from lodestarch.words.drawing.plot import Axis
from lodestarch.words.drawing.svg import Drawing, element, finished, percent, text
from lodestarch.words.numbers import figure

__all__ = ["IntervalRow", "caterpillar", "caterpillar_height"]

_ROW_PX: Final = 26.0
_TOP_PX: Final = 24.0
_AXIS_PX: Final = 48.0
_LEFT: Final = 0.26
_RIGHT: Final = 0.2


@dataclass(frozen=True, slots=True)
class IntervalRow:
    """One level: its name, its estimate with both ends (none where not rated), and what is said beside it."""

    name: str
    at: float | None
    low: float | None
    high: float | None
    said: str


def caterpillar_height(count: int) -> float:
    """Height of a picture of so many rows. [px]"""
    return _TOP_PX + _ROW_PX * count + _AXIS_PX


def caterpillar(
    rows: Sequence[IntervalRow], x: Axis, title: str, *, limit: tuple[float, str] | None = None,
    middle: float | None = None,
) -> Drawing:  # fmt: skip
    """Draw intervals; a level that is not rated has its name and no mark.

    Parameters
    ----------
    rows : sequence of IntervalRow
    x : Axis
    title : str
        A sentence.
    limit : (float, str), optional
        Where a limit lies, and its label.
    middle : float, optional
        The mean towards which estimates are shrunken.
    """

    def at(value: float) -> str:
        return percent(_LEFT + (1.0 - _LEFT - _RIGHT) * x.share(value))

    base = _TOP_PX + _ROW_PX * len(rows)
    parts = []
    if middle is not None:
        parts.append(element("line", x1=at(middle), x2=at(middle), y1=_TOP_PX, y2=base, class_="zero"))
    if limit is not None:
        parts.append(element("line", x1=at(limit[0]), x2=at(limit[0]), y1=14.0, y2=base, class_="limit"))
        parts.append(text(limit[1], at(limit[0]), 12.0, "limit-label", "start", 6))
    for i, row in enumerate(rows):
        y = _TOP_PX + _ROW_PX * (i + 0.5)
        parts.append(text(row.name, "0", y + 5, "mark-label"))
        if row.at is not None and row.low is not None and row.high is not None:
            parts.append(element("line", x1=at(row.low), x2=at(row.high), y1=y, y2=y, class_="whisker"))
            parts.append(element("circle", cx=at(row.at), cy=y, r=4.5, class_="dot"))
        parts.append(text(row.said, "100%", y + 5, "mark-label", "end"))
    ends = (percent(_LEFT), percent(1.0 - _RIGHT))
    parts.append(element("line", x1=ends[0], x2=ends[1], y1=base, y2=base, class_="axis"))
    for tick in x.ticks:
        parts.append(element("line", x1=at(tick), x2=at(tick), y1=base, y2=base + 5, class_="axis"))
        parts.append(text(figure(tick), at(tick), base + 20, "tick-number", "middle"))
    parts.append(text(x.title, ends[1], base + 42, "axis-title", "end"))
    return finished(parts, base + _AXIS_PX, title)
