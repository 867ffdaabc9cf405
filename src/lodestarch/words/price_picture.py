"""A priced lot as a picture of its own: every buyer's price by seconds, and what the lab may report."""

from __future__ import annotations

from typing import Final

from lodestarch.trade.lot_price import LotPrice, Row
from lodestarch.trade.net_price import net_curve, reports_at
from lodestarch.trade.price_points import corners, like_reports
from lodestarch.words.catalogues import DEFAULT_LOCALE, term
from lodestarch.words.drawing.alone import alone
from lodestarch.words.drawing.prices import PRICES_PX, BuyerCurve, price_picture
from lodestarch.words.drawing.svg import Drawing
from lodestarch.words.limits import short_name
from lodestarch.words.money import PlaceUnit, per_unit
from lodestarch.words.numbers import figure

__all__ = ["price_drawing", "price_svg"]

_LOW_S: Final = 62.0
_HIGH_S: Final = 450.0
_AROUND_S: Final = 90.0
"""Least span drawn on both sides of the number. [s]"""


def _span(price: LotPrice) -> tuple[float, float]:
    """Seconds to draw: around the number, and every limit of a buyer near it."""
    seconds = price.lot.seconds
    low, high = seconds - _AROUND_S, seconds + _AROUND_S
    for row in price.rows:
        limit = row.outlet.limit
        for at in () if limit is None else (limit.at_least_s, limit.at_most_s):
            if at is not None:
                low, high = min(low, at - 20.0), max(high, at + 20.0)
    return max(10.0 * (low // 10.0), _LOW_S), min(10.0 * (high // 10.0 + 1.0), max(_HIGH_S, seconds + 20.0))


def price_drawing(price: LotPrice, place: PlaceUnit, locale: str = DEFAULT_LOCALE) -> Drawing:
    """Draw a priced lot; empty where no buyer has a price."""
    rows = [r for r in price.rows if r.net_per_t is not None]
    best = price.best
    if not rows:
        return Drawing("", term("price.title-none", locale))
    low, high = _span(price)
    curves = []
    for row in rows:
        money = net_curve(row.outlet, price.lot.tonnes, price.turned_away_per_t or 0.0)
        xs, ys = corners(money, low, high)
        name = short_name(row.outlet.buyer)
        curves.append(BuyerCurve(name, xs, [place.of(y) for y in ys], row is best))
    reports: tuple[float, ...] = ()
    title = term("price.title-none", locale)
    if best is not None:
        at = reports_at([best.outlet], price.lot.seconds, price.lot.u_s or 0.0)
        reports = like_reports(float(at.mean_s[0, 0]), float(at.sd_s[0, 0]))
        said = {"buyer": short_name(best.outlet.buyer), "net": per_unit(best.net_per_t, place, locale)}
        title = term("price.title", locale, **said, seconds=figure(price.lot.seconds, 1))
    return price_picture(curves, reports, _limits(rows), f"{place.sign}/{place.per}", title, locale)


def _limits(rows: list[Row]) -> list[tuple[float, str]]:
    """Limits with the buyers who state them, each once."""
    names: dict[float, list[str]] = {}
    for row in rows:
        limit = row.outlet.limit
        for at in () if limit is None else (limit.at_least_s, limit.at_most_s):
            if at is not None:
                names.setdefault(at, []).append(short_name(row.outlet.buyer).split()[0])
    return [(at, f"{figure(at)} {', '.join(dict.fromkeys(who))}") for at, who in sorted(names.items())]


def price_svg(price: LotPrice, place: PlaceUnit, locale: str = DEFAULT_LOCALE) -> str:
    """Return the picture as an SVG file, with what its dots are."""
    drawing = price_drawing(price, place, locale)
    notes = []
    if price.best is not None:
        notes.append(term("price.dots", locale, buyer=short_name(price.best.outlet.buyer)))
    return alone([(drawing, PRICES_PX)] if drawing else [], notes)
