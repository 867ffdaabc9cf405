"""The page Price: what a typed number brings at every buyer, under the offers given to the workbench."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.common.provenance import Provenance
from lodestarch.records.engine import Records
from lodestarch.sheets.terms import ReadTerms, read_terms
from lodestarch.sheets.typed import typed_number
from lodestarch.web.nav import Nav
from lodestarch.web.render import page
from lodestarch.web.source import DaySource
from lodestarch.words.catalogues import term
from lodestarch.words.drawing.svg import Drawing
from lodestarch.words.findings import FindingText, sentence
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
from lodestarch.words.price_picture import price_drawing
from lodestarch.work.office.price import PriceAnswer, PriceAsked, price_for
from lodestarch.work.office.terms_kept import read_kept, terms_of_lab

__all__ = ["Offers", "PricePages", "offers_of_file", "offers_of_records"]

_LONGEST: Final = 40


@dataclass(frozen=True, slots=True)
class Offers:
    """The offers that the page prices by.

    Parameters
    ----------
    read : ReadTerms
    said : str
        Where they are from, in words: a file, or a version in the records.
    """

    read: ReadTerms
    said: str

    @property
    def demonstration(self) -> bool:
        """Invented; the page says so."""
        return self.read.terms is not None and self.read.terms.provenance is Provenance.INVENTED


def offers_of_file(name: str, data: bytes) -> Offers:
    """Offers as a file of terms states them."""
    return Offers(read_terms(data, name), term("price-page.of-file", name=name))


def offers_of_records(records: Records) -> Offers | None:
    """Offers as they stand in the records; ``None`` where none were entered."""
    kept = terms_of_lab(records)
    if kept is None:
        return None
    return Offers(read_kept(kept), term("price-page.of-version", version=kept.key, source=kept.source))


@dataclass(frozen=True, slots=True)
class _Buyer:
    """A line of the table, in words."""

    name: str
    net: str
    lot: str
    makes: str
    remark: str
    usable: bool


@dataclass(frozen=True, slots=True)
class _View:
    """A priced lot as the page shows it."""

    said: str
    picture: Drawing
    dots: str
    buyers: tuple[_Buyer, ...]
    advice: str
    lines: tuple[str, ...]
    function: tuple[str, ...]


class PricePages:
    """Read only: a form that asks, and the answer beneath it."""

    def __init__(self, source: DaySource, offers: Offers | None, records: Records | None = None) -> None:
        self._source, self._given, self._records = source, offers, records

    def _offers(self) -> Offers | None:
        """Offers of the file that the workbench was started with, else those that stand in the records."""
        if self._given is not None or self._records is None:
            return self._given
        return offers_of_records(self._records)

    def routes(self) -> list[BaseRoute]:
        """Addresses and what answers them."""
        return [Route("/price", self.price, name="price")]

    def price(self, request: Request) -> Response:
        """The sentence, the curve with its dots, the buyers by net; the advice beside them."""
        days = self._source.list_days()
        offers = self._offers()
        nav = Nav(
            "price", days[0].day_id if days else None, demonstration=bool(offers and offers.demonstration)
        )
        asked = {k: request.query_params.get(k, "")[:_LONGEST].strip() for k in ("seconds", "u", "tonnes")}
        view, found = None, tuple[FindingText, ...]()
        unread = _unread(asked)
        if unread:
            found = tuple(sentence(f) for f in unread)
        elif offers is not None and asked["seconds"]:
            answer = price_for(_asked(asked), offers.read)
            view, found = _view(answer), _told(answer)
        title = term("price-page.ask" if offers is not None else "price-page.none")
        return page(
            request, "price.html.j2", nav=nav, asked=asked, view=view, found=found, title=title,
            offers=None if offers is None else offers.said, entering=self._records is not None,
        )  # fmt: skip


def _asked(asked: dict[str, str]) -> PriceAsked:
    tonnes = typed_number(asked["tonnes"])
    return PriceAsked(
        number=asked["seconds"],
        u_s=typed_number(asked["u"]),
        tonnes=25.0 if tonnes is None else tonnes,
    )


def _unread(asked: dict[str, str]) -> tuple[Finding, ...]:
    """Fields that hold something else than a number."""
    named = (("u", term("price-page.u-name")), ("tonnes", term("price-page.tonnes-name")))
    return tuple(
        Finding("entry-no-number", Where(field=key), Severity.STOP, {"text": asked[key], "name": name})
        for key, name in named
        if asked[key] and typed_number(asked[key]) is None
    )


def _told(answer: PriceAnswer) -> tuple[FindingText, ...]:
    """What has to be looked at; what is only worth knowing stands in the table's own words."""
    return tuple(sentence(f) for f in answer.findings if f.severity is not Severity.NOTE)


def _view(answer: PriceAnswer) -> _View | None:
    price, advice, terms = answer.price, answer.advice, answer.terms
    if price is None or advice is None or terms is None:
        return None
    place = place_unit(terms)
    buyers = []
    for row in price.rows:
        net = row.net_per_t
        buyers.append(
            _Buyer(
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
    return _View(
        price_sentence(price, place),
        price_drawing(price, place),
        "" if best is None else term("price.dots", buyer=short_name(best.outlet.buyer)),
        tuple(buyers),
        advice_sentence(advice, price, place),
        (*u, *price_lines(price, place), *advice_lines(advice, price, place)),
        function_lines(price),
    )
