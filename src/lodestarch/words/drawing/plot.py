"""Curves over a common axis: any two quantities, direct labels, the axis titled with its unit.

The curves lie in a picture of their own inside the picture, of a thousand by a thousand, stretched to the
width there is; letters and lines keep their size.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from html import escape
from typing import Final

from lodestarch.words.drawing.svg import Drawing, element, finished, percent, text
from lodestarch.words.numbers import figure

__all__ = ["Axis", "Band", "Curve", "Dots", "Stake", "plot", "span_of", "ticks_for"]

LEFT: Final = 0.13
RIGHT: Final = 0.03
_UNIT: Final = 1000.0
_AXIS_PX: Final = 30
_TITLE_PX: Final = 22
_TOP_PX: Final = 24
_STAIR_PX: Final = 19
"""Height of one row of names above the curves."""
_NAME_PX: Final = 17.0
"""Between the names of two curves."""
_LEFT_FROM: Final = 0.62
"""Share of the width from which on a name stands left of its place."""


@dataclass(frozen=True, slots=True)
class Axis:
    """A span of one quantity: its ends, where its numbers stand, and its name with the unit."""

    low: float
    high: float
    ticks: tuple[float, ...]
    title: str

    def share(self, value: float) -> float:
        """Place along the span: 0 at its low end, 1 at its high one, never beyond."""
        return min(max((value - self.low) / (self.high - self.low), 0.0), 1.0)


@dataclass(frozen=True, slots=True)
class Curve:
    """Points joined by a line; ``class_`` is how it is drawn, ``label`` stands at its end."""

    xs: Sequence[float]
    ys: Sequence[float]
    class_: str
    label: str = ""


@dataclass(frozen=True, slots=True)
class Band:
    """The ground between two curves over the same places."""

    xs: Sequence[float]
    lows: Sequence[float]
    highs: Sequence[float]
    class_: str


@dataclass(frozen=True, slots=True)
class Dots:
    """Single points, not joined."""

    xs: Sequence[float]
    ys: Sequence[float]
    class_: str = "dot"


@dataclass(frozen=True, slots=True)
class Stake:
    """A place on the axis that has a name: a line through the whole height."""

    at: float
    label: str
    class_: str = field(default="stake")
    who: str = ""
    """Stands behind the label; left out on a narrow page."""


def span_of(values: Sequence[float], title: str, *, margin: float = 0.06, most: int = 6) -> Axis:
    """Give the axis that holds some values, with a margin on both sides.

    Parameters
    ----------
    values : sequence of float
        One or more, finite.
    title : str
        Name with unit.
    margin : float
        Share of the span. At least 0.
    most : int
        Numbers along it, at most.

    Examples
    --------
    >>> span_of([0.0, 100.0], "x", margin=0.0).ticks
    (0.0, 20.0, 40.0, 60.0, 80.0, 100.0)
    """
    low, high = min(values), max(values)
    room = margin * (high - low) if high > low else max(0.02 * abs(low), 1.0)
    return Axis(low - room, high + room, ticks_for(low - room, high + room, most), title)


def ticks_for(low: float, high: float, most: int = 6) -> tuple[float, ...]:
    """Round numbers within a span, ``most`` at most.

    Examples
    --------
    >>> ticks_for(0.0, 310.0), ticks_for(6.0, 8.0, 5)
    ((0.0, 100.0, 200.0, 300.0), (6.0, 6.5, 7.0, 7.5, 8.0))
    """
    rough = (high - low) / max(most - 1, 1)
    scale = 10.0 ** math.floor(math.log10(rough))
    steps = (step * scale for step in (1.0, 2.0, 5.0, 10.0))
    step = next((s for s in steps if s >= rough * (1.0 - 1e-9)), 10.0 * scale)
    first = math.ceil(low / step - 1e-9)
    last = math.floor(high / step + 1e-9)
    return tuple(round(i * step, 12) for i in range(first, last + 1))


def _along(x: Axis, value: float, right: float = RIGHT) -> float:
    """Place of a value along the width of the picture, as a share."""
    return LEFT + (1.0 - LEFT - right) * x.share(value)


def _points(xs: Sequence[float], ys: Sequence[float], x: Axis, y: Axis) -> list[str]:
    return [f"{_UNIT * x.share(a):.1f} {_UNIT * (1.0 - y.share(b)):.1f}" for a, b in zip(xs, ys, strict=True)]


def _path(points: list[str], class_: str, *, closed: bool = False) -> str:
    d = f"M{points[0]}L{' '.join(points[1:])}" + ("Z" if closed else "")
    return element("path", d=d, class_=class_)


@dataclass(frozen=True, slots=True)
class _Frame:
    """Where the curves lie in the picture: height above them, their height [px], share right of them."""

    top_px: float
    inner_px: float
    right: float

    def down(self, y: Axis, value: float) -> float:
        """Place of a value from the top. [px]"""
        return self.top_px + self.inner_px * (1.0 - y.share(value))


def _grid(x: Axis, y: Axis, frame: _Frame, *, numbered: bool) -> list[str]:
    left, right = percent(LEFT), percent(1.0 - frame.right)
    parts = []
    for tick in y.ticks:
        at = frame.down(y, tick)
        parts.append(element("line", x1=left, x2=right, y1=at, y2=at, class_="grid"))
        parts.append(text(figure(tick), left, at + 4.5, "tick-number", "end", -7))
    base = frame.top_px + frame.inner_px
    parts.append(element("line", x1=left, x2=right, y1=base, y2=base, class_="axis"))
    for tick in x.ticks:
        at_x = percent(_along(x, tick, frame.right))
        parts.append(element("line", x1=at_x, x2=at_x, y1=base, y2=base + 5, class_="axis"))
        if numbered:
            parts.append(text(figure(tick), at_x, base + 20, "tick-number", "middle"))
    return parts


def _labels(curves: Sequence[Curve], x: Axis, y: Axis, frame: _Frame) -> list[str]:
    """Names at the ends of curves; one that would lie on another is moved down."""
    if frame.right > RIGHT:
        return _beside(curves, y, frame)
    parts, taken = [], list[tuple[float, float]]()
    for curve in curves:
        if not curve.label:
            continue
        share = _along(x, curve.xs[-1])
        at = frame.down(y, curve.ys[-1]) + 4.0
        while any(abs(at - y0) < 15.0 and abs(share - x0) < 0.06 for x0, y0 in taken):
            at += 15.0
        taken.append((share, at))
        near_edge = share > 0.93
        place = ("end", -8.0) if near_edge else ("start", 7.0)
        lift = -8.0 if near_edge and at > 24.0 else 0.0
        parts.append(text(curve.label, percent(share), at + lift, "mark-label strong", *place))
    return parts


def _beside(curves: Sequence[Curve], y: Axis, frame: _Frame) -> list[str]:
    """Names right of the curves, in the order of their ends, none on another."""
    ends = sorted((frame.down(y, c.ys[-1]) + 4.5, c) for c in curves if c.label)
    places: list[float] = []
    for at, _ in ends:
        places.append(at if not places else max(at, places[-1] + _NAME_PX))
    over = max(0.0, places[-1] - (frame.top_px + frame.inner_px)) if places else 0.0
    edge = percent(1.0 - frame.right)
    return [
        text(
            c.label,
            edge,
            at - over,
            f"mark-label {'strong' if c.class_ == 'first' else ''}".strip(),
            "start",
            8,
        )
        for at, (_, c) in zip(places, ends, strict=True)
    ]


def _stake_labels(stakes: Sequence[Stake], x: Axis, frame: _Frame) -> list[str]:
    """Names of places; in stairs, the lowest on top, where rows are kept for them."""
    parts = []
    rows = frame.top_px > _TOP_PX
    for i, stake in enumerate(s for s in stakes if s.label):
        share = _along(x, stake.at, frame.right)
        at = _TOP_PX + 12.0 + _STAIR_PX * i if rows else _TOP_PX + 11.0
        if rows:
            parts.append(
                element(
                    "line",
                    x1=percent(share),
                    x2=percent(share),
                    y1=at - 11.0,
                    y2=frame.top_px,
                    class_="stake",
                )
            )
        who = element("tspan", [escape(f" {stake.who}")], class_="limit-who") if stake.who else ""
        left = share > _LEFT_FROM and rows
        anchor, dx = ("end", -5.0) if left else ("start", 5.0)
        name = [escape(stake.label), who]
        at_x = percent(share)
        parts.append(element("text", name, x=at_x, y=at, class_="band-label", text_anchor=anchor, dx=dx))
    return parts


def plot(
    curves: Sequence[Curve],
    x: Axis,
    y: Axis,
    title: str,
    *,
    bands: Sequence[Band] = (),
    stakes: Sequence[Stake] = (),
    dots: Sequence[Dots] = (),
    height_px: float = 260.0,
    numbered: bool = True,
    cursor: bool = False,
    right: float = RIGHT,
    stairs: bool = False,
) -> Drawing:
    """Draw curves.

    Parameters
    ----------
    curves : sequence of Curve
        Each of two points or more.
    x, y : Axis
        Spans; what lies beyond them is drawn at their ends.
    title : str
        A sentence: the name of the picture.
    bands : sequence of Band
        Beneath the curves.
    stakes : sequence of Stake
        Places along ``x`` that have a name.
    dots : sequence of Dots
        Above the curves.
    height_px : float
        Of the whole picture, at the usual size of letters.
    numbered : bool
        False where a picture beneath carries the numbers of ``x``.
    cursor : bool
        With a line that a script can move (``class="cursor"``, places from 0 to 1000).
    right : float
        Share of the width that is kept right of the curves; above the usual, their names stand there.
    stairs : bool
        Names of the stakes stand above the curves, a row each.
    """
    below = _AXIS_PX + _TITLE_PX if numbered else 8.0
    top_px = _TOP_PX + (_STAIR_PX * sum(bool(s.label) for s in stakes) if stairs else 0.0)
    frame = _Frame(top_px, height_px - top_px - below, right)
    inside = []
    for band in bands:
        ends = _points(band.xs, band.lows, x, y) + _points(band.xs, band.highs, x, y)[::-1]
        inside.append(_path(ends, f"between {band.class_}".strip(), closed=True))
    for stake in stakes:
        at = _UNIT * x.share(stake.at)
        inside.append(element("path", d=f"M{at:.1f} 0V1000", class_=stake.class_))
    inside += [_path(_points(c.xs, c.ys, x, y), f"curve {c.class_}".strip()) for c in curves]
    if cursor:
        inside.append(element("path", d="M0 0V1000", class_="cursor"))
    field_ = element(
        "svg", inside, x=percent(LEFT), y=frame.top_px, width=percent(1.0 - LEFT - right),
        height=frame.inner_px, viewBox="0 0 1000 1000", preserveAspectRatio="none", class_="over",
    )  # fmt: skip
    named = text(y.title, percent(LEFT), 13.0, "axis-title", "start", -7)
    parts = [named, *_grid(x, y, frame, numbered=numbered), field_, *_labels(curves, x, y, frame)]
    for group in dots:
        parts += [
            element(
                "circle", cx=percent(_along(x, a, right)), cy=frame.down(y, b), r=3.4, class_=group.class_
            )
            for a, b in zip(group.xs, group.ys, strict=True)
        ]
    parts += _stake_labels(stakes, x, frame)
    if numbered:
        parts.append(text(x.title, percent(1.0 - right), height_px - 5.0, "axis-title", "end"))
    return finished(parts, height_px, title)
