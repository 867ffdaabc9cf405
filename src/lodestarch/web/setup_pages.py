"""Set-up: the bench's choices, people and their passwords, backup, and where to find the rest."""

from __future__ import annotations

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from lodestarch.common.errors import LodestarchError
from lodestarch.common.findings import Finding
from lodestarch.records.engine import Records
from lodestarch.records.people import ALL_ROLES
from lodestarch.web.clock import Clock
from lodestarch.web.form import Posted, read_form
from lodestarch.web.nav import Nav
from lodestarch.web.person import NobodyChosen, People
from lodestarch.web.render import page
from lodestarch.web.setup_places import SETUP_PAGES
from lodestarch.words.findings import sentence
from lodestarch.work.keeping.bench_choices import bench_choices
from lodestarch.work.people.staff import add_staff, set_password_of, staff

__all__ = ["SetupPages"]


class SetupPages:
    """What is chosen once and looked up sometimes."""

    def __init__(self, records: Records, people: People, clock: Clock) -> None:
        self._records, self._people, self._clock = records, people, clock

    def routes(self) -> list[BaseRoute]:
        """Addresses and what answers them."""
        return [
            Route("/setup", self.ask, name="setup"),
            Route("/setup/people", self.add, methods=["POST"]),
            Route("/setup/password", self.password, methods=["POST"]),
        ]

    def ask(self, request: Request) -> Response:
        """Everything that is chosen."""
        return self._page(request, "", ())

    async def add(self, request: Request) -> Response:
        """Add a person."""
        posted = await read_form(request)
        return await run_in_threadpool(self._add, request, posted)

    def _add(self, request: Request, posted: Posted) -> Response:
        try:
            found = add_staff(
                self._records,
                posted.one("name"),
                posted.fields.get("roles", []),
                posted.one("password"),
                person=self._people.require(request).person,
                at=self._clock(),
            )
        except NobodyChosen:
            return RedirectResponse("/sign-in?to=/setup", status_code=303)
        except LodestarchError as refused:
            return self._page(request, "person", (), str(refused), posted)
        return self._page(request, "person", found, "", posted) if found else _back()

    async def password(self, request: Request) -> Response:
        """Give somebody a password."""
        posted = await read_form(request)
        return await run_in_threadpool(self._password, request, posted)

    def _password(self, request: Request, posted: Posted) -> Response:
        try:
            found = set_password_of(
                self._records,
                posted.one("person"),
                posted.one("password"),
                current=posted.one("current"),
                origin=request.client.host if request.client else "",
                person=self._people.require(request).person,
                at=self._clock(),
            )
        except NobodyChosen:
            return RedirectResponse("/sign-in?to=/setup", status_code=303)
        except LodestarchError as refused:
            return self._page(request, "password", (), str(refused), posted)
        return self._page(request, "password", found, "", posted) if found else _back()

    def _page(
        self,
        request: Request,
        form: str,
        findings: tuple[Finding, ...],
        refused: str = "",
        posted: Posted | None = None,
    ) -> Response:
        who = self._people.who(request)
        return page(
            request,
            "setup.html.j2",
            status=422 if findings or refused else 200,
            nav=Nav("setup", person=who.name if who else ""),
            setup_pages=SETUP_PAGES,
            here="/setup",
            who=who,
            choices=bench_choices(self._records),
            people=staff(self._records),
            roles=ALL_ROLES,
            form=form,
            faults=tuple(sentence(f) for f in findings),
            refused=refused,
            posted=posted or Posted({}, "", b""),
        )


def _back() -> Response:
    return RedirectResponse("/setup", status_code=303)
