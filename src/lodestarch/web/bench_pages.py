"""The Bench page and its two halves, which it asks for anew as work goes on."""

from __future__ import annotations

from typing import Any
from urllib.parse import quote

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from lodestarch.common.errors import UnknownName
from lodestarch.method.reading import CAUSES
from lodestarch.records.accounts import Who
from lodestarch.records.engine import Records
from lodestarch.web.bench_view import TicketView, lanes_view, ticket_view
from lodestarch.web.clock import Clock
from lodestarch.web.nav import Nav
from lodestarch.web.person import People
from lodestarch.web.render import page
from lodestarch.web.ticket_price_view import ticket_price_view
from lodestarch.work.bench.state import bench_now
from lodestarch.work.office.tickets_one import ticket_whole

__all__ = ["BenchPages", "bench_path"]


def bench_path(code: str) -> str:
    """Address of the bench with a ticket open."""
    return f"/bench?ticket={quote(code, safe='')}"


class BenchPages:
    """The bench over open records."""

    def __init__(self, records: Records, people: People, clock: Clock) -> None:
        self._records, self._people, self._clock = records, people, clock

    def routes(self) -> list[BaseRoute]:
        """Addresses and what answers them."""
        return [
            Route("/bench", self.bench, name="bench"),
            Route("/bench/lanes", self.lanes, name="lanes"),
            Route("/bench/tickets/{code:path}", self.ticket, name="bench_ticket"),
        ]

    def bench(self, request: Request) -> Response:
        """The whole page, with a ticket open where the address names one."""
        who = self._people.who(request)
        if who is None:
            return RedirectResponse(f"/sign-in?to={quote(_here(request), safe='')}", status_code=303)
        asked = request.query_params.get("ticket", "").strip()
        view = self._view(asked, who) if asked else None
        return page(
            request,
            "bench.html.j2",
            nav=Nav("bench", person=who.name),
            lanes=lanes_view(bench_now(self._records, at=self._clock())),
            open=view.ticket.sample.key if view else "",
            view=view,
            **self._shared(view),
        )

    def lanes(self, request: Request) -> Response:
        """The left half alone."""
        lanes = lanes_view(bench_now(self._records, at=self._clock()))
        return page(request, "bench_lanes.html.j2", lanes=lanes, bench_path=bench_path)

    def ticket(self, request: Request) -> Response:
        """The right half alone, for one ticket."""
        view = self._view(request.path_params["code"], self._people.who(request))
        if view is None:
            return page(request, "bench_none.html.j2", status=404)
        return page(request, "bench_ticket.html.j2", view=view, **self._shared(view))

    def _view(self, code: str, who: Who | None) -> TicketView | None:
        roles = who.roles if who else ()
        try:
            return ticket_view(ticket_whole(self._records, code, roles=roles, on=self._clock().date()))
        except UnknownName:
            return None

    def _shared(self, view: TicketView | None) -> dict[str, Any]:
        baths = [b.name for b in bench_now(self._records, at=self._clock()).baths] if view else []
        price = view.whole.price if view else None
        priced = None if price is None else ticket_price_view(price)
        return {"bench_path": bench_path, "causes": CAUSES, "baths": baths, "priced": priced}


def _here(request: Request) -> str:
    query = request.url.query
    return f"{request.url.path}?{query}" if query else request.url.path
