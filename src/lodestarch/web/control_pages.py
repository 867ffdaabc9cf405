"""The page Bench control, and the list at the start of a shift."""

from __future__ import annotations

from functools import lru_cache

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from lodestarch.control.upkeep_items import UPKEEP_ITEMS
from lodestarch.records.engine import Records
from lodestarch.web.clock import Clock
from lodestarch.web.control_view import LineView, control_view, line_view
from lodestarch.web.nav import Nav
from lodestarch.web.person import People
from lodestarch.web.render import page
from lodestarch.web.shift_view import shift_view
from lodestarch.words.catalogues import term
from lodestarch.words.control import item_words
from lodestarch.work.keeping.bench_choices import bench_choices
from lodestarch.work.quality.bench_control import bench_control
from lodestarch.work.quality.bench_now import bench_watch_now
from lodestarch.work.quality.control_records import GRAINS

__all__ = ["ControlPages"]


class ControlPages:
    """Control of the bench over open records."""

    def __init__(self, records: Records, people: People, clock: Clock) -> None:
        self._records, self._people, self._clock = records, people, clock
        # Every bench asks for it again and again: it changes with the records and with the minute.
        self._line = lru_cache(maxsize=1)(self._read_line)

    def _read_line(self, head: object, minute: str) -> LineView:
        del head, minute
        return line_view(bench_watch_now(self._records, at=self._clock()))

    def routes(self) -> list[BaseRoute]:
        """Addresses and what answers them."""
        return [
            Route("/control", self.control, name="control"),
            Route("/control/line", self.line, name="control_line"),
            Route("/shift", self.shift, name="shift"),
        ]

    def control(self, request: Request) -> Response:
        """The one line; beneath it everything for the chemist, and what is entered."""
        now = bench_control(self._records, at=self._clock())
        choices = bench_choices(self._records)
        limits = [b for one in choices.limits for b in (one.at_least_s, one.at_most_s) if b is not None]
        return page(
            request,
            "control.html.j2",
            nav=self._nav(request, "control", demonstration=now.watch.demonstration),
            view=control_view(now, tuple(limits)),
            baths=choices.baths,
            materials=[m.key for m in now.watch.materials],
            forms=tuple(GRAINS),
            items=[(i.item, item_words(i.item)) for i in UPKEEP_ITEMS],
        )

    def line(self, request: Request) -> Response:
        """The one line alone, for the Bench page."""
        at = self._clock()
        with self._records.view() as view:
            head = view.head()
        line = self._line(head, f"{at:%Y-%m-%d %H:%M}")
        return page(request, "control_line.html.j2", line=line)

    def shift(self, request: Request) -> Response:
        """The list at the start of a shift."""
        watch = bench_watch_now(self._records, at=self._clock())
        return page(
            request,
            "shift.html.j2",
            nav=self._nav(request, "shift", demonstration=watch.demonstration),
            view=shift_view(watch),
            title=term("shift.title"),
        )

    def _nav(self, request: Request, place: str, *, demonstration: bool) -> Nav:
        who = self._people.who(request)
        return Nav(place, person=who.name if who else "", demonstration=demonstration)
