"""The page Price: what a typed number brings at every buyer, under the offers given to the workbench."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Final
from urllib.parse import quote

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.common.provenance import Provenance
from lodestarch.method.reading import parse_seconds
from lodestarch.records.engine import Records
from lodestarch.sheets.terms import ReadTerms, read_terms
from lodestarch.sheets.terms_keys import MATERIALS
from lodestarch.sheets.typed import typed_number
from lodestarch.web.nav import Nav
from lodestarch.web.person import People
from lodestarch.web.price_view import price_view
from lodestarch.web.render import page
from lodestarch.web.source import DaySource
from lodestarch.web.told_view import told_day
from lodestarch.words.catalogues import term
from lodestarch.words.findings import sentence
from lodestarch.words.times import when
from lodestarch.work.office.price import PriceAnswer, PriceAsked, price_for
from lodestarch.work.office.terms_kept import read_kept, terms_of_lab
from lodestarch.work.office.told_prices import Told, day_told, days_told
from lodestarch.work.people.permissions import NotAllowed, is_allowed

__all__ = ["Offers", "PricePages", "offers_of_file", "offers_of_records"]

_LONGEST: Final = 80
_FIELDS: Final = ("seconds", "u_s", "tonnes", "material", "factor", "on")


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


class PricePages:
    """Read only: a form that asks, and the answer beneath it."""

    def __init__(
        self,
        source: DaySource,
        offers: Offers | None,
        records: Records | None = None,
        people: People | None = None,
    ) -> None:
        self._source, self._given, self._records, self._people = source, offers, records, people

    def _offers(self) -> Offers | None:
        """Offers of the file that the workbench was started with, else those that stand in the records."""
        if self._given is not None or self._records is None:
            return self._given
        return offers_of_records(self._records)

    def routes(self) -> list[BaseRoute]:
        """Addresses and what answers them."""
        return [
            Route("/price", self.price, name="price"),
            Route("/price/told", self.told_days, name="told_days"),
            Route("/price/told/{key}", self.told, name="told"),
        ]

    def _kept_off(self, request: Request) -> Response | None:
        """Where people sign in, prices are for those who may see them."""
        if self._people is None:
            return None
        who = self._people.who(request)
        if who is None:
            return RedirectResponse(f"/sign-in?to={quote(request.url.path, safe='')}", status_code=303)
        if is_allowed("price.see", who.roles):
            return None
        title, do = term("price-page.not-for"), str(NotAllowed("price.see", who.roles))
        return page(request, "lost.html.j2", status=403, nav=self._nav(request), title=title, do=do)

    def price(self, request: Request) -> Response:
        """The sentence, the curve with its dots, the buyers by net; the advice beside them."""
        off = self._kept_off(request)
        if off is not None:
            return off
        offers = self._offers()
        asked = {k: request.query_params.get(k, "")[:_LONGEST].strip() for k in _FIELDS}
        view, found = None, tuple[Finding, ...]()
        unread = _unread(asked)
        if unread:
            found = unread
        elif offers is not None and asked["seconds"]:
            answer = price_for(_asked(asked), offers.read)
            view, found = price_view(answer), _told(answer)
        title = term("price-page.ask" if offers is not None else "price-page.none")
        texts = [(f.where.field or "", sentence(f)) for f in found]
        return page(
            request,
            "price.html.j2",
            nav=self._nav(request, demonstration=bool(offers and offers.demonstration)),
            asked=asked,
            view=view,
            faults={name: f"{t.wrong}. {t.do}" for name, t in texts if name in _FIELDS},
            found=tuple(t for name, t in texts if name not in _FIELDS),
            title=title,
            offers=None if offers is None else offers.said,
            entering=self._people is not None,
            materials=MATERIALS,
        )

    def told_days(self, request: Request) -> Response:
        """Days that prices were told with, the latest first."""
        off = self._kept_off(request)
        if off is not None:
            return off
        told = () if self._records is None else days_told(self._records)
        lines = tuple((t.key, term("told-page.of-day", **_of(t))) for t in told)
        return page(request, "told.html.j2", nav=self._nav(request), lines=lines, told=None)

    def told(self, request: Request) -> Response:
        """A day's prices as they were told."""
        off = self._kept_off(request)
        if off is not None:
            return off
        told = None if self._records is None else day_told(self._records, request.path_params["key"][:20])
        if told is None:
            return RedirectResponse("/price/told", status_code=303)
        said = term("told-page.of-day", **_of(told))
        return page(request, "told.html.j2", nav=self._nav(request), lines=(), told=told_day(told), said=said)

    def _nav(self, request: Request, *, demonstration: bool = False) -> Nav:
        days = self._source.list_days()
        who = None if self._people is None else self._people.who(request)
        first = days[0].day_id if days else None
        return Nav("price", first, demonstration=demonstration, person=who.name if who else "")


def _of(told: Told) -> dict[str, str]:
    version = told.source.version or told.source.name
    return {"when": when(told.at.astimezone()), "day": told.day or "", "version": version}


def _asked(asked: dict[str, str]) -> PriceAsked:
    tonnes = typed_number(asked["tonnes"])
    return PriceAsked(
        number=asked["seconds"],
        u_s=typed_number(asked["u_s"]),
        tonnes=25.0 if tonnes is None else tonnes,
        material=asked["material"] or None,
        factors=tuple(asked["factor"].split()),
        on=date.fromisoformat(asked["on"]) if asked["on"] else None,
    )


def _unread(asked: dict[str, str]) -> tuple[Finding, ...]:
    """Fields that hold something else than they may."""
    found = [
        Finding("entry-no-number", Where(field=key), Severity.STOP, {"text": asked[key], "name": key})
        for key in ("u_s", "tonnes")
        if asked[key] and typed_number(asked[key]) is None
    ]
    if asked["seconds"] and parse_seconds(asked["seconds"]) is None:
        values = {"text": asked["seconds"]}
        found.append(Finding("number-unreadable", Where(field="seconds"), Severity.STOP, values))
    if asked["material"] and asked["material"] not in MATERIALS:
        values = {"text": asked["material"], "choices": ", ".join(MATERIALS)}
        found.append(Finding("entry-no-choice", Where(field="material"), Severity.STOP, values))
    try:
        date.fromisoformat(asked["on"] or "2000-01-01")
    except ValueError:
        found.append(Finding("price-no-day", Where(field="on"), Severity.STOP, {"text": asked["on"]}))
    return tuple(found)


def _told(answer: PriceAnswer) -> tuple[Finding, ...]:
    """What has to be looked at; what is only worth knowing stands in the table's own words."""
    return tuple(f for f in answer.findings if f.severity is not Severity.NOTE)
