"""The office: what waits and the register, one ticket whole, its label."""

from __future__ import annotations

from urllib.parse import quote

import segno
from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from lodestarch.common.errors import UnknownName
from lodestarch.method.reading import CAUSES
from lodestarch.records.engine import Records
from lodestarch.records.tables.retests import RETEST_FROM, RETEST_RULES
from lodestarch.web.bench_pages import bench_path
from lodestarch.web.bench_view import ticket_view
from lodestarch.web.clock import Clock
from lodestarch.web.nav import Nav
from lodestarch.web.person import People
from lodestarch.web.render import page
from lodestarch.web.retest_lines import retests_view
from lodestarch.web.ticket_lines import changes_in_words, register_lines, waiting_lines, waiting_sentence
from lodestarch.web.ticket_price_view import ticket_price_view
from lodestarch.words.catalogues import term
from lodestarch.work.office.tickets_one import ticket_whole
from lodestarch.work.office.tickets_register import find_tickets, register_of_tickets

__all__ = ["TicketPages"]

_LONGEST = 80


class TicketPages:
    """Tickets over open records."""

    def __init__(self, records: Records, people: People, clock: Clock) -> None:
        self._records, self._people, self._clock = records, people, clock

    def routes(self) -> list[BaseRoute]:
        """Addresses and what answers them."""
        return [
            Route("/tickets", self.tickets, name="tickets"),
            Route("/tickets/{code}/label", self.label, name="ticket_label"),
            Route("/tickets/{code:path}", self.ticket, name="ticket"),
        ]

    def tickets(self, request: Request) -> Response:
        """What waits, and the register; or what a search found."""
        asked = request.query_params.get("q", "").strip()[:_LONGEST]
        before = request.query_params.get("before", "")
        number = int(before) if before.isascii() and before.isdigit() and len(before) < 18 else None
        register = register_of_tickets(self._records, at=self._clock(), before=number)
        return page(
            request,
            "tickets.html.j2",
            nav=self._nav(request, "office"),
            said=waiting_sentence(register.waiting),
            waiting=waiting_lines(register.waiting) if number is None else (),
            lines=register_lines(register.lines),
            before=register.more_before,
            asked=asked,
            found=find_tickets(self._records, asked) if asked else (),
            bench_path=bench_path,
        )

    def ticket(self, request: Request) -> Response:
        """One ticket whole."""
        code = request.path_params["code"]
        who = self._people.who(request)
        try:
            whole = ticket_whole(self._records, code, roles=who.roles if who else (), on=self._clock().date())
        except UnknownName:
            return self._lost(request, code)
        if code != whole.ticket.sample.key:
            return RedirectResponse(f"/tickets/{quote(whole.ticket.sample.key, safe='')}", status_code=303)
        return page(
            request,
            "ticket.html.j2",
            nav=self._nav(request, "office"),
            view=ticket_view(whole),
            changes=changes_in_words(whole.changes),
            retests=None if whole.retests is None else retests_view(whole.retests, code),
            priced=None if whole.price is None else ticket_price_view(whole.price),
            retest_from=RETEST_FROM,
            retest_rules=RETEST_RULES,
            causes=CAUSES,
            baths=(),
            bench_path=bench_path,
        )

    def label(self, request: Request) -> Response:
        """A label to print: the code for a scanner, and the same in plain text."""
        code = request.path_params["code"]
        try:
            whole = ticket_whole(self._records, code)
        except UnknownName:
            return self._lost(request, code)
        name = whole.ticket.name
        # Our own code of our own text: nothing in it is read as markup.
        drawn = Markup(segno.make(name, error="m", micro=False).svg_inline(scale=5, border=2, omitsize=True))  # noqa: S704
        return page(request, "label.html.j2", nav=self._nav(request, "office"), whole=whole, code=drawn)

    def _nav(self, request: Request, place: str) -> Nav:
        who = self._people.who(request)
        return Nav(place, person=who.name if who else "")

    def _lost(self, request: Request, code: str) -> Response:
        title = term("lost.title-code", code=code[:_LONGEST])
        return page(
            request,
            "lost.html.j2",
            status=404,
            nav=self._nav(request, "lost"),
            title=title,
            do=term("lost.do"),
        )
