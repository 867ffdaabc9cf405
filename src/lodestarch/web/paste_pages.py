"""A spreadsheet pasted, or a file dropped in: looked at, its columns mapped, then read like a bench sheet."""

from __future__ import annotations

import base64
import binascii
import json
from pathlib import PurePath
from typing import Final
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from lodestarch.common.errors import LodestarchError
from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.records.engine import Records
from lodestarch.sheets.columns import BENCH
from lodestarch.sheets.preview import Preview, look_at_sheet
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

_LONGEST_NAME: Final = 120
_COLUMN: Final = "column."


def _file_of(posted: Posted) -> DayFile:
    """What was handed in: a file, pasted rows, or what the page kept while its columns were looked at."""
    if posted.file:
        name = PurePath(posted.file_name.replace("\\", "/")).name[:_LONGEST_NAME]
        return DayFile(name or "pasted.tsv", posted.file)
    if posted.one("rows").strip():
        return DayFile("pasted.tsv", posted.one("rows").encode("utf-8"))
    name = PurePath(posted.one("kept_name").replace("\\", "/")).name[:_LONGEST_NAME]
    try:
        return DayFile(name or "pasted.tsv", base64.b64decode(posted.one("kept"), validate=True))
    except (binascii.Error, ValueError):
        return DayFile(name or "pasted.tsv", b"")


def _mapping_of(posted: Posted) -> dict[str, str]:
    """What each column was chosen to be, by its header; a column passed over is not in it."""
    ours = {c.name for c in BENCH}
    chosen = {}
    for name in posted.fields:
        number = name.removeprefix(_COLUMN)
        if name.startswith(_COLUMN) and posted.one(name) in ours:
            chosen[posted.one(f"header.{number}")] = posted.one(name)
    return {header: name for header, name in chosen.items() if header}


def _toml_text(text: str) -> str:
    """A TOML string: JSON's, but for pairs of surrogates and one more control sign."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _as_toml(mapping: dict[str, str]) -> DayFile | None:
    """A mapping as the file that a command takes."""
    if not mapping:
        return None
    lines = [f"{_toml_text(header)} = {_toml_text(name)}" for header, name in mapping.items()]
    return DayFile("columns.toml", "\n".join(["[columns]", *lines, ""]).encode("utf-8"))


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
        """Look where the columns are not plain or somebody wants to; else read, judge and keep the day."""
        posted = await read_form(request)
        return await run_in_threadpool(self._take, request, posted)

    def _take(self, request: Request, posted: Posted) -> Response:
        sheet, mapping = _file_of(posted), _mapping_of(posted)
        if not sheet.data.strip():
            return self._page(request, posted, (Finding("paste-empty", Where(field="rows"), Severity.STOP),))
        seen = look_at_sheet(sheet.data, sheet.name, mapping=mapping)
        if seen.columns and (posted.one("look") or not seen.complete):
            return self._look(request, posted, sheet, seen, chosen=bool(mapping))
        order = DayOrder(
            sheet,
            mapping=_as_toml(mapping),
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

    def _look(
        self, request: Request, posted: Posted, sheet: DayFile, seen: Preview, *, chosen: bool
    ) -> Response:
        """The sheet with a choice over each column; what was handed in goes along in the page."""
        who = self._people.who(request)
        met = [one.ours for one in seen.columns if one.ours]
        return page(
            request,
            "paste_columns.html.j2",
            status=422 if chosen and not seen.complete else 200,
            nav=Nav("office", person=who.name if who else ""),
            posted=posted,
            sheet=sheet,
            kept=base64.b64encode(sheet.data).decode("ascii"),
            seen=seen,
            rows=list(zip(*(one.cells for one in seen.columns), strict=True)),
            ours=BENCH,
            missing=[c.name for c in BENCH if c.required and c.name not in met],
            twice=sorted({name for name in met if met.count(name) > 1}),
            choices=bench_choices(self._records),
        )

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
