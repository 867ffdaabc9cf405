"""Bins in layers on the seconds axis: a mark as tall as its tonnes, layers as ticks, limits through all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from lodestarch.words.catalogues import DEFAULT_LOCALE, term
from lodestarch.words.drawing.axis import (
    AXIS_PX,
    LABEL_PX,
    SecondsAxis,
    axis_for,
    drawn_limits,
    limit_lines,
)
from lodestarch.words.drawing.svg import Drawing, element, finished, percent, text
from lodestarch.words.limits import LimitShape
from lodestarch.words.numbers import number

__all__ = ["BinMark", "layered_bins"]

_TALLEST_PX: Final = 44.0
_ROW_PX: Final = 84.0
_LABEL_ROW_PX: Final = 24.0
_TICK_PX: Final = 16.0
_LEAST_PX: Final = 5.0
_FLOOR_S: Final = 62.0


@dataclass(frozen=True, slots=True)
class BinMark:
    """One row.

    Parameters
    ----------
    label : str
        Above the row.
    seconds : float or None
        As if turned. [s]
    tonnes : float
        [t]
    u_s : float or None
        Standard uncertainty; drawn twice to either side. [s]
    layers : tuple of (float, float)
        Seconds and tonnes of each layer that has a number. [s, t]
    """

    label: str
    seconds: float | None
    tonnes: float
    u_s: float | None
    layers: tuple[tuple[float, float], ...]


def _row(mark: BinMark, axis: SecondsAxis, base: float, tallest_t: float) -> list[str]:
    parts = [element("line", x1="0", x2="100%", y1=base, y2=base, class_="row-line")]
    levels = [s for s, _ in mark.layers]
    if len(levels) > 1:
        low, high = min(levels), max(levels)
        wide = percent(max(axis.share(high) - axis.share(low), 0.002))
        parts.append(element("rect", x=axis.at(low), y=base - 7, width=wide, height=7, class_="u-bar"))
    largest = max((t for _, t in mark.layers), default=1.0) or 1.0
    for seconds, tonnes in mark.layers:
        x = axis.at(seconds)
        tall = max(_LEAST_PX, _TICK_PX * tonnes / largest)
        parts.append(element("line", x1=x, x2=x, y1=base, y2=base + tall, class_="axis"))
    if mark.seconds is None:
        return parts
    if mark.u_s is not None and mark.u_s > 0.0:
        left, right = (axis.at(mark.seconds + k * mark.u_s) for k in (-2.0, 2.0))
        parts.append(element("line", x1=left, x2=right, y1=base - 3.5, y2=base - 3.5, class_="whisker"))
    tall = max(6.0, _TALLEST_PX * mark.tonnes / tallest_t)
    bar = element("rect", x=-5, y=-tall, width=10, height=tall, class_="bar")
    parts.append(element("svg", [bar], x=axis.at(mark.seconds), y=base, class_="over"))
    return parts


def _title(marks: Sequence[BinMark], limits: Sequence[LimitShape], locale: str) -> str:
    floors = [m.at_least_s for m in limits if m.at_least_s is not None]
    known = [m.seconds for m in marks if m.seconds is not None]
    if not floors or not known:
        return term("bins-kept.picture-bare", locale)
    highest = max(floors)
    above = sum(1 for s in known if s >= highest)
    return term("bins-kept.picture", locale, above=above, count=len(known), limit=f"{number(highest)}\u00a0s")


def layered_bins(
    marks: Sequence[BinMark], limits: Sequence[LimitShape], locale: str = DEFAULT_LOCALE
) -> Drawing:
    """Draw the bins as they stand; empty where there is none.

    Parameters
    ----------
    marks : sequence of BinMark
    limits : sequence of LimitShape
        Lines through all rows.
    """
    title = _title(marks, limits, locale)
    if not marks:
        return Drawing("", title)
    every = [s for m in marks for s, _ in m.layers] + [m.seconds for m in marks if m.seconds is not None]
    axis = axis_for(every, limits, _FLOOR_S)
    lines = limit_lines(limits, locale)
    head = float(LABEL_PX * len(lines) + 8)
    baseline = head + _ROW_PX * len(marks) + 10.0
    tallest = max((m.tonnes for m in marks), default=0.0) or 1.0
    parts = drawn_limits(lines, axis, baseline)
    for i, mark in enumerate(marks):
        top = head + _ROW_PX * i
        parts += _row(mark, axis, top + _LABEL_ROW_PX + _TALLEST_PX, tallest)
        parts.append(text(mark.label, "0", top + 18.0, "mark-label"))
    parts += axis.drawn(baseline, locale)
    return finished(parts, baseline + AXIS_PX, title)
