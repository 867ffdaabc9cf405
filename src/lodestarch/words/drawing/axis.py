"""The seconds axis: low on the left, high on the right, from the floor; limits as lines with their names."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from lodestarch.words.catalogues import DEFAULT_LOCALE, term
from lodestarch.words.drawing.svg import element, percent, text
from lodestarch.words.limits import LimitShape
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
    """One value of seconds that somebody names as an end."""

    seconds: float
    label: str


def limit_lines(limits: Sequence[LimitShape], locale: str = DEFAULT_LOCALE) -> tuple[LimitLine, ...]:
    """The ends of all limits, each value once with all names, ascending."""
    ends: dict[tuple[float, str], list[str]] = {}
    for m in limits:
        if m.at_least_s is not None:
            ends.setdefault((m.at_least_s, "drawing.from"), []).append(m.buyer)
        if m.at_most_s is not None:
            ends.setdefault((m.at_most_s, "drawing.to"), []).append(m.buyer)
    lines = []
    for (seconds, name), buyers in sorted(ends.items()):
        who = ", ".join(dict.fromkeys(buyers))
        lines.append(LimitLine(seconds, term(name, locale, seconds=figure(seconds), who=who)))
    return tuple(lines)


def drawn_limits(lines: Sequence[LimitLine], axis: SecondsAxis, bottom: float) -> list[str]:
    """Lines with their labels as stairs, the lowest on top: a label right of its line crosses no other.

    Near the right edge a label stands left of its line; a rim in the colour of the ground keeps it legible
    where it crosses one.
    """
    parts = []
    for i, line in enumerate(lines):
        y = LABEL_PX * (i + 1)
        x, right = axis.at(line.seconds), axis.share(line.seconds) > 0.68
        parts.append(element("line", x1=x, x2=x, y1=y - 13, y2=bottom, class_="limit"))
        parts.append(
            text(line.label, x, y - 2, "limit-label", "end" if right else "start", -7 if right else 7)
        )
    return parts
