"""A priced lot as pages show it: the sentence, the buyers by net, the advice, the curve with its table."""

from __future__ import annotations

from dataclasses import dataclass

from lodestarch.words.catalogues import term
from lodestarch.words.drawing.svg import Drawing
from lodestarch.words.limits import short_name
from lodestarch.words.money import money_whole, per_unit, place_unit
from lodestarch.words.numbers import DASH, number
from lodestarch.words.price import (
    advice_lines,
    advice_sentence,
    function_lines,
    price_lines,
    price_sentence,
    row_remark,
)
from lodestarch.words.price_picture import PriceTable, price_drawing, price_table
from lodestarch.work.office.price import PriceAnswer

__all__ = ["BuyerLine", "PriceView", "price_view"]


@dataclass(frozen=True, slots=True)
class BuyerLine:
    """A line of the table, in words."""

    name: str
    net: str
    lot: str
    makes: str
    remark: str
    usable: bool


@dataclass(frozen=True, slots=True)
class PriceView:
    """A priced lot as the page shows it."""

    said: str
    picture: Drawing
    table: PriceTable
    dots: str
    buyers: tuple[BuyerLine, ...]
    advice: str
    lines: tuple[str, ...]
    function: tuple[str, ...]


def price_view(answer: PriceAnswer) -> PriceView | None:
    """Put a priced lot into words; ``None`` where there is no answer."""
    price, advice, terms = answer.price, answer.advice, answer.terms
    if price is None or advice is None or terms is None:
        return None
    place = place_unit(terms)
    buyers = []
    for row in price.rows:
        net = row.net_per_t
        buyers.append(
            BuyerLine(
                short_name(row.outlet.buyer),
                DASH if net is None else per_unit(net, place),
                DASH if net is None else money_whole(net * price.lot.tonnes, place),
                DASH if row.p_makes_it is None else f"{number(100.0 * row.p_makes_it)}\u00a0%",
                row_remark(row),
                row.usable,
            )
        )
    best = price.best
    u = (term("price.u-scatter", u=number(price.lot.u_s, 1)),) if answer.u_from_scatter else ()
    return PriceView(
        price_sentence(price, place),
        price_drawing(price, place),
        price_table(price, place),
        "" if best is None else term("price.dots", buyer=short_name(best.outlet.buyer)),
        tuple(buyers),
        advice_sentence(advice, price, place),
        (*u, *price_lines(price, place), *advice_lines(advice, price, place)),
        function_lines(price),
    )
