"""Price against seconds, a curve a buyer, with 50 reports of like chance standing on the axis."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from lodestarch.words.catalogues import DEFAULT_LOCALE, term
from lodestarch.words.drawing.plot import Axis, Curve, Dots, Stake, plot, ticks_for
from lodestarch.words.drawing.svg import Drawing
from lodestarch.words.numbers import figure

__all__ = ["PRICES_PX", "BuyerCurve", "price_picture"]

PRICES_PX: Final = 380.0
"""Height of the picture."""

_DOT: Final = 0.029
"""Height of a dot, as a share of the picture's own."""
_COLUMNS: Final = 72
"""Columns of dots over the width: as many as fit without touching in a picture of 620 px."""
_MARGIN: Final = 0.06
_BESIDE: Final = 0.26
"""Share of the width in which the buyers' names stand."""
_BELOW: Final = 0.26
"""Share of the height that is kept for the dots beneath the lowest price."""


@dataclass(frozen=True, slots=True)
class BuyerCurve:
    """Net by seconds at one buyer: corners [s], [money per unit of the place]; the best is drawn strong."""

    name: str
    seconds: Sequence[float]
    net: Sequence[float]
    best: bool


def price_picture(
    curves: Sequence[BuyerCurve],
    reports_s: Sequence[float],
    limits: Sequence[tuple[float, str]],
    unit: str,
    title: str,
    locale: str = DEFAULT_LOCALE,
) -> Drawing:
    """Draw prices.

    Parameters
    ----------
    curves : sequence of BuyerCurve
        Over one span of seconds; one at least.
    reports_s : sequence of float
        Reports of like chance at the best buyer. [s]
    limits : sequence of (float, str)
        Seconds with the names of the buyers who state them.
    unit : str
        As in ``$/bu``.
    title : str
        A sentence.
    """
    xs, ys = curves[0].seconds, [y for c in curves for y in c.net]
    x = Axis(xs[0], xs[-1], ticks_for(xs[0], xs[-1], 9), term("price.axis-seconds", locale))
    span = max(max(ys) - min(ys), 1e-6 * max(abs(max(ys)), 1.0))
    high = max(ys) + _MARGIN * span
    low = high - (high - min(ys) + 0.04 * span) / (1.0 - _BELOW)
    shown = ticks_for(min(ys), high, 6)
    y = Axis(low, high, shown, term("price.axis-net", locale, unit=unit))
    drawn = [
        Curve(c.seconds, c.net, "first" if c.best else "quiet", c.name)
        for c in sorted(curves, key=lambda c: not c.best)
    ]
    stakes = [Stake(at, f"{figure(at)} s", who=who) for at, who in limits if x.low < at < x.high]
    return plot(
        drawn,
        x,
        y,
        title,
        stakes=stakes,
        dots=[_stacked(reports_s, x, y)],
        height_px=PRICES_PX,
        right=_BESIDE,
        stairs=True,
    )


def _stacked(reports_s: Sequence[float], x: Axis, y: Axis) -> Dots:
    """Dots in columns, each above the one before it in its column; together they keep beneath the prices."""
    wide = (x.high - x.low) / _COLUMNS
    columns = [int((min(max(s, x.low), x.high) - x.low) / wide) for s in reports_s]
    tallest = max((columns.count(c) for c in set(columns)), default=1)
    step = min(_DOT, 0.9 * _BELOW / tallest) * (y.high - y.low)
    seen: dict[int, int] = {}
    xs, ys = [], []
    for column in columns:
        up = seen.get(column, 0)
        seen[column] = up + 1
        xs.append(x.low + (column + 0.5) * wide)
        ys.append(y.low + (up + 0.6) * step)
    return Dots(xs, ys)
