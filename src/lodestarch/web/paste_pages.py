"""A spreadsheet pasted, or a file dropped in: read like a bench sheet."""

from __future__ import annotations

from pathlib import PurePath
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from lodestarch.common.errors import LodestarchError
from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.records.engine import Records
from lodestarch.web.clock import Clock
from lodestarch.web.form import Posted, read_form
from lodestarch.web.nav import Nav
from lodestarch.web.person import NobodyChosen, People
from lodestarch.web.render import page
from lodestarch.words.findings import sentence
from lodestarch.work.bench.day import run_day
from lodestarch.work.bench.day_order import DayFile, DayOrder
from lodestarch.work.keeping.bench_choices import bench_choices

__all__ = ["PastePages"]

_LONGEST_NAME = 120


class PastePages:
    """Sheets handed in over open records."""

    def __init__(self, records: Records, people: People, clock: Clock) -> None:
        self._records, self._people, self._clock = records, people, clock

    def routes(self) -> list[BaseRoute]:
        """Addresses and what answers them."""
        return [Route("/paste", self.ask, name="paste"), Route("/paste", self.take, methods=["POST"])]

    def ask(self, request: Request) -> Response:
        """An empty page to paste into."""
        return self._page(request, Posted({}, "", b""), ())

    async def take(self, request: Request) -> Response:
        """Read, judge and keep what was pasted; then the day."""
        posted = await read_form(request)
        return await run_in_threadpool(self._take, request, posted)

    def _take(self, request: Request, posted: Posted) -> Response:
        text = posted.one("rows")
        name = PurePath(posted.file_name.replace("\\", "/")).name[:_LONGEST_NAME]
        data = posted.file or text.encode("utf-8")
        if not data.strip():
            return self._page(request, posted, (Finding("paste-empty", Where(field="rows"), Severity.STOP),))
        order = DayOrder(
            DayFile(name or "pasted.tsv", data),
            profile=posted.one("profile") or None,
            title=posted.one("title").strip()[:_LONGEST_NAME] or None,
        )
        try:
            person = self._people.require(request).person
            day = run_day(order, records=self._records, person=person, at=self._clock())
        except NobodyChosen:
            return RedirectResponse("/sign-in?to=/paste", status_code=303)
        except LodestarchError as refused:
            return self._page(request, posted, (), str(refused))
        if day.sheet.taken == 0:
            return self._page(request, posted, day.findings[:10])
        return RedirectResponse(f"/days/{quote(day.day_id, safe='')}", status_code=303)

    def _page(
        self, request: Request, posted: Posted, findings: tuple[Finding, ...], refused: str = ""
    ) -> Response:
        who = self._people.who(request)
        return page(
            request,
            "paste.html.j2",
            status=422 if findings or refused else 200,
            nav=Nav("office", person=who.name if who else ""),
            posted=posted,
            choices=bench_choices(self._records),
            faults=tuple(sentence(f) for f in findings),
            refused=refused,
        )
