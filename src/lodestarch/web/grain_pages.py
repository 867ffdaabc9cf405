"""Samples: what is kept and what may go today; the grain of one ticket, its parts, custody and files."""

from __future__ import annotations

from typing import Any
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from lodestarch.common.errors import LodestarchError, UnknownName
from lodestarch.common.findings import Finding
from lodestarch.records.engine import Records
from lodestarch.records.tables.outward import CUSTODY_STEPS
from lodestarch.records.tables.samples import SAMPLE_KINDS
from lodestarch.web.clock import Clock
from lodestarch.web.form import Posted, read_form
from lodestarch.web.nav import Nav
from lodestarch.web.person import NobodyChosen, People
from lodestarch.web.render import page
from lodestarch.words.catalogues import term
from lodestarch.words.findings import sentence
from lodestarch.words.times import when
from lodestarch.work.office.files_of import attach_file, file_of
from lodestarch.work.office.grain_of import grain_of
from lodestarch.work.office.retained import EVERY, retained_now, rules

__all__ = ["GrainPages"]

_LONGEST = 80


class GrainPages:
    """Samples over open records."""

    def __init__(self, records: Records, people: People, clock: Clock) -> None:
        self._records, self._people, self._clock = records, people, clock

    def routes(self) -> list[BaseRoute]:
        """Addresses and what answers them; they stand before those of tickets, which take any path."""
        return [
            Route("/samples", self.kept, name="samples"),
            Route("/tickets/{code}/grain", self.grain, name="grain"),
            Route("/tickets/{code}/files", self.take_file, methods=["POST"]),
            Route("/tickets/{code}/files/{key}", self.give_file, name="file"),
        ]

    def kept(self, request: Request) -> Response:
        """What is kept, what may be discarded today at the head; rules, and a composite from it."""
        today, left = self._clock().date(), retained_now(self._records)
        return self._page(
            request,
            "samples.html.j2",
            today=today,
            left=left,
            due=[one for one in left if one.is_due(today)],
            rules=rules(self._records),
            kinds=(EVERY, *SAMPLE_KINDS),
        )

    def grain(self, request: Request) -> Response:
        """The grain of one ticket."""
        return self._grain(request, ())

    def _grain(self, request: Request, found: tuple[Finding, ...], refused: str = "") -> Response:
        code = request.path_params["code"]
        try:
            grain = grain_of(self._records, code)
        except UnknownName:
            return self._lost(request, code)
        return self._page(
            request,
            "grain.html.j2",
            status=422 if found or refused else 200,
            grain=grain,
            today=self._clock().date(),
            steps=CUSTODY_STEPS,
            told=lambda at: when(at.astimezone()),
            faults=tuple(sentence(one) for one in found),
            refused=refused,
        )

    async def take_file(self, request: Request) -> Response:
        """Keep a file with a ticket."""
        posted = await read_form(request)
        return await run_in_threadpool(self._take_file, request, posted)

    def _take_file(self, request: Request, posted: Posted) -> Response:
        code = request.path_params["code"]
        here = f"/tickets/{quote(code, safe='')}/grain"
        try:
            person = self._people.require(request).person
            found = attach_file(
                self._records, code, posted.file_name, posted.file, person=person, at=self._clock()
            )
        except NobodyChosen:
            return RedirectResponse(f"/sign-in?to={here}", status_code=303)
        except LodestarchError as refused:
            return self._grain(request, (), str(refused))
        return self._grain(request, found) if found else RedirectResponse(here, status_code=303)

    def give_file(self, request: Request) -> Response:
        """A file as it came, to be saved, never shown inside a page."""
        try:
            file, content = file_of(self._records, request.path_params["code"], request.path_params["key"])
        except UnknownName:
            return self._lost(request, request.path_params["key"])
        headers = {"Content-Disposition": f"attachment; filename*=UTF-8''{quote(file.name, safe='')}"}
        return Response(content, media_type=file.media_type, headers=headers)

    def _page(self, request: Request, template: str, *, status: int = 200, **values: Any) -> Response:
        who = self._people.who(request)
        nav = Nav("office", person=who.name if who else "")
        return page(request, template, status=status, nav=nav, **values)

    def _lost(self, request: Request, code: str) -> Response:
        title = term("lost.title-code", code=code[:_LONGEST])
        return self._page(request, "lost.html.j2", status=404, title=title, do=term("lost.do"))
