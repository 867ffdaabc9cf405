"""The workbench, put together."""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterable
from importlib.resources import files
from typing import Final

from fastapi import FastAPI
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.staticfiles import StaticFiles
from starlette.types import Scope

from lodestarch import __version__
from lodestarch.common.errors import UnknownName
from lodestarch.records.engine import Records
from lodestarch.web.api import api_routes
from lodestarch.web.api_control import control_entry_routes, control_routes
from lodestarch.web.api_entries import entry_routes
from lodestarch.web.api_state import state_routes
from lodestarch.web.bearer import Gate, bearer_gate, open_gate
from lodestarch.web.bench_pages import BenchPages
from lodestarch.web.clock import Clock, local_now
from lodestarch.web.control_pages import ControlPages
from lodestarch.web.grain_entries import grain_routes
from lodestarch.web.grain_pages import GrainPages
from lodestarch.web.guard import HEADERS, Guard
from lodestarch.web.instrument_entries import instrument_entry_routes
from lodestarch.web.instrument_pages import InstrumentPages
from lodestarch.web.issue_pages import IssuePages
from lodestarch.web.keeping_pages import KeepingPages
from lodestarch.web.nav import Nav
from lodestarch.web.pace import ASKING, Pace
from lodestarch.web.pages import Pages
from lodestarch.web.paste_pages import PastePages
from lodestarch.web.person import People
from lodestarch.web.person_pages import PersonPages
from lodestarch.web.plan_places import add_planning
from lodestarch.web.price_pages import Offers, PricePages
from lodestarch.web.reference_pages import ReferencePages
from lodestarch.web.refusals import REFUSALS
from lodestarch.web.render import page
from lodestarch.web.season_pages import SeasonPages, season_routes
from lodestarch.web.setup_pages import SetupPages
from lodestarch.web.source import DaySource
from lodestarch.web.terms_pages import TermsPages
from lodestarch.web.ticket_pages import TicketPages
from lodestarch.web.token_pages import TokenPages
from lodestarch.web.trade_entries import trade_entry_routes
from lodestarch.web.tube_pages import TubePages
from lodestarch.words.catalogues import term, terms
from lodestarch.work.office.tickets_one import ticket_whole

__all__ = ["create_app"]

_LOG: Final = logging.getLogger(__name__)
_API: Final = "/api/"


def _refusal(scope: Scope, status: int, reason: str) -> Response:
    """Say why something is refused, as a page or as JSON."""
    title = term(f"lost.{reason}-title")
    do = terms().get(f"lost.{reason}-do", "")
    if scope["path"].startswith(_API):
        return JSONResponse({"detail": title}, status_code=status)
    request = Request(scope)
    return page(request, "lost.html.j2", status=status, nav=Nav("refused"), title=title, do=do)


class _Browsers:
    """Browsers that came in by the start address, remembered in the records."""

    def __init__(self, records: Records, clock: Clock) -> None:
        self._records, self._clock = records, clock

    def keep(self, token: str) -> None:
        """Remember a browser."""
        self._records.keep_browser(token, self._clock())

    def knows(self, token: str) -> bool:
        """Tell whether a browser is remembered."""
        return self._records.knows_browser(token, self._clock())


def _add_workbench(app: FastAPI, records: Records, clock: Clock, gate: Gate) -> None:
    """Everything that enters, with the pages that it is entered on."""
    people = People(records, clock)
    app.include_router(state_routes(records, clock, gate))
    app.include_router(entry_routes(records, people, clock, gate))
    app.include_router(trade_entry_routes(records, people, clock, gate))
    app.include_router(instrument_entry_routes(records, people, clock, gate))
    app.include_router(grain_routes(records, people, clock, gate))
    add_planning(app, records, people, clock, gate)
    app.include_router(control_routes(records, clock, gate))
    app.include_router(control_entry_routes(records, people, clock, gate))
    app.router.routes.extend(BenchPages(records, people, clock).routes())
    app.router.routes.extend(ControlPages(records, people, clock).routes())
    app.router.routes.extend(GrainPages(records, people, clock).routes())
    app.router.routes.extend(IssuePages(records, people, clock).routes())
    app.router.routes.extend(TicketPages(records, people, clock).routes())
    app.router.routes.extend(PastePages(records, people, clock).routes())
    app.router.routes.extend(SetupPages(records, people, clock).routes())
    app.router.routes.extend(TermsPages(records, people, clock).routes())
    app.router.routes.extend(InstrumentPages(records, people, clock).routes())
    app.router.routes.extend(KeepingPages(records, people, clock).routes())
    app.router.routes.extend(TokenPages(records, people, clock).routes())
    app.router.routes.extend(ReferencePages(people).routes())
    app.router.routes.extend(PersonPages(people).routes())
    for cause, answer in REFUSALS.items():
        app.add_exception_handler(cause, answer)


