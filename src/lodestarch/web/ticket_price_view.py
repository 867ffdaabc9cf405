"""What a ticket brings, as its page and the bench say it."""

from __future__ import annotations

from dataclasses import dataclass

from lodestarch.web.price_view import PriceView, price_view
from lodestarch.words.catalogues import term
from lodestarch.words.findings import sentence
from lodestarch.words.limits import short_name
from lodestarch.words.money import PlaceUnit, per_unit, place_unit
from lodestarch.words.numbers import figure, number
from lodestarch.words.times import when
from lodestarch.work.office.ticket_price import TicketPrice
from lodestarch.work.office.told_prices import Told

__all__ = ["TicketPriceView", "ticket_price_view"]


@dataclass(frozen=True, slots=True)
class TicketPriceView:
    """A ticket priced, in words.

    Parameters
    ----------
    view : PriceView or None
        ``None``: nothing can be priced, and ``faults`` say why.
    said : tuple of str
        For how many tonnes, by which number, under which terms.
    faults : tuple of str
    told : tuple of str
        What was told before, the latest first.
    """

    view: PriceView | None
    said: tuple[str, ...]
    faults: tuple[str, ...]
    told: tuple[str, ...]


def ticket_price_view(priced: TicketPrice) -> TicketPriceView:
    """Put a priced ticket into words."""
    answer, price = priced.answer, priced.answer.price
    said = []
    if price is not None:
        tonnes = figure(price.lot.tonnes, 1)
        said.append(
            term("ticket-price.tonnes" if priced.tonnes_known else "ticket-price.usual", tonnes=tonnes)
        )
        if priced.by_rule:
            said.append(term("ticket-price.by-rule", seconds=number(price.lot.seconds, 1)))
    said.append(term("price-page.of-version", version=priced.source.version, source=priced.source.name))
    stops = (f for f in answer.findings if price is None)
    place = None if answer.terms is None else place_unit(answer.terms)
    return TicketPriceView(
        price_view(answer),
        tuple(said),
        tuple(str(sentence(f)) for f in stops),
        tuple(_told(t, place) for t in priced.told if place is not None),
    )


def _told(told: Told, place: PlaceUnit) -> str:
    said = told.said
    at = when(told.at.astimezone())
    if said.get("buyer") is None:
        return term("ticket-price.told-nothing", when=at, version=told.source.version or told.source.name)
    return term(
        "ticket-price.told",
        when=at,
        seconds=number(said["seconds"], 1),
        net=per_unit(said["net_per_t"], place),
        buyer=short_name(said["buyer"]),
        version=told.source.version or told.source.name,
    )
