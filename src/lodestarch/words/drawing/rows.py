"""Bars and marks, a row a name, over one axis: what each of several things does."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from lodestarch.words.drawing.plot import Axis
from lodestarch.words.drawing.svg import Drawing, element, finished, percent, text
from lodestarch.words.numbers import figure

__all__ = ["BarRow", "MarkRow", "bar_rows", "mark_rows", "rows_height"]

_ROW_PX: Final = 34.0
_AXIS_PX: Final = 48.0
_LEFT: Final = 0.36
_RIGHT: Final = 0.10


@dataclass(frozen=True, slots=True)
class BarRow:
    """One thing: its name, how far its bar reaches from zero, the same written out, and its uncertainty."""

    name: str
    value: float
    said: str
    u: float | None = None


@dataclass(frozen=True, slots=True)
class MarkRow:
    """One thing met twice: a full mark and an open one, joined."""

    name: str
    full: float
    open_: float
    said: str


def _at(x: Axis, value: float) -> float:
    return _LEFT + (1.0 - _LEFT - _RIGHT) * x.share(value)


def rows_height(count: int) -> float:
    """Height of a picture of so many rows. [px]"""
    return _ROW_PX * count + _AXIS_PX + 6.0


def _axis(x: Axis, base: float) -> list[str]:
    parts = [element("line", x1=percent(_LEFT), x2=percent(1.0 - _RIGHT), y1=base, y2=base, class_="axis")]
    for tick in x.ticks:
        at = percent(_at(x, tick))
        parts.append(element("line", x1=at, x2=at, y1=base, y2=base + 5, class_="axis"))
        parts.append(text(figure(tick), at, base + 20, "tick-number", "middle"))
    parts.append(text(x.title, "100%", base + 42, "axis-title", "end"))
    return parts


def bar_rows(rows: Sequence[BarRow], x: Axis, title: str) -> Drawing:
    """Draw bars from zero; a line through the end of a bar is one standard uncertainty either way."""
    base = _ROW_PX * len(rows) + 6.0
    zero = _at(x, 0.0)
    parts = [element("line", x1=percent(zero), x2=percent(zero), y1=0.0, y2=base, class_="zero")]
    for i, row in enumerate(rows):
        y = _ROW_PX * (i + 0.5)
        parts.append(text(row.name, "0", y + 5, "mark-label"))
        parts.append(_bar(x, row.value, y - 8, 16.0, "bar"))
        if row.u:
            ends = (percent(_at(x, row.value - row.u)), percent(_at(x, row.value + row.u)))
            parts.append(element("line", x1=ends[0], x2=ends[1], y1=y, y2=y, class_="whisker"))
        parts.append(text(row.said, "100%", y + 5, "mark-label", "end"))
    return finished([*parts, *_axis(x, base)], base + _AXIS_PX, title)


def _bar(x: Axis, value: float, y: float, height: float, class_: str) -> str:
    a, b = sorted((_at(x, 0.0), _at(x, value)))
    return element("rect", x=percent(a), width=percent(b - a), y=y, height=height, class_=class_)


def mark_rows(rows: Sequence[MarkRow], x: Axis, title: str) -> Drawing:
    """Draw two marks a row, joined: the full one and the open one."""
    base = _ROW_PX * len(rows) + 6.0
    parts = []
    for i, row in enumerate(rows):
        y = _ROW_PX * (i + 0.5)
        a, b = percent(_at(x, row.full)), percent(_at(x, row.open_))
        parts.append(text(row.name, "0", y + 5, "mark-label"))
        parts.append(element("line", x1=a, x2=b, y1=y, y2=y, class_="joined"))
        parts.append(element("circle", cx=b, cy=y, r=6, class_="dot open"))
        parts.append(element("circle", cx=a, cy=y, r=5, class_="dot"))
        parts.append(text(row.said, "100%", y + 5, "mark-label", "end"))
    return finished([*parts, *_axis(x, base)], base + _AXIS_PX, title)
