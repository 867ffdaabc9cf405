"""The page Season, its JSON, and its open data: from the records, or from files that are dropped in."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import Any, Final

from fastapi import APIRouter, Security
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from lodestarch.records.engine import Records
from lodestarch.web.api_answers import LOOKING
from lodestarch.web.bearer import Gate
from lodestarch.web.nav import Nav
from lodestarch.web.render import page
from lodestarch.web.season_fields import FIELD_OF, SeasonFields, read_fields
from lodestarch.web.season_form import read_season_form
from lodestarch.web.season_view import season_view
from lodestarch.web.source import DaySource
from lodestarch.words.findings import FindingText, as_json, sentence
from lodestarch.work.season.asked import from_kept
from lodestarch.work.season.kept import KeptSeason, read_kept
from lodestarch.work.season.open_data import open_season, zipped
from lodestarch.work.season.overview import OverviewAsked, SeasonOverview, overview
from lodestarch.work.season.overview_json import overview_as_dict

__all__ = ["SeasonPages", "season_routes"]

_AT_HAND: Final = 4
"""Answers kept at hand: a back-test takes seconds, and the records seldom change between looks."""

Files = list[tuple[str, bytes]]


class _Looks:
    """Answers from the records, made again when the records have changed."""

    def __init__(self, records: Records | None) -> None:
        self._records = records
        self._kept = lru_cache(maxsize=1)(self._read)
        self._looks = lru_cache(maxsize=_AT_HAND)(self._look)

    def kept(self) -> KeptSeason | None:
        """What the records hold, as they stand."""
        return None if self._records is None else self._kept(self._head())

    def at(self, asked: OverviewAsked, files: Files) -> SeasonOverview:
        """The page's answer; one with files is never kept."""
        if files or self._records is None:
            return overview(asked, files, self.kept())
        return self._looks(asked, self._head())

    def _head(self) -> object:
        if self._records is None:
            return None
        with self._records.view() as view:
            return view.head()

    def _read(self, head: object) -> KeptSeason:
        del head
        assert self._records is not None  # noqa: S101 - asked for only where there are any
        return read_kept(self._records)

    def _look(self, asked: OverviewAsked, head: object) -> SeasonOverview:
        del head
        return overview(asked, (), self.kept())


class SeasonPages:
    """Read only: what is dropped in is looked at and never kept."""

    def __init__(self, source: DaySource, records: Records | None) -> None:
        self._source = source
        self.looks = _Looks(records)

    def routes(self) -> list[BaseRoute]:
        """Addresses and what answers them."""
        return [
            Route("/season", self.season, name="season"),
            Route("/season", self.dropped, methods=["POST"]),
            Route("/season/open-data.zip", self.open_data, name="season_open"),
        ]

    def season(self, request: Request) -> Response:
        """The season out of the records."""
        return self._page(request, read_fields(dict(request.query_params)), [])

    async def dropped(self, request: Request) -> Response:
        """The season of files that were dropped in."""
        typed, files = await read_season_form(request)
        return await run_in_threadpool(self._page, request, read_fields(typed), files)

    def open_data(self, request: Request) -> Response:
        """The open data of the records as one archive; the page, with what is wrong, where there is none."""
        fields = read_fields(dict(request.query_params))
        kept = self.looks.kept()
        if fields.wrong or kept is None:
            return self._page(request, fields, [], status=422)
        data = open_season(from_kept(kept, fields.asked.sheet), fields.terms)
        if not data.files:
            return self._page(request, fields, [], status=422, more=tuple(map(sentence, data.findings)))
        told = {"Content-Disposition": 'attachment; filename="season-open-data.zip"'}
        return Response(zipped(data), media_type="application/zip", headers=told)

    def _page(
        self, request: Request, fields: SeasonFields, files: Files, *, status: int = 200,
        more: tuple[FindingText, ...] = (),
    ) -> Response:  # fmt: skip
        answer = self.looks.at(fields.asked, files)
        view = season_view(answer)
        at_fields = _at_fields(fields, (*view.stops, *more))
        elsewhere = [t for t in view.stops if t.code not in FIELD_OF]
        days = self._source.list_days()
        nav = Nav("season", days[0].day_id if days else None, demonstration=view.demonstration)
        return page(
            request, "season.html.j2", status=status, nav=nav, view=view, texts=fields.texts, wrong=at_fields,
            stops=elsewhere, terms=fields.terms, taking=bool(request.scope["app"].state.entering),
        )  # fmt: skip


def _at_fields(fields: SeasonFields, stops: tuple[FindingText, ...]) -> Mapping[str, tuple[FindingText, ...]]:
    """What is wrong, by field: as typed, and as the answer met it."""
    wrong = {**dict.fromkeys([*fields.texts, "file"], ()), **fields.wrong}
    for told in stops:
        key = FIELD_OF.get(told.code)
        if key == "value" and told.code == "season-column-unknown" and not fields.texts["value"]:
            key = "factors"
        if key is not None:
            wrong[key] = (*wrong.get(key, ()), told)
    return wrong


def season_routes(pages: SeasonPages, gate: Gate) -> APIRouter:
    """The same as JSON."""
    reading = [Security(gate, scopes=["read"])]
    api = APIRouter(prefix="/api/v1", tags=["season"], dependencies=reading, responses=LOOKING)

    @api.get("/season")
    def season(
        limit: str = "", season: str = "", probability: str = "", value: str = "", factors: str = ""
    ) -> dict[str, Any]:
        """The season out of the records: every part of the page.

        A field that cannot be read is told under `fields`, and its usual value is used.
        """
        typed = {"limit": limit, "season": season, "probability": probability, "value": value,
                 "factors": factors}  # fmt: skip
        return _as_dict(pages, read_fields(typed), [])

    return api


def _as_dict(pages: SeasonPages, fields: SeasonFields, files: Files) -> dict[str, Any]:
    answer = pages.looks.at(fields.asked, files)
    told = [{"field": k, "wrong": t.wrong, "do": t.do} for k, texts in fields.wrong.items() for t in texts]
    findings = [*answer.findings, *(f.finding for f in answer.faults.faults)]
    return {**overview_as_dict(answer), "fields": told, "findings": [as_json(f) for f in findings]}
