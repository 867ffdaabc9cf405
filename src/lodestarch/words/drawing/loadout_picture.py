"""A cargo as it goes aboard: the running figure with its forecast, the floor as a line."""

from __future__ import annotations

from collections.abc import Sequence

from lodestarch.plan.loadout.cargo import Asked, Sublot
from lodestarch.plan.loadout.forecast import Forecast
from lodestarch.words.catalogues import DEFAULT_LOCALE, term
from lodestarch.words.drawing.plot import Axis, Band, Curve, Dots, plot, span_of, ticks_for
from lodestarch.words.drawing.svg import Drawing
from lodestarch.words.loadout import odds_sentence
from lodestarch.words.numbers import number

__all__ = ["HEIGHT_PX", "loadout_picture"]

HEIGHT_PX = 340.0


def loadout_picture(
    asked: Asked, sublots: Sequence[Sublot], end: Forecast, locale: str = DEFAULT_LOCALE
) -> Drawing:
    """Draw the running figure over the tonnes loaded, results as dots, nine in ten as a band.

    Parameters
    ----------
    asked : Asked
    sublots : sequence of Sublot
        Loaded and to come, in order: as many as the forecast has places.
    end : Forecast
    """
    at: list[float] = []
    tonnes = 0.0
    for one in sublots:
        tonnes += one.tonnes
        at.append(tonnes)
    results = [(x, s.result_s) for x, s in zip(at, sublots, strict=True) if s.result_s is not None]
    low, middle, high = (list(map(float, part)) for part in (end.low_s, end.middle_s, end.high_s))
    x = Axis(0.0, tonnes, ticks_for(0.0, tonnes, 8), term("loadout.chart-x", locale))
    y = span_of([*low, *high, asked.at_least_s, *(s for _, s in results)], term("loadout.chart-y", locale))
    floor = term("loadout.chart-floor", locale, floor=number(asked.at_least_s, 0))
    curves = [Curve([0.0, tonnes], [asked.at_least_s] * 2, "second", floor)]
    if len(at) > 1:
        curves.append(Curve(at, middle, "first"))
    bands = [Band(at, low, high, "")] if len(at) > 1 else []
    dots = [Dots([p for p, _ in results], [s for _, s in results])]
    title = term("loadout.chart-title", locale, sentence=odds_sentence(end, locale))
    return plot(curves, x, y, title, bands=bands, dots=dots, height_px=HEIGHT_PX)