def _finder(records: Records) -> Callable[[str], str | None]:
    """Find the sample that was received under a ticket or code."""

    def received(code: str) -> str | None:
        try:
            return ticket_whole(records, code).ticket.sample.key
        except UnknownName:
            return None

    return received


def create_app(
    source: DaySource,
    *,
    token: str | None,
    allowed_hosts: Iterable[str],
    records: Records | None = None,
    clock: Clock = local_now,
    offers: Offers | None = None,
    pace: Pace | None = None,
) -> FastAPI:
    """Make the application.

    Parameters
    ----------
    source : DaySource
        The days that are kept.
    token : str or None
        One-time start token: the first request that carries it as ``?token=`` gets a session, everybody else
        is refused. ``None`` asks for none.
    allowed_hosts : iterable of str
        ``name`` or ``name:port`` as the Host header has them, for example ``127.0.0.1:8321``.

    records : Records or None
        Where entries go. ``None``, or records open for reading only: every page can be read, and GET and HEAD
        are all that is answered.
    clock : callable
        Gives the present moment with time zone.
    offers : Offers or None
        What the page Price prices by in place of the terms that stand in the records.
    pace : Pace or None
        How fast one sender may ask; ``None``: as :data:`lodestarch.web.pace.ASKING` says.
    """
    app = FastAPI(
        title="Lodestarch",
        version=__version__,
        docs_url=None,
        redoc_url=None,
        openapi_url="/api/v1/openapi.json",
    )
    writing = records is not None and records.writable
    gate = bearer_gate(records, clock) if records is not None and writing else open_gate
    app.include_router(api_routes(source, gate))
    app.state.entering = writing
    if records is not None and writing:
        _add_workbench(app, records, clock, gate)
    people = People(records, clock) if records is not None and writing else None
    pages = Pages(source, _finder(records) if records is not None and writing else None)
    app.router.routes.extend(pages.routes())
    app.router.routes.extend(TubePages(source).routes())
    season = SeasonPages(source, records)
    app.include_router(season_routes(season, gate))
    app.router.routes.extend(season.routes())
    app.router.routes.extend(PricePages(source, offers, records, people).routes())
    static = str(files("lodestarch.web").joinpath("static"))
    app.mount("/static", StaticFiles(directory=static), name="static")

    def refused(request: Request, cause: Exception) -> Response:
        status = cause.status_code if isinstance(cause, HTTPException) else 500
        detail = cause.detail if isinstance(cause, HTTPException) else term("lost.broken-title")
        if request.url.path.startswith(_API):
            return JSONResponse({"detail": detail}, status_code=status)
        if status >= 500:
            title, do = term("lost.broken-title"), term("lost.broken-do")
        else:
            title, do = term("lost.title"), term("lost.do")
        return page(request, "lost.html.j2", status=status, nav=Nav("lost"), title=title, do=do)

    def broken(request: Request, cause: Exception) -> Response:
        _LOG.error("page %s could not be made", request.url.path, exc_info=cause)
        answer = refused(request, cause)
        # The framework answers faults outside of every layer, the guard's included.
        answer.headers.update({**HEADERS, "Cache-Control": "no-store"})
        return answer

    app.add_exception_handler(HTTPException, refused)
    app.add_exception_handler(Exception, broken)
    app.add_middleware(
        Guard,
        allowed_hosts=tuple(allowed_hosts),
        token=token,
        refusal=_refusal,
        writing=writing,
        keeper=_Browsers(records, clock) if records is not None and writing else None,
        by_token=writing,
        pace=pace or Pace(*ASKING),
    )
    return app
