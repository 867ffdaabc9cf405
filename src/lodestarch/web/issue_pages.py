"""Papers of a ticket: what was issued, and issuing for those who may."""

from __future__ import annotations

from datetime import datetime
from typing import Final
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from lodestarch.common.errors import Refused, UnknownName
from lodestarch.common.findings import Finding, Severity
from lodestarch.records.engine import Records
from lodestarch.web.clock import Clock
from lodestarch.web.form import Posted, read_form
from lodestarch.web.nav import Nav
from lodestarch.web.person import NobodyChosen, People
from lodestarch.web.render import page
from lodestarch.words.catalogues import term
from lodestarch.words.findings import sentence
from lodestarch.words.times import when
from lodestarch.work.issuing.certificate import CertificateAsked, issue_certificate
from lodestarch.work.issuing.evidence import make_bundle
from lodestarch.work.issuing.letter import LetterAsked, issue_letter
from lodestarch.work.issuing.overview import SET_AGAIN, paper_file, papers_of
from lodestarch.work.people.permissions import is_allowed

__all__ = ["IssuePages"]

_TYPES: Final = {
    "pdf": "application/pdf", "html": "text/html; charset=utf-8", "json": "application/json",
    "zip": "application/zip",
}  # fmt: skip
_LONGEST: Final = 80


def _saved(data: bytes, name: str) -> Response:
    """A file to keep: never opened inside the workbench."""
    headers = {"Content-Disposition": f"attachment; filename*=UTF-8''{quote(name, safe='')}"}
    return Response(data, media_type=_TYPES[name.rpartition(".")[2]], headers=headers)


class IssuePages:
    """Papers over open records."""

    def __init__(self, records: Records, people: People, clock: Clock) -> None:
        self._records, self._people, self._clock = records, people, clock

    def routes(self) -> list[BaseRoute]:
        """Addresses and what answers them; they stand before the pages of tickets."""
        return [
            Route("/tickets/{code}/papers", self.papers, name="ticket_papers"),
            Route("/tickets/{code}/papers", self.issue, methods=["POST"]),
            Route("/papers/{number}.{ending}", self.file, name="paper_file"),
        ]

    def papers(self, request: Request) -> Response:
        """What was issued of a ticket."""
        return self._page(request, (), "")

    async def issue(self, request: Request) -> Response:
        """Issue what a button names."""
        posted = await read_form(request)
        return await run_in_threadpool(self._issue, request, posted)

    def file(self, request: Request) -> Response:
        """A paper as it stands now."""
        number, ending = request.path_params["number"], request.path_params["ending"]
        try:
            return _saved(paper_file(self._records, number, ending), f"{number}.{ending}")
        except UnknownName:
            return self._lost(request, number)

    def _issue(self, request: Request, posted: Posted) -> Response:
        code, what, reason = request.path_params["code"], posted.one("what"), posted.one("reason")
        at = self._clock()
        try:
            person = self._people.require(request).person
        except NobodyChosen:
            return RedirectResponse(f"/sign-in?to={quote(request.url.path)}", status_code=303)
        try:
            if what == "bundle":
                made = make_bundle(self._records, code, purpose=reason, person=person, at=at)
                if made.data is not None and made.file_name is not None:
                    return _saved(made.data, made.file_name)
                return self._page(request, made.findings, "")
            number, found = self._paper(what, code, reason, person, at)
        except Refused as cause:
            return self._page(request, (), str(cause), status=403)
        if number is None:
            return self._page(request, found, "", status=422)
        return RedirectResponse(f"{request.url.path}#{quote(number)}", status_code=303)

    def _paper(
        self, what: str, code: str, reason: str, person: str, at: datetime
    ) -> tuple[str | None, tuple[Finding, ...]]:
        if what == "letter":
            made = issue_letter(self._records, LetterAsked(code), person=person, at=at)
        else:
            made = issue_certificate(
                self._records, CertificateAsked(code, reason=reason), person=person, at=at
            )
        return made.number, made.findings

    def _page(
        self, request: Request, found: tuple[Finding, ...], refused: str, *, status: int = 200
    ) -> Response:
        code = request.path_params["code"]
        try:
            whole = papers_of(self._records, code)
        except UnknownName:
            return self._lost(request, code)
        who = self._people.who(request)
        may = who is not None and is_allowed("document.issue", who.roles)
        return page(
            request,
            "issue.html.j2",
            status=status,
            nav=Nav("office", person=who.name if who else ""),
            whole=whole,
            may=may,
            set_again=SET_AGAIN,
            issued=[(line, when(datetime.fromisoformat(line.issued_at))) for line in whole.papers],
            said=[sentence(f) for f in found if f.severity is Severity.STOP],
            refused=refused,
        )

    def _lost(self, request: Request, code: str) -> Response:
        who = self._people.who(request)
        nav = Nav("lost", person=who.name if who else "")
        title = term("lost.title-code", code=code[:_LONGEST])
        return page(request, "lost.html.j2", status=404, nav=nav, title=title, do=term("lost.do"))
