"""A priced lot as a picture of its own: every buyer's price by seconds, and what the lab may report."""

from __future__ import annotations

from dataclasses import dataclass
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
from lodestarch.words.numbers import figure, number

__all__ = ["PriceTable", "price_drawing", "price_svg", "price_table"]

_LOW_S: Final = 62.0
_HIGH_S: Final = 450.0
_TABLE_STEP_S: Final = 25.0
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
    names = _brief([short_name(row.outlet.buyer) for row in rows])
    for row, name in zip(rows, names, strict=True):
        money = net_curve(row.outlet, price.lot.tonnes, price.turned_away_per_t or 0.0)
        xs, ys = corners(money, low, high)
        curves.append(BuyerCurve(name, xs, [place.of(y) for y in ys], row is best))
    reports: tuple[float, ...] = ()
    title = term("price.title-none", locale)
    if best is not None:
        at = reports_at([best.outlet], price.lot.seconds, price.lot.u_s or 0.0)
        reports = like_reports(float(at.mean_s[0, 0]), float(at.sd_s[0, 0]))
        said = {"buyer": short_name(best.outlet.buyer), "net": per_unit(best.net_per_t, place, locale)}
        title = term("price.title", locale, **said, seconds=figure(price.lot.seconds, 1))
    return price_picture(curves, reports, _limits(rows), f"{place.sign}/{place.per}", title, locale)


@dataclass(frozen=True, slots=True)
class PriceTable:
    """The picture as a table: seconds down, buyers across, net in the unit of the place."""

    buyers: tuple[str, ...]
    rows: tuple[tuple[str, tuple[str, ...]], ...]
    unit: str


def price_table(price: LotPrice, place: PlaceUnit) -> PriceTable:
    """Nets by seconds: every round number that is drawn, and each limit and the second below it."""
    rows = [r for r in price.rows if r.net_per_t is not None]
    low, high = _span(price)
    at = {*_every(low, high, _TABLE_STEP_S), price.lot.seconds}
    for limit, _ in _limits(rows):
        at |= {s for s in (limit - 1.0, limit) if low <= s <= high}
    curves = [net_curve(r.outlet, price.lot.tonnes, price.turned_away_per_t or 0.0) for r in rows]
    lines = tuple(
        (figure(s, 1), tuple(number(place.of(float(c.at(s))), 2) for c in curves)) for s in sorted(at)
    )
    names = tuple(short_name(r.outlet.buyer) for r in rows)
    return PriceTable(names, lines, f"{place.sign}/{place.per}")


def _every(low: float, high: float, step: float) -> list[float]:
    first = int(-(-low // step))
    return [i * step for i in range(first, int(high // step) + 1)]


def _brief(names: list[str]) -> list[str]:
    """First words of names, where these tell them apart."""
    first = [name.split()[0] for name in names]
    return [f if first.count(f) == 1 else name for f, name in zip(first, names, strict=True)]


def _limits(rows: list[Row]) -> list[tuple[float, str]]:
    """Limits with the buyers who state them, each once."""
    names: dict[float, list[str]] = {}
    for row in rows:
        limit = row.outlet.limit
        for at in () if limit is None else (limit.at_least_s, limit.at_most_s):
            if at is not None:
                names.setdefault(at, []).append(short_name(row.outlet.buyer).split()[0])
    return [(at, ", ".join(dict.fromkeys(who))) for at, who in sorted(names.items())]


def price_svg(price: LotPrice, place: PlaceUnit, locale: str = DEFAULT_LOCALE) -> str:
    """Return the picture as an SVG file, with what its dots are."""
    drawing = price_drawing(price, place, locale)
    notes = []
    if price.best is not None:
        notes.append(term("price.dots", locale, buyer=short_name(price.best.outlet.buyer)))
    return alone([(drawing, PRICES_PX)] if drawing else [], notes)
