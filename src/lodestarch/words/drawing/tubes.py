"""The readings of one sample on the seconds axis, with what they may lie apart, and the result beneath."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from lodestarch.method.reading import Kind, State
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
from lodestarch.words.numbers import figure, tidy
from lodestarch.words.result import u_text

__all__ = ["ResultMark", "TubeMark", "sample_tubes"]

_ROW_PX: Final = 34


@dataclass(frozen=True, slots=True)
class TubeMark:
    """One reading: its name (``tube 2``), seconds, kind, state, and what is said beside it."""

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


def _arrow(x: str, y: float, sign: int) -> str:
    path = element(
        "path", d=f"M{10 * sign} {y:g}h{14 * sign}m{-5 * sign} -4l{5 * sign} 4l{-5 * sign} 4", class_="beyond"
    )
    return element("svg", [path], x=x, class_="over")


def _reading(mark: TubeMark, axis: SecondsAxis, y: float) -> list[str]:
    x, share = axis.at(mark.seconds), axis.share(mark.seconds)
    off = mark.seconds > axis.high_s
    shape = _SHAPE[mark.state]
    parts = []
    if shape == "cross":
        path = element("path", d=f"M-5 {y - 5:g}l10 10m0 -10l-10 10", class_="cross")
        parts.append(element("svg", [path], x=x, class_="over"))
    else:
        parts.append(element("circle", cx=x, cy=y, r=6, class_=shape))
    if mark.kind is Kind.ABOVE or off:
        parts.append(_arrow(x, y, 1))
    elif mark.kind is Kind.AT_OR_BELOW or mark.seconds < axis.low_s:
        parts.append(_arrow(x, y, -1))
    right = share > 0.6
    away = 32 if mark.kind is Kind.ABOVE or off else 14
    beside = f"{mark.label} · {mark.said}"
    parts.append(text(beside, x, y + 5, "mark-label", "end" if right else "start", -14 if right else away))
    return parts


def _result(mark: ResultMark, axis: SecondsAxis, y: float, locale: str) -> list[str]:
    x = axis.at(mark.seconds)
    parts = []
    if mark.u_s:
        left, wide = axis.at(mark.seconds - mark.u_s), percent(axis.width(2.0 * mark.u_s))
        parts.append(element("rect", x=left, y=y - 6, width=wide, height=12, rx=6, class_="u-bar"))
    parts.append(element("line", x1=x, x2=x, y1=y - 11, y2=y + 11, class_="result-mark"))
    if mark.u_s:
        said = term("drawing.result", locale, figure=mark.figure, u=u_text(mark.u_s))
    else:
        said = term("drawing.result-bare", locale, figure=mark.figure)
    right = axis.share(mark.seconds) > 0.6
    gap = 100.0 * axis.width(mark.u_s or 0.0)
    beside = percent(axis.share(mark.seconds) + (-gap if right else gap) / 100.0)
    parts.append(
        text(said, beside, y + 5, "mark-label strong", "end" if right else "start", -14 if right else 14)
    )
    return parts


def _title(
    name: str, marks: Sequence[TubeMark], spread_s: float | None, limit_s: float | None, locale: str
) -> str:
    standing = [m for m in marks if m.state is not State.SET_ASIDE]
    if not standing:
        return term("drawing.tubes-none", locale, name=name)
    if spread_s is None or limit_s is None:
        seconds = ", ".join(figure(m.seconds, 1) for m in standing)
        return tidy(term("drawing.tubes-one", locale, name=name, figure=seconds))
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

    Returns
    -------
    Drawing
    """
    title = _title(name, marks, spread_s, limit_s, locale)
    axis = axis_for((m.seconds for m in marks), limits, floor_s)
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
