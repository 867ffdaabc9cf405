"""Fifty dots on the seconds axis: what another test of the same grain may say, with the limit drawn through.

A picture of its own size, for paper: lengths in tenths of a millimetre, no style sheet.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from typing import Final

__all__ = ["DOTS_MM", "DotsLook", "dots_svg"]

DOTS_MM: Final = (172.0, 46.0)
"""Width and height. [mm]"""

_W: Final = 1720.0
_H: Final = 460.0
_LEFT: Final = 40.0
_BASE: Final = 350.0
_TOP: Final = 62.0
_COLUMN_SD: Final = 0.42
"""Width of a column of dots, in standard deviations: about ten dots in the tallest."""
_INK: Final = "#10202B"
_QUIET: Final = "#51626D"
_FONT: Final = "Source Sans 3"


@dataclass(frozen=True, slots=True)
class DotsLook:
    """Words in the picture: title of the axis, and label of each limit by its seconds."""

    axis: str
    limits: tuple[tuple[float, str], ...]
    point: str = "."


def _meets(value: float, low: float | None, high: float | None) -> bool:
    return (low is None or value >= low) and (high is None or value <= high)


def _text(
    x: float, y: float, said: str, anchor: str = "middle", colour: str = _QUIET, weight: int = 400
) -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-family="{_FONT}" font-size="36" font-weight="{weight}" '
        f'fill="{colour}" text-anchor="{anchor}">{escape(said)}</text>'
    )


def _step(span: float) -> float:
    """Distance of ticks, about seven over the width. [s]"""
    return next((s for s in (5.0, 10.0, 20.0, 25.0, 50.0, 100.0) if span / s <= 9.0), 200.0)


def dots_svg(values_s: Sequence[float], low_s: float | None, high_s: float | None, look: DotsLook) -> str:
    """Draw dots: full where the limit is met, open where it is not.

    Parameters
    ----------
    values_s : sequence of float
        Equally likely values. [s]
    low_s, high_s : float or None
        Limits. [s]
    look : DotsLook

    Returns
    -------
    str
        SVG.
    """
    ends = [e for e in (low_s, high_s) if e is not None]
    n = len(values_s)
    mean = sum(values_s) / n
    sd = max(math.sqrt(sum((v - mean) ** 2 for v in values_s) / n), 1.0)
    least, most = min([*values_s, *ends]) - sd, max([*values_s, *ends]) + sd
    scale = (_W - 2 * _LEFT) / (most - least)

    def x(value: float) -> float:
        return _LEFT + (value - least) * scale

    column = _COLUMN_SD * sd
    radius = min(0.5 * column * scale - 1.0, 17.0)
    height: Counter[tuple[int, bool]] = Counter()
    parts = []
    for value in sorted(values_s):
        meets = _meets(value, low_s, high_s)
        # A column never straddles a limit: full and open dots stand apart.
        place = (math.floor((value - (ends[0] if ends else mean)) / column), meets)
        height[place] += 1
        centre = x((ends[0] if ends else mean) + (place[0] + 0.5) * column)
        y = _BASE - radius - (height[place] - 1) * 2.05 * radius - 3
        fill = _INK if meets else "#FFFFFF"
        parts.append(
            f'<circle cx="{centre:.1f}" cy="{y:.1f}" r="{radius - 1.5:.1f}" fill="{fill}" stroke="{_INK}" '
            'stroke-width="3"/>'
        )
    return _svg([*_axis(least, most, x, look), *_limits(x, look), *parts])


def _axis(least: float, most: float, x: object, look: DotsLook) -> list[str]:
    at = x if callable(x) else float
    parts = [f'<line x1="0" x2="{_W:.0f}" y1="{_BASE}" y2="{_BASE}" stroke="{_QUIET}" stroke-width="3"/>']
    step = _step(most - least)
    tick = math.ceil(least / step) * step
    while tick <= most:
        parts.append(
            f'<line x1="{at(tick):.1f}" x2="{at(tick):.1f}" y1="{_BASE}" y2="{_BASE + 12}" stroke="{_QUIET}" '
            'stroke-width="3"/>'
        )
        parts.append(_text(at(tick), _BASE + 50, f"{tick:g}"))
        tick += step
    parts.append(_text(_W, _BASE + 98, look.axis, "end"))
    return parts


def _limits(x: object, look: DotsLook) -> list[str]:
    at = x if callable(x) else float
    parts = []
    for seconds, said in look.limits:
        place = at(seconds)
        parts.append(
            f'<line x1="{place:.1f}" x2="{place:.1f}" y1="{_TOP - 10:.0f}" y2="{_BASE}" stroke="{_INK}" '
            'stroke-width="5"/>'
        )
        anchor = "start" if place < 0.3 * _W else "end" if place > 0.7 * _W else "middle"
        parts.append(_text(place, _TOP - 24, said, anchor, _INK, 600))
    return parts


def _svg(parts: Sequence[str]) -> str:
    return f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_W:.0f} {_H:.0f}">{"".join(parts)}</svg>'
