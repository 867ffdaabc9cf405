"""The readings of one sample on the seconds axis, with what they may lie apart, and the result beneath."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from lodestarch.method.reading import Kind, State
from lodestarch.words.catalogues import DEFAULT_LOCALE, term
from lodestarch.words.drawing.axis import (
    AXIS_PX,
    GUTTER,
    LABEL_PX,
    SecondsAxis,
    axis_for,
    drawn_limits,
    limit_lines,
)
from lodestarch.words.drawing.svg import Drawing, element, finished, percent, sign, text
from lodestarch.words.limits import LimitShape
from lodestarch.words.numbers import figure, tidy
from lodestarch.words.result import u_text

__all__ = ["ResultMark", "TubeMark", "sample_tubes"]

_ROW_PX: Final = 34


@dataclass(frozen=True, slots=True)
class TubeMark:
    """One reading: its name (``tube 2``), seconds, kind, state, and what is written beside its mark."""

    label: str
    seconds: float
    kind: Kind
    state: State
    said: str


@dataclass(frozen=True, slots=True)
class ResultMark:
    """The result of the sample, drawn beneath its readings."""

    seconds: float
    kind: Kind
    u_s: float | None
    figure: str


_SHAPE: Final = {State.STANDS: "dot", State.RUN_AGAIN: "dot open", State.SET_ASIDE: "cross"}


_CROSS: Final = "M-5 -5l10 10m0 -10l-10 10"
_TO_RIGHT: Final = "M10 0h14m-5 -4l5 4l-5 4"
_TO_LEFT: Final = "M-10 0h-14m5 -4l-5 4l5 4"


def _reading(mark: TubeMark, axis: SecondsAxis, y: float) -> list[str]:
    x, share = axis.at(mark.seconds), axis.share(mark.seconds)
    off = mark.seconds > axis.high_s
    shape = _SHAPE[mark.state]
    parts = []
    if shape == "cross":
        parts.append(sign(_CROSS, x, y, "cross"))
    else:
        parts.append(element("circle", cx=x, cy=y, r=6, class_=shape))
    if mark.kind is Kind.ABOVE or off:
        parts.append(sign(_TO_RIGHT, x, y, "beyond"))
    elif mark.kind is Kind.AT_OR_BELOW or mark.seconds < axis.low_s:
        parts.append(sign(_TO_LEFT, x, y, "beyond"))
    beyond = mark.kind is Kind.ABOVE or off
    right = share > 0.85
    parts.append(text(mark.label, "0", y + 5, "row-name"))
    away = -14 if right else 32 if beyond else 13
    parts.append(text(mark.said, x, y + 5, "mark-label", "end" if right else "start", away))
    return parts


def _result(mark: ResultMark, axis: SecondsAxis, y: float, locale: str) -> list[str]:
    x = axis.at(mark.seconds)
    parts = []
    if mark.u_s:
        left, wide = axis.at(mark.seconds - mark.u_s), percent(axis.width(2.0 * mark.u_s))
        parts.append(element("rect", x=left, y=y - 6, width=wide, height=12, rx=6, class_="u-bar"))
    parts.append(element("line", x1=x, x2=x, y1=y - 11, y2=y + 11, class_="result-mark"))
    said = mark.figure
    if mark.u_s:
        said = term("drawing.with-u", locale, figure=mark.figure, u=u_text(mark.u_s))
    right = axis.share(mark.seconds) > 0.85
    gap = axis.width(mark.u_s or 0.0)
    beside = percent(axis.share(mark.seconds) + (-gap if right else gap))
    anchor, away = ("end", -10) if right else ("start", 10)
    parts.append(text(term("drawing.result", locale), "0", y + 5, "row-name strong"))
    parts.append(text(said, beside, y + 5, "mark-label strong", anchor, away))
    return parts


def _title(
    name: str,
    marks: Sequence[TubeMark],
    spread_s: float | None,
    limit_s: float | None,
    locale: str,
    *,
    tubes_stated: bool,
) -> str:
    standing = [m for m in marks if m.state is State.STANDS]
    if not standing and spread_s is None:
        return term("drawing.tubes-none", locale, name=name)
    if spread_s is None or limit_s is None:
        seconds = ", ".join(figure(m.seconds, 1) for m in standing)
        key = "drawing.tubes-one" if tubes_stated else "drawing.tubes-unstated"
        return tidy(term(key, locale, name=name, figure=seconds))
    apart = {"spread": figure(spread_s, 1), "limit": figure(limit_s, 1)}
    return tidy(term("drawing.tubes-agree", locale, name=name, **apart))


def sample_tubes(
    name: str,
    marks: Sequence[TubeMark],
    result: ResultMark | None,
    limits: Sequence[LimitShape],
    *,
    floor_s: float,
    mean_s: float | None = None,
    spread_s: float | None = None,
    limit_s: float | None = None,
    tubes_stated: bool = True,
    locale: str = DEFAULT_LOCALE,
) -> Drawing:
    """Draw the readings of one sample.

    Parameters
    ----------
    name : str
        Ticket or sample.
    marks : sequence of TubeMark
        In the order of the sheet.
    result : ResultMark or None
    limits : sequence of LimitShape
    floor_s : float
        Where the axis starts. [s]
    mean_s, spread_s, limit_s : float or None
        Middle of the readings that count, how far they lie apart, and how far they may. [s]
    tubes_stated : bool
        False where one number stands for an unknown count of tubes.

    Returns
    -------
    Drawing
    """
    title = _title(name, marks, spread_s, limit_s, locale, tubes_stated=tubes_stated)
    axis = axis_for((m.seconds for m in marks), limits, floor_s, left=GUTTER)
    lines = limit_lines(limits, locale)
    head = float(LABEL_PX * len(lines) + 12)
    rows = len(marks) + (result is not None)
    banded = mean_s is not None and limit_s is not None
    baseline = head + _ROW_PX * rows + (LABEL_PX if banded else 0) + 8
    parts: list[str] = []
    if mean_s is not None and limit_s is not None:
        left, wide = axis.at(mean_s - limit_s / 2.0), percent(axis.width(limit_s))
        tall = _ROW_PX * len(marks)
        parts.append(element("rect", x=left, y=head, width=wide, height=tall, class_="band"))
    parts += drawn_limits(lines, axis, baseline)
    for i, mark in enumerate(marks):
        parts += _reading(mark, axis, head + _ROW_PX * (i + 0.5))
    y = head + _ROW_PX * len(marks)
    if mean_s is not None and limit_s is not None:
        said = term("drawing.band", locale, limit=figure(limit_s, 0))
        parts.append(text(said, axis.at(mean_s), y + 15, "band-label", "middle"))
        y += LABEL_PX
    if result is not None:
        parts += _result(result, axis, y + _ROW_PX * 0.5, locale)
    parts += axis.drawn(baseline, locale)
    return finished(parts, baseline + AXIS_PX, title)
