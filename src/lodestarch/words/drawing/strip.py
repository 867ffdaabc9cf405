"""All samples of a day on the seconds axis: a dot a sample, its bar as wide as its uncertainty."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from typing import Final, Literal

from lodestarch.method.reading import Kind
from lodestarch.words.catalogues import DEFAULT_LOCALE, term
from lodestarch.words.drawing.axis import (
    AXIS_PX,
    LABEL_PX,
    SecondsAxis,
    axis_for,
    drawn_limits,
    limit_lines,
)
from lodestarch.words.drawing.svg import Drawing, element, finished, percent, sign, text
from lodestarch.words.limits import LimitShape, short_name
from lodestarch.words.numbers import figure, number

__all__ = ["StripMark", "day_strip", "strip_title"]

MOST_DOTS: Final = 400
"""From here on samples are drawn as steps of a histogram: single dots can no longer be told apart."""

_ROW_PX: Final = 12
_DOT_PX: Final = 4
_GAP_S: Final = 2.0
_GOLDEN: Final = 0.6180339887498949
_LEAST_HALF_S: Final = 5.0
"""Half a dot on a narrow page, in seconds, so that dots never overlap there."""
_BAR_S: Final = 10.0
_BARS_PX: Final = 120


@dataclass(frozen=True, slots=True)
class StripMark:
    """One sample with a result.

    Parameters
    ----------
    name : str
        Ticket or sample, for the tip.
    seconds : float
        Result, or its bound. [s]
    kind : Kind
    u_s : float or None
        Standard uncertainty. [s]
    full : bool
        On as many tubes as the profile asks.
    href : str or None
        Where a click leads.
    """

    name: str
    seconds: float
    kind: Kind
    u_s: float | None
    full: bool
    href: str | None = None


def _half_width(mark: StripMark) -> float:
    return max(_LEAST_HALF_S, mark.u_s or 0.0)


def _rows(marks: Sequence[StripMark]) -> list[int]:
    """Row of each mark, from the baseline up: the lowest one where its bar touches no other.

    Marks are laid down in an order that is spread over the axis (steps of the golden section), always the
    same: laid down from left to right they would lean.
    """
    n = len(marks)
    order = sorted(range(n), key=lambda i: (i * _GOLDEN) % 1.0)
    laid: list[list[tuple[float, float]]] = []
    rows = [0] * n
    for i in order:
        half = _half_width(marks[i]) + _GAP_S / 2.0
        low, high = marks[i].seconds - half, marks[i].seconds + half
        free = (r for r, row in enumerate(laid) if all(high <= a or b <= low for a, b in row))
        rows[i] = next(free, len(laid))
        if rows[i] == len(laid):
            laid.append([])
        laid[rows[i]].append((low, high))
    return rows


def _tip(mark: StripMark) -> str:
    sign = {Kind.EXACT: "", Kind.AT_OR_BELOW: "≤ ", Kind.ABOVE: "> "}[mark.kind]
    return f"{mark.name} · {sign}{figure(mark.seconds, 1)} s"


def _drawn_mark(mark: StripMark, axis: SecondsAxis, y: float) -> str:
    x = axis.at(mark.seconds)
    parts = [element("title", [escape(_tip(mark))])]
    if mark.kind is Kind.EXACT and mark.u_s:
        left, wide = axis.at(mark.seconds - mark.u_s), axis.width(2.0 * mark.u_s)
        bar = element("rect", x=left, y=y - 3.5, width=percent(wide), height=7, rx=3.5, class_="u-bar")
        parts.append(bar)
    if mark.kind is Kind.ABOVE:
        parts.append(sign("M0 0h14m-5 -4l5 4l-5 4", x, y, "beyond"))
    shape = "dot" if mark.full else "dot open"
    parts.append(element("circle", cx=x, cy=y, r=_DOT_PX, class_=shape))
    if mark.href is None:
        return element("g", parts)
    return element("a", parts, href=mark.href, tabindex="-1")


def _dots(marks: Sequence[StripMark], axis: SecondsAxis, head: float) -> tuple[list[str], float]:
    ordered = sorted(marks, key=lambda m: m.seconds)
    rows = _rows(ordered)
    baseline = head + _ROW_PX * (max(rows, default=0) + 1) + 6
    at = [baseline - 4 - _ROW_PX * (row + 0.5) for row in rows]
    return [_drawn_mark(m, axis, y) for m, y in zip(ordered, at, strict=True)], baseline


def _bars(marks: Sequence[StripMark], axis: SecondsAxis, head: float) -> tuple[list[str], float]:
    counts: dict[int, int] = {}
    for mark in marks:
        step = int(min(max(mark.seconds, axis.low_s), axis.high_s - 0.01) // _BAR_S)
        counts[step] = counts.get(step, 0) + 1
    baseline = head + _BARS_PX
    most = max(counts.values(), default=1)
    parts = []
    for step, count in sorted(counts.items()):
        tall = max(1.0, (_BARS_PX - 16) * count / most)
        left = axis.at(step * _BAR_S)
        wide = percent(axis.width(_BAR_S) * 0.92)
        tip = element("title", [escape(f"{figure(step * _BAR_S)}–{figure((step + 1) * _BAR_S)} s: {count}")])
        bar = element("rect", [tip], x=left, y=baseline - tall, width=wide, height=tall, class_="bar")
        parts.append(bar)
    return parts, baseline


def _reaching(marks: Sequence[StripMark], seconds: float) -> int:
    """Results that reach a limit; one at or below its bound is never taken to."""
    return sum(m.seconds >= seconds and m.kind is not Kind.AT_OR_BELOW for m in marks)


def strip_title(
    marks: Sequence[StripMark],
    limits: Sequence[LimitShape],
    locale: str = DEFAULT_LOCALE,
    *,
    of: Literal["results", "bins"] = "results",
) -> str:
    """Say what a picture shows: how many results, or bins, reach each lower limit; else their span."""
    if not marks:
        return term("drawing.no-results", locale)
    names: dict[float, list[str]] = {}
    for m in limits:
        if m.at_least_s is not None:
            names.setdefault(m.at_least_s, []).append(short_name(m.buyer))
    if not names:
        seconds = [m.seconds for m in marks]
        low, high = figure(min(seconds)), figure(max(seconds))
        return term(f"drawing.{of}-plain", locale, count=len(marks), low=low, high=high)
    said = [
        term(
            "drawing.reach-more" if i else f"drawing.{of}-reach",
            locale,
            count=_reaching(marks, s),
            of=len(marks),
            seconds=figure(s),
            who=", ".join(dict.fromkeys(buyers)),
        )
        for i, (s, buyers) in enumerate(sorted(names.items(), reverse=True))
    ]
    if len(said) == 1:
        return term("drawing.reach-only", locale, first=said[0])
    return term("drawing.reach-all", locale, first=said[0], rest="; ".join(said[1:]))


def day_strip(
    marks: Sequence[StripMark], limits: Sequence[LimitShape], floor_s: float, locale: str = DEFAULT_LOCALE
) -> Drawing:
    """Draw all samples of a day.

    Parameters
    ----------
    marks : sequence of StripMark
        Samples that have a result.
    limits : sequence of LimitShape
        Drawn as named lines.
    floor_s : float
        Where the axis starts. [s]

    Returns
    -------
    Drawing
        Empty where there is nothing to draw.
    """
    title = strip_title(marks, limits, locale)
    if not marks:
        return Drawing("", title)
    axis = axis_for((m.seconds for m in marks), limits, floor_s)
    lines = limit_lines(limits, locale)
    head = float(LABEL_PX * len(lines) + 10)
    many = len(marks) > MOST_DOTS
    drawn, baseline = (_bars if many else _dots)(marks, axis, head)
    at_floor = sum(m.kind is Kind.AT_OR_BELOW for m in marks)
    parts = [*drawn_limits(lines, axis, baseline), element("g", drawn)]
    parts += axis.drawn(baseline, locale)
    if at_floor:
        said = term("drawing.strip-floor", locale, count=number(at_floor))
        parts.append(text(said, "0", baseline + 42, "axis-title"))
    return finished(parts, baseline + AXIS_PX, title, linked=any(m.href for m in marks) and not many)
