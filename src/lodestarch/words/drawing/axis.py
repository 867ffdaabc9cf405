"""The seconds axis: low on the left, high on the right, from the floor; limits as lines with their names."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape
from typing import Final

from lodestarch.words.catalogues import DEFAULT_LOCALE, term
from lodestarch.words.drawing.svg import element, percent, text
from lodestarch.words.limits import LimitShape, short_name
from lodestarch.words.numbers import figure

__all__ = [
    "AXIS_PX",
    "GUTTER",
    "LABEL_PX",
    "LimitLine",
    "SecondsAxis",
    "axis_for",
    "drawn_limits",
    "limit_lines",
]

AXIS_PX: Final = 46
"""Height that ticks, numbers and title take below the baseline."""
LABEL_PX: Final = 20
"""Height of one row of labels."""

_LETTER_PX: Final = 6.8
_LEAST_WIDTH_PX: Final = 620.0
"""Width of a letter on average, and of the narrowest picture that shows names at its limits."""

_STEP_S: Final = 50.0
_LEAST_TOP_S: Final = 400.0
_TOP_S: Final = 900.0
_EDGE: Final = 0.02
"""Share of the width kept free left of the floor and right of the last tick."""
GUTTER: Final = 0.19
"""The same on the left where rows carry a name."""


@dataclass(frozen=True, slots=True)
class SecondsAxis:
    """A span of seconds laid over the width, from ``left`` (a share of it) on."""

    low_s: float
    high_s: float
    left: float = _EDGE

    def share(self, seconds: float) -> float:
        """Place of a number of seconds: 0 left, 1 right; beyond the ends it stays at the edge."""
        span = (seconds - self.low_s) / (self.high_s - self.low_s)
        return self.left + (1.0 - _EDGE - self.left) * min(max(span, 0.0), 1.0)

    def at(self, seconds: float) -> str:
        """The same in per cent."""
        return percent(self.share(seconds))

    def width(self, seconds: float) -> float:
        """Share of the width that a number of seconds takes."""
        return (1.0 - _EDGE - self.left) * seconds / (self.high_s - self.low_s)

    def ticks(self) -> tuple[float, ...]:
        """Ticks: the floor where the axis starts, then round numbers."""
        first = math.floor(self.low_s / _STEP_S) * _STEP_S + _STEP_S
        count = int((self.high_s - first) // _STEP_S) + 1
        round_ones = [first + i * _STEP_S for i in range(count)]
        return (self.low_s, *(t for t in round_ones if t - self.low_s >= 0.5 * _STEP_S))

    def drawn(self, baseline: float, locale: str = DEFAULT_LOCALE) -> list[str]:
        """Baseline, ticks, numbers and title."""
        start = percent(self.left - _EDGE)
        parts = [element("line", x1=start, x2="100%", y1=baseline, y2=baseline, class_="axis")]
        for i, tick in enumerate(self.ticks()):
            x = self.at(tick)
            # On a narrow page every second number is left out by the style sheet.
            rank = "tick-number" if (tick / _STEP_S) % 2 == 0 or i == 0 else "tick-number tick-odd"
            parts.append(element("line", x1=x, x2=x, y1=baseline, y2=baseline + 6, class_="axis"))
            parts.append(text(figure(tick), x, baseline + 22, rank, "middle"))
        parts.append(text(term("drawing.axis", locale), "100%", baseline + 42, "axis-title", "end"))
        return parts


def axis_for(
    seconds: Iterable[float], limits: Sequence[LimitShape], floor_s: float, *, left: float = _EDGE
) -> SecondsAxis:
    """An axis from the floor that holds all readings that can be and all limits.

    Parameters
    ----------
    seconds : iterable of float
        What is to be drawn; what lies above 900 s is drawn at the edge. [s]
    limits : sequence of LimitShape
    floor_s : float
        Where the axis starts. [s]
    left : float
        Share of the width left of the floor.
    """
    ends = [e for m in limits for e in (m.at_least_s, m.at_most_s) if e is not None]
    top = max([_LEAST_TOP_S, *(s for s in [*seconds, *ends] if s <= _TOP_S)])
    return SecondsAxis(floor_s, math.ceil((top + 1.0) / _STEP_S) * _STEP_S, left)


@dataclass(frozen=True, slots=True)
class LimitLine:
    """One value of seconds that somebody names as an end: who, and the number with its sign."""

    seconds: float
    who: str
    value: str

    @property
    def label(self) -> str:
        """Both in one line."""
        return f"{self.who} {self.value}"


def limit_lines(limits: Sequence[LimitShape], locale: str = DEFAULT_LOCALE) -> tuple[LimitLine, ...]:
    """The ends of all limits, ascending: a line a value and a name."""
    ends: dict[tuple[float, str, str], None] = {}
    for m in limits:
        name = short_name(m.buyer)
        if m.at_least_s is not None:
            ends[m.at_least_s, "drawing.from", name] = None
        if m.at_most_s is not None:
            ends[m.at_most_s, "drawing.to", name] = None
    # Sorting is stable: names at one value stay in the order of the terms.
    return tuple(
        LimitLine(seconds, who, term(name, locale, seconds=figure(seconds)))
        for seconds, name, who in sorted(ends, key=lambda end: end[:2])
    )


def drawn_limits(lines: Sequence[LimitLine], axis: SecondsAxis, bottom: float) -> list[str]:
    """Lines with their labels as stairs, the lowest on top: a label right of its line crosses no other.

    Where there is no room on the right a label stands left of its line; a rim in the colour of the ground
    keeps it legible where it crosses one. On a narrow page only the numbers are shown, each once: names
    (``limit-who``) and repeated numbers (``limit-again``) are left out by the style sheet.
    """
    parts = []
    drawn: set[float] = set()
    for i, line in enumerate(lines):
        y = LABEL_PX * (i + 1)
        x, share = axis.at(line.seconds), axis.share(line.seconds)
        needs = _LETTER_PX * len(line.label) / _LEAST_WIDTH_PX
        left = share + needs > 1.0 and share > needs
        again = line.seconds in drawn
        if not again:
            parts.append(element("line", x1=x, x2=x, y1=y - 13, y2=bottom, class_="limit"))
            drawn.add(line.seconds)
        who = element("tspan", [escape(f"{line.who} ")], class_="limit-who")
        place = {"text_anchor": "end", "dx": -7.0} if left else {"dx": 7.0}
        class_ = "limit-label limit-again" if again else "limit-label"
        parts.append(element("text", [who, escape(line.value)], x=x, y=y - 2, class_=class_, **place))
    return parts
