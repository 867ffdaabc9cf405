"""Pictures of answers on the tube, each with a title that states what it shows."""

from __future__ import annotations

import math
from collections.abc import Sequence

from lodestarch.tube.budget import Budget, Contribution
from lodestarch.tube.calibration.fit import Residual
from lodestarch.tube.landmarks import Landmarks
from lodestarch.tube.shares import BenchShares
from lodestarch.words.catalogues import DEFAULT_LOCALE, term
from lodestarch.words.drawing.plot import Axis, Curve, plot, ticks_for
from lodestarch.words.drawing.rows import BarRow, MarkRow, bar_rows, mark_rows, rows_height
from lodestarch.words.drawing.svg import Drawing
from lodestarch.words.drawing.tube_curves import KINDS, TubeTrace, time_axis, tube_curve
from lodestarch.words.numbers import figure, number
from lodestarch.words.tube import share_text, signed

__all__ = ["SWEEP_PX", "budget_pictures", "curve_title", "curves_of", "fit_picture", "sweep_picture"]

SWEEP_PX = 340.0
"""Height of the picture of a sweep."""


def _each(values: Sequence[str], names: Sequence[str], locale: str) -> str:
    """``79 °C`` for one tube, ``79 °C in A and 81 °C in B`` for two, ``79 °C in both tubes`` where alike."""
    if len(values) == 1:
        return values[0]
    if values[0] == values[1]:
        return term("tube-curve.both", locale, value=values[0])
    said = [term("tube-curve.in", locale, value=v, name=n) for v, n in zip(values, names, strict=True)]
    return term("list.last", locale, first=said[0], last=said[1])


def _moment(kind: str, marks: Landmarks, locale: str) -> str:
    if kind == "temperature":
        return term("tube.temp", locale, temp=number(marks.mean_at_release_c, 0))
    at = {"enzyme": marks.enzyme_half_s, "strength": marks.stiffest_s, "fall": marks.half_s}[kind]
    return term("tube-curve.never", locale) if at is None else term("tube.at", locale, seconds=number(at, 0))


def curve_title(
    kind: str, marks: Sequence[Landmarks], names: Sequence[str], locale: str = DEFAULT_LOCALE
) -> str:
    """What one of the four curves shows, as a sentence."""
    values = [_moment(kind, one, locale) for one in marks]
    return term(f"tube-curve.title-{kind}", locale, values=_each(values, names, locale))


def curves_of(
    traces: Sequence[TubeTrace],
    marks: Sequence[Landmarks],
    *,
    heights: tuple[float, float, float, float],
    cursor: bool = False,
    locale: str = DEFAULT_LOCALE,
) -> list[tuple[Drawing, float]]:
    """The four curves of one or two tubes, each with its height; the last carries the seconds."""
    x = time_axis([t.time_s[-1] for t in traces], locale)
    names = [t.name for t in traces]
    drawn = []
    for kind, height in zip(KINDS, heights, strict=True):
        title = curve_title(kind, marks, names, locale)
        last = kind == KINDS[-1]
        picture = tube_curve(
            kind, traces, x, title, height_px=height, numbered=last, cursor=cursor, locale=locale
        )
        drawn.append((picture, height))
    return drawn


def sweep_picture(key: str, rows: Sequence[tuple[float, float]], locale: str = DEFAULT_LOCALE) -> Drawing:
    """Seconds against the input that was swept; at least two rows."""
    rows = sorted(rows)
    xs, ys = [value for value, _ in rows], [seconds for _, seconds in rows]
    name = term(f"sweep.{key}", locale)
    unit = term(f"sweep-unit.{key}", locale)
    low, high = min(ys), max(ys)
    margin = max(0.06 * (high - low), 2.0)
    y = Axis(
        low - margin,
        high + margin,
        ticks_for(low - margin, high + margin, 6),
        term("tube-curve.seconds", locale),
    )
    x = Axis(xs[0], xs[-1], ticks_for(xs[0], xs[-1], 8), f"{name}, {unit}" if unit else name)
    said = {
        "name": name,
        "low": f"{figure(xs[0], 4)} {unit}".strip(),
        "high": f"{figure(xs[-1], 4)} {unit}".strip(),
        "first": number(ys[0], 0),
        "last": number(ys[-1], 0),
    }
    return plot(
        [Curve(xs, ys, "first")], x, y, term("tube-curve.title-sweep", locale, **said), height_px=SWEEP_PX
    )


def budget_pictures(
    lines: Budget, parts: Sequence[Contribution], shares: BenchShares | None, locale: str = DEFAULT_LOCALE
) -> list[tuple[Drawing, float]]:
    """Seconds per disturbance as bars, and the scatter of the stated bench taken apart."""
    seconds = figure(lines.reading_s, 1)
    bars = [
        BarRow(
            term(
                "tube.change",
                locale,
                amount=figure(one.amount),
                unit=one.unit,
                name=term(f"input.{one.key}", locale),
            ),
            one.more_s if one.more_s is not None else 0.0,
            term("tube.signed-s", locale, seconds=signed(one.more_s)),
        )
        for one in lines.lines
    ]
    most = max((abs(bar.value) for bar in bars), default=1.0) or 1.0
    x = Axis(-most, most, ticks_for(-most, most, 7), term("tube-curve.change", locale))
    largest = max(bars, key=lambda bar: abs(bar.value))
    title = term("tube-curve.title-lines", locale, seconds=seconds, what=largest.name, change=largest.said)
    drawn = [(bar_rows(bars, x, title), rows_height(len(bars)))]
    if shares is None:
        return drawn
    by_key = dict(
        zip(
            shares.keys,
            zip(shares.shares.first.tolist(), shares.shares.first_u.tolist(), strict=True),
            strict=True,
        )
    )
    ranked = sorted((part.key for part in parts), key=lambda key: -by_key[key][0])
    rows = [
        BarRow(
            term(f"input.{key}", locale),
            100.0 * max(by_key[key][0], 0.0),
            share_text(max(by_key[key][0], 0.0), locale),
            u=100.0 * by_key[key][1],
        )
        for key in ranked
    ]
    top = math.ceil(max(row.value + (row.u or 0.0) for row in rows) / 10.0) * 10.0
    across = Axis(0.0, top, ticks_for(0.0, top, 6), term("tube-curve.share", locale))
    said = {
        "seconds": seconds,
        "sd": number(math.sqrt(shares.shares.variance), 1),
        "what": rows[0].name,
        "share": rows[0].said,
    }
    drawn.append(
        (bar_rows(rows, across, term("tube-curve.title-shares", locale, **said)), rows_height(len(rows)))
    )
    return drawn


def fit_picture(residuals: Sequence[Residual], locale: str = DEFAULT_LOCALE) -> tuple[Drawing, float]:
    """Every run as read (full) and as the fitted model says it (open)."""
    rows = [
        MarkRow(
            one.key, one.observed_s, one.modelled_s, term("tube.over-u", locale, times=signed(one.over_u))
        )
        for one in residuals
    ]
    ends = [value for one in residuals for value in (one.observed_s, one.modelled_s)]
    low, high = min(ends), max(ends)
    margin = max(0.05 * (high - low), 5.0)
    x = Axis(
        low - margin,
        high + margin,
        ticks_for(low - margin, high + margin, 8),
        term("tube-curve.seconds", locale),
    )
    worst = max(abs(one.over_u) for one in residuals)
    title = term("tube-curve.title-fit", locale, count=len(rows), worst=number(worst, 1))
    return mark_rows(rows, x, title), rows_height(len(rows))
