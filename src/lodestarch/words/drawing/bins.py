"""A row a bin on the seconds axis: a mark at its seconds as tall as its tonnes, loads as ticks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from lodestarch.method.reading import Kind
from lodestarch.plan.bin_state import BinState
from lodestarch.words.bins import bin_tonnes, bin_words
from lodestarch.words.catalogues import DEFAULT_LOCALE
from lodestarch.words.drawing.axis import (
    AXIS_PX,
    LABEL_PX,
    SecondsAxis,
    axis_for,
    drawn_limits,
    limit_lines,
)
from lodestarch.words.drawing.strip import StripMark, strip_title
from lodestarch.words.drawing.svg import Drawing, element, finished, percent, text
from lodestarch.words.limits import LimitShape

__all__ = ["bin_rows", "bins_title"]

_TALLEST_PX: Final = 40
_ROW_PX: Final = 76
_LABEL_ROW_PX: Final = 24


def _mark(state: BinState, axis: SecondsAxis, base: float, tallest_t: float) -> list[str]:
    if state.seconds is None:
        return []
    parts = []
    low = state.fn_low_s if state.fn_low_s is not None else state.seconds
    high = state.fn_high_s if state.fn_high_s is not None else axis.high_s
    x = axis.at(state.seconds)
    if high > low and state.kind != Kind.EXACT.value:
        wide = percent(axis.share(high) - axis.share(low))
        parts.append(element("rect", x=axis.at(low), y=base - 8, width=wide, height=8, class_="u-bar"))
    tall = max(6.0, _TALLEST_PX * state.tonnes_tested / tallest_t)
    bar = element("rect", x=-4, y=-tall, width=8, height=tall, class_="bar")
    parts.append(element("svg", [bar], x=x, y=base, class_="over"))
    return parts


def bins_title(bins: Sequence[BinState], limits: Sequence[LimitShape], locale: str = DEFAULT_LOCALE) -> str:
    """Say how many bins reach each lower limit as if turned."""
    marks = [
        StripMark(b.bin_id, b.seconds, Kind(b.kind), None, full=True)
        for b in bins
        if b.seconds is not None and b.kind is not None
    ]
    return strip_title(marks, limits, locale, of="bins")


def bin_rows(
    bins: Sequence[BinState],
    loads_s: Mapping[str, Sequence[float]],
    limits: Sequence[LimitShape],
    floor_s: float,
    locale: str = DEFAULT_LOCALE,
) -> Drawing:
    """Draw the bins of a day.

    Parameters
    ----------
    bins : sequence of BinState
    loads_s : mapping of str to sequence of float
        Results of the loads in each bin. [s]
    limits : sequence of LimitShape
        Lines through all rows.
    floor_s : float
        Where the axis starts. [s]

    Returns
    -------
    Drawing
        Empty where there is no bin.
    """
    title = bins_title(bins, limits, locale)
    if not bins:
        return Drawing("", title)
    axis = axis_for((s for seconds in loads_s.values() for s in seconds), limits, floor_s)
    lines = limit_lines(limits, locale)
    head = float(LABEL_PX * len(lines) + 8)
    baseline = head + _ROW_PX * len(bins) + 10
    tallest = max((b.tonnes_tested for b in bins), default=0.0) or 1.0
    parts = drawn_limits(lines, axis, baseline)
    for i, state in enumerate(bins):
        top = head + _ROW_PX * i
        base = top + _LABEL_ROW_PX + _TALLEST_PX
        parts.append(element("line", x1="0", x2="100%", y1=base, y2=base, class_="row-line"))
        for seconds in loads_s.get(state.bin_id, ()):
            x = axis.at(seconds)
            parts.append(element("line", x1=x, x2=x, y1=base, y2=base + 7, class_="axis"))
        parts += _mark(state, axis, base, tallest)
        said = f"{state.bin_id} · {bin_words(state, locale)} · {bin_tonnes(state, locale)}"
        parts.append(text(said, "0", top + 18, "mark-label"))
    parts += axis.drawn(baseline, locale)
    return finished(parts, baseline + AXIS_PX, title)
