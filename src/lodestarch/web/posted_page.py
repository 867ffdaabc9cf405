"""Pages whose forms the browser posts whole: read within limits, refused in words, drawn again as typed."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from lodestarch.common.errors import LodestarchError
from lodestarch.common.findings import Finding
from lodestarch.records.engine import Records
from lodestarch.web.clock import Clock
from lodestarch.web.form import Posted, read_form
from lodestarch.web.nav import Nav
from lodestarch.web.person import NobodyChosen, People
from lodestarch.web.render import page
from lodestarch.web.setup_places import SETUP_PAGES
from lodestarch.words.findings import sentence

__all__ = ["PostedPage"]

NOTHING = Posted({}, "", b"")


class PostedPage:
    """What such pages share.

    A page sets ``template``, ``place`` and ``path``, and gives ``shown``: everything that its template shows.
    """

    template = ""
    place = "setup"
    path = ""

    def __init__(self, records: Records, people: People, clock: Clock) -> None:
        self._records, self._people, self._clock = records, people, clock

    def shown(self, request: Request) -> dict[str, Any]:
        """Values of the template."""
        del request
        return {}

    def ask(self, request: Request) -> Response:
        """The page before anything is typed."""
        return self.draw(request)

    def taking(
        self, take: Callable[[Request, Posted, str], Response]
    ) -> Callable[[Request], Awaitable[Response]]:
        """Make an endpoint from a function of the request, what was posted and who posted it.

        Whoever has not said who they are is asked first; what is refused is said on the page.
        """

        def taken(request: Request, posted: Posted) -> Response:
            try:
                return take(request, posted, self._people.require(request).person)
            except NobodyChosen:
                return RedirectResponse(f"/sign-in?to={self.path}", status_code=303)
            except LodestarchError as refused:
                return self.draw(request, posted, refused=str(refused))

        async def endpoint(request: Request) -> Response:
            return await run_in_threadpool(taken, request, await read_form(request))

        return endpoint

    def draw(
        self,
        request: Request,
        posted: Posted = NOTHING,
        findings: tuple[Finding, ...] = (),
        refused: str = "",
        **more: Any,
    ) -> Response:
        """Draw the page with what was typed, and what is wrong with it."""
        who = self._people.who(request)
        return page(
            request,
            self.template,
            status=422 if findings or refused else 200,
            nav=Nav(self.place, person=who.name if who else ""),
            setup_pages=SETUP_PAGES,
            here=self.path,
            posted=posted,
            faults=tuple(sentence(f) for f in findings),
            fields_at_fault={f.where.field for f in findings},
            refused=refused,
            **self.shown(request),
            **more,
        )

    def back(self) -> Response:
        """To the page anew, once something is taken."""
        return RedirectResponse(self.path, status_code=303)
