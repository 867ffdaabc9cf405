"""What happens in a tube, or in two, against time: four curves over one axis."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from lodestarch.words.catalogues import DEFAULT_LOCALE, term
from lodestarch.words.drawing.plot import Axis, Band, Curve, Stake, plot, ticks_for
from lodestarch.words.drawing.svg import Drawing

__all__ = ["KINDS", "TubeTrace", "time_axis", "tube_curve"]

KINDS: Final = ("temperature", "enzyme", "strength", "fall")
"""The four, from top to bottom."""

_CLASSES: Final = ("first", "second")
_EVERY_S: Final = 2.0
"""Longest step between drawn points. [s]"""


@dataclass(frozen=True, slots=True)
class TubeTrace:
    """One tube against time, all of one length; ``name`` stands at its curves.

    Temperatures of mean, core and wall [°C]; enzyme left in LN units; paste strength [1]; share fallen [1].
    """

    name: str
    time_s: Sequence[float]
    mean_c: Sequence[float]
    core_c: Sequence[float]
    wall_c: Sequence[float]
    enzyme: Sequence[float]
    strength: Sequence[float]
    fallen: Sequence[float]


def time_axis(ends_s: Sequence[float], locale: str = DEFAULT_LOCALE) -> Axis:
    """From lowering to a round number past the last end, with room for a name there."""
    high = math.ceil(1.07 * max(ends_s) / 20.0) * 20.0
    return Axis(0.0, high, ticks_for(0.0, high, 8), term("tube-curve.time", locale))


def _thinned(trace: TubeTrace) -> list[int]:
    """Rows that are drawn: one every two seconds, those where a phase begins, and the last."""
    times = trace.time_s
    kept = [0]
    for i in range(1, len(times) - 1):
        twin = times[i] == times[i - 1] or times[i] == times[i + 1]
        if twin or times[i] - times[kept[-1]] >= _EVERY_S - 1e-9:
            kept.append(i)
    return [*kept, len(times) - 1]


def _y_axis(kind: str, traces: Sequence[TubeTrace], locale: str) -> Axis:
    title = term(f"tube-curve.{kind}", locale)
    if kind == "temperature":
        low = min(20.0, *(min(t.core_c) for t in traces))
        return Axis(low, 100.0, (20.0, 40.0, 60.0, 80.0, 100.0), title)
    if kind == "fall":
        return Axis(0.0, 100.0, (0.0, 50.0, 100.0), title)
    rows = [t.enzyme if kind == "enzyme" else t.strength for t in traces]
    top = max(max(row) for row in rows)
    high = max(top * 1.08, 1.0)
    return Axis(0.0, high, ticks_for(0.0, high, 5), title)


_ROWS: Final[dict[str, Callable[[TubeTrace], Sequence[float]]]] = {
    "temperature": lambda t: t.mean_c,
    "enzyme": lambda t: t.enzyme,
    "strength": lambda t: t.strength,
    "fall": lambda t: [100.0 * share for share in t.fallen],
}


def tube_curve(
    kind: str,
    traces: Sequence[TubeTrace],
    x: Axis,
    title: str,
    *,
    stakes: Sequence[Stake] = (),
    height_px: float = 150.0,
    numbered: bool = False,
    cursor: bool = False,
    locale: str = DEFAULT_LOCALE,
) -> Drawing:
    """Draw one of the four.

    Parameters
    ----------
    kind : str
        Of :data:`KINDS`.
    traces : sequence of TubeTrace
        One or two tubes.
    x : Axis
        Of :func:`time_axis`.
    title : str
        A sentence: what it shows.
    stakes, height_px, numbered, cursor
        As in ``plot``.
    """
    curves, bands = [], []
    for trace, class_ in zip(traces, _CLASSES, strict=False):
        kept = _thinned(trace)
        times = [trace.time_s[i] for i in kept]
        row = _ROWS[kind](trace)
        curves.append(Curve(times, [row[i] for i in kept], class_, trace.name))
        if kind == "temperature":
            core, wall = [trace.core_c[i] for i in kept], [trace.wall_c[i] for i in kept]
            bands.append(Band(times, core, wall, class_))
    return plot(
        curves, x, _y_axis(kind, traces, locale), title, bands=bands, stakes=stakes, height_px=height_px,
        numbered=numbered, cursor=cursor,
    )  # fmt: skip
