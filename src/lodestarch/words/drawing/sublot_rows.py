"""A cargo in loading order, downwards: results on the seconds axis, untested sublots as bands.

The running figure goes down through the rows as a line, its forecast as grey ground. Both lie in a picture
of their own inside the picture, of a thousand by a thousand, stretched to the room there is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from lodestarch.words.catalogues import DEFAULT_LOCALE, term
from lodestarch.words.drawing.axis import AXIS_PX, GUTTER, SecondsAxis
from lodestarch.words.drawing.svg import Drawing, element, finished, percent, text
from lodestarch.words.numbers import number

__all__ = ["SublotRow", "sublot_rows", "sublots_title"]

_ROW_PX: Final = 30.0
_HEAD_PX: Final = 50.0
_BAND_PX: Final = 12.0
_STEP_S: Final = 25.0
_UNIT: Final = 1000.0
_FEW_S: Final = 100.0
"""The axis spans at least this. [s]"""


@dataclass(frozen=True, slots=True)
class SublotRow:
    """One sublot.

    Parameters
    ----------
    label : str
    result_s : float or None
        [s]
    band_s : tuple of float or None
        Where an untested one will read nine times in ten. [s]
    running_s : float or None
        The running figure after it, over what is tested. [s]
    fan_s : tuple of float or None
        Forecast of the running figure after it, nine in ten. [s]
    loaded : bool
        Aboard; otherwise to come.
    """

    label: str
    result_s: float | None
    band_s: tuple[float, float] | None
    running_s: float | None
    fan_s: tuple[float, float] | None
    loaded: bool


def _axis(rows: Sequence[SublotRow], floors: Sequence[float]) -> SecondsAxis:
    every = [*floors]
    for row in rows:
        every += [v for v in (row.result_s, row.running_s) if v is not None]
        every += [*(row.band_s or ()), *(row.fan_s or ())]
    low, high = min(every), max(every)
    room = max(0.5 * (_FEW_S - (high - low)), 6.0)
    first = _STEP_S * ((low - room) // _STEP_S)
    last = _STEP_S * -(-(high + room) // _STEP_S)
    return SecondsAxis(max(first, 50.0), last, GUTTER)


def _lane(rows: Sequence[SublotRow], axis: SecondsAxis) -> list[str]:
    """The forecast as ground and the running figure as a line, in the inner picture."""

    def at(seconds: float, i: int) -> str:
        inner = min(max((seconds - axis.low_s) / (axis.high_s - axis.low_s), 0.0), 1.0)
        return f"{_UNIT * inner:.1f} {_UNIT * (i + 0.5) / len(rows):.1f}"

    parts = []
    fan = [(i, row.fan_s) for i, row in enumerate(rows) if row.fan_s is not None]
    if len(fan) > 1:
        ends = [at(f[0], i) for i, f in fan] + [at(f[1], i) for i, f in reversed(fan)]
        parts.append(element("path", d=f"M{ends[0]}L{' '.join(ends[1:])}Z", class_="between"))
    run = [at(row.running_s, i) for i, row in enumerate(rows) if row.running_s is not None]
    if len(run) > 1:
        parts.append(element("path", d=f"M{run[0]}L{' '.join(run[1:])}", class_="curve"))
    return parts


def sublot_rows(
    rows: Sequence[SublotRow],
    floors: Sequence[tuple[float, str]],
    title: str,
    locale: str = DEFAULT_LOCALE,
) -> Drawing:
    """Draw a cargo.

    Parameters
    ----------
    rows : sequence of SublotRow
        In loading order.
    floors : sequence of (float, str)
        Limits with their names. [s]
    title : str
    """
    if not rows:
        return Drawing("", title)
    axis = _axis(rows, [s for s, _ in floors])
    base = _HEAD_PX + _ROW_PX * len(rows)
    parts = []
    for i, (seconds, name) in enumerate(floors):
        x = axis.at(seconds)
        y = 18.0 + 20.0 * i
        parts.append(element("line", x1=x, x2=x, y1=y - 12, y2=base, class_="limit"))
        parts.append(text(name, x, y, "limit-label", "start", 7))
    left = axis.share(axis.low_s)
    wide = axis.share(axis.high_s) - left
    parts.append(
        element(
            "svg", _lane(rows, axis), x=percent(left), y=_HEAD_PX, width=percent(wide),
            height=_ROW_PX * len(rows), viewBox="0 0 1000 1000", preserveAspectRatio="none",
        )
    )  # fmt: skip
    for i, row in enumerate(rows):
        middle = _HEAD_PX + _ROW_PX * (i + 0.5)
        parts.append(text(row.label, "0", middle + 5.0, "row-name strong" if row.loaded else "row-name"))
        if row.band_s is not None:
            start, end = axis.share(row.band_s[0]), axis.share(row.band_s[1])
            class_ = "u-bar" if row.loaded else "band"
            parts.append(
                element(
                    "rect", x=percent(start), y=middle - _BAND_PX / 2, width=percent(end - start),
                    height=_BAND_PX, class_=class_,
                )
            )  # fmt: skip
        if row.result_s is not None:
            x_at = axis.at(row.result_s)
            parts.append(element("circle", cx=x_at, cy=middle, r=4.5, class_="dot"))
            parts.append(text(number(row.result_s), x_at, middle + 5.0, "mark-label", "start", 9))
    ticks = axis.drawn(base, locale)
    return finished([*parts, *ticks], base + AXIS_PX, title)


def sublots_title(tested: int, untested: int, figure_s: float | None, floor_s: float) -> str:
    """Say what the picture finds."""
    floor = number(floor_s)
    if figure_s is None:
        return term("loadout-page.picture-none", floor=floor)
    return term(
        "loadout-page.picture", tested=tested, untested=untested, figure=number(figure_s), floor=floor
    )
