"""The pages. Every route takes its day from the source and fills one template."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final
from urllib.parse import quote

import polars as pl
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from lodestarch.common.errors import UnknownName
from lodestarch.web.nav import Nav
from lodestarch.web.render import generated_css, page
from lodestarch.web.sample_view import sample_view
from lodestarch.web.source import DaySource
from lodestarch.web.views import query_title, register_part
from lodestarch.words.accounts import account_words
from lodestarch.words.bins import bin_tonnes, bin_words
from lodestarch.words.catalogues import term
from lodestarch.words.day import day_sentence
from lodestarch.words.drawing.bins import bin_rows
from lodestarch.words.drawing.strip import day_strip
from lodestarch.words.findings import grouped
from lodestarch.words.register import floor_of, strip_key, strip_marks
from lodestarch.work.bench.outcome import DayOutcome

__all__ = ["Nav", "Pages", "nav_of"]

_LONGEST_GROUP: Final = 50
"""Queries of one kind shown on one page; the rest are counted."""
_LONGEST_CODE: Final = 80


def nav_of(day: DayOutcome, place: str) -> Nav:
    """The line on top of a day's pages."""
    return Nav(place, day.day_id, bool(day.bins), day.demonstration, day.title)


def _number(text: str | None) -> int:
    return int(text) if text and text.isascii() and text.isdigit() and len(text) < 10 else 0


class Pages:
    """All pages over one source of days; ``received`` finds tickets where entries are made."""

    def __init__(self, source: DaySource, received: Callable[[str], str | None] | None = None) -> None:
        self._source, self._received = source, received

    def routes(self) -> list[BaseRoute]:
        """Addresses and what answers them."""
        return [
            Route("/", self.front, name="front"),
            Route("/days", self.days, name="days"),
            Route("/days/{day_id}", self.day, name="day"),
            Route("/days/{day_id}/queries", self.queries, name="queries"),
            Route("/days/{day_id}/bins", self.bins, name="bins"),
            Route("/days/{day_id}/samples/{sample:path}", self.sample, name="sample"),
            Route("/go", self.go, name="go"),
            Route("/static/css/face.css", self.face_css, name="face_css"),
        ]

    def front(self, request: Request) -> Response:
        """The bench where entries are made; otherwise the newest day, or the list where there is none."""
        if self._received is not None:
            return RedirectResponse("/bench", status_code=303)
        days = self._source.list_days()
        if not days:
            return self.days(request)
        return RedirectResponse(f"/days/{quote(days[0].day_id, safe='')}", status_code=303)

    def days(self, request: Request) -> Response:
        """Every day that is kept."""
        days = self._source.list_days()
        return page(request, "days.html.j2", nav=Nav("days"), days=days)

    def day(self, request: Request) -> Response:
        """What is waiting, the picture, the register."""
        found = self._day(request)
        if isinstance(found, Response):
            return found
        asked = request.query_params
        marks = strip_marks(found, f"/days/{quote(found.day_id, safe='')}/samples/{{sample}}")
        return page(
            request,
            "day.html.j2",
            nav=nav_of(found, "tickets"),
            day=found,
            said=day_sentence(found.counts, found.findings),
            strip=day_strip(marks, found.limits, floor_of(found)),
            key=strip_key(found, marks),
            account_words=account_words,
            part=register_part(found, asked.get("show", "all"), _number(asked.get("from"))),
        )

    def sample(self, request: Request) -> Response:
        """One sample: result, readings, queries, what it rests on."""
        found = self._day(request)
        if isinstance(found, Response):
            return found
        sample = request.path_params["sample"]
        view = sample_view(found, sample)
        if view is None:
            return self._lost(request, term("lost.title-code", code=sample[:_LONGEST_CODE]))
        titles = {d.day_id: d.title for d in self._source.list_days()}
        others = [
            (day_id, name, titles.get(day_id, day_id))
            for day_id, name in self._source.find(view.name)
            if day_id != found.day_id
        ]
        return page(
            request,
            "sample.html.j2",
            nav=nav_of(found, "tickets"),
            day=found,
            view=view,
            others=others,
        )

    def queries(self, request: Request) -> Response:
        """Queries of a day, by what to do first."""
        found = self._day(request)
        if isinstance(found, Response):
            return found
        groups = grouped(found.findings)
        return page(
            request,
            "queries.html.j2",
            nav=nav_of(found, "queries"),
            day=found,
            title=query_title(groups),
            groups=groups,
            longest=_LONGEST_GROUP,
        )

    def bins(self, request: Request) -> Response:
        """Bins of a day, as if turned."""
        found = self._day(request)
        if isinstance(found, Response):
            return found
        joined = found.samples.filter(pl.col("bin").is_not_null(), pl.col("kind") == "load").join(
            found.results.filter(pl.col("seconds").is_not_null(), pl.col("status") != "held"),
            on="sample",
            how="inner",
        )
        loads = {
            str(name): part["seconds"].to_list()
            for (name,), part in joined.group_by("bin", maintain_order=True)
        }
        return page(
            request,
            "bins.html.j2",
            nav=nav_of(found, "bins"),
            day=found,
            picture=bin_rows(found.bins, loads, found.limits, floor_of(found)),
            bin_words=bin_words,
            bin_tonnes=bin_tonnes,
        )

    def go(self, request: Request) -> Response:
        """To the sample that a typed or scanned code names."""
        code = request.query_params.get("code", "").strip()
        if not code:
            return RedirectResponse("/", status_code=303)
        received = self._received(code[:_LONGEST_CODE]) if self._received is not None else None
        if received is not None:
            return RedirectResponse(f"/tickets/{quote(received, safe='')}", status_code=303)
        found = self._source.find(code[:_LONGEST_CODE])
        if not found:
            said = code[:_LONGEST_CODE]
            return self._lost(request, term("lost.title-code", code=said), code=said)
        day_id, sample = found[0]
        address = f"/days/{quote(day_id, safe='')}/samples/{quote(sample, safe='')}"
        return RedirectResponse(address, status_code=303)

    def face_css(self, request: Request) -> Response:
        """Colours by role and rules for pictures, from the table that paper uses too."""
        del request
        return Response(generated_css(), media_type="text/css")

    def _day(self, request: Request) -> DayOutcome | Response:
        day_id = request.path_params["day_id"]
        try:
            return self._source.load_day(day_id)
        except UnknownName:
            return self._lost(request, term("lost.title-day", code=day_id[:_LONGEST_CODE]))

    def _lost(self, request: Request, title: str, **more: Any) -> Response:
        days = self._source.list_days()
        nav = Nav("lost", days[0].day_id if days else None, title=days[0].title if days else "", **more)
        return page(request, "lost.html.j2", status=404, nav=nav, title=title, do=term("lost.do"))
