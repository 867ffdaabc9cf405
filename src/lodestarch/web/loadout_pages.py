"""The page Load-out: sublots in loading order on one seconds axis, the forecast, and what is entered."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from lodestarch.plan.loadout.running import Running
from lodestarch.records.engine import Records
from lodestarch.web.nav import Nav
from lodestarch.web.person import People
from lodestarch.web.render import page
from lodestarch.words.catalogues import term
from lodestarch.words.drawing.sublot_rows import SublotRow, sublot_rows, sublots_title
from lodestarch.words.drawing.svg import Drawing
from lodestarch.words.findings import sentence
from lodestarch.words.loadout import odds_sentence, recipe_text, remedy_text, stopping_sentence
from lodestarch.words.numbers import DASH, figure, number, tidy
from lodestarch.work.planning.cargo_kept import CargoKept, CargoNow, cargo_kept, cargo_now
from lodestarch.work.planning.loadout import SublotRemedies, replayed

__all__ = ["Cargoes", "LoadoutPages"]

_BEHIND: Final = 2
"""In a replay each result comes so many sublots behind its own: an hour, at two an hour."""
_AT_HAND: Final = 24


class Cargoes:
    """How cargoes stand, the last ones at hand: the drawing takes a second, a step through a replay none."""

    def __init__(self, make_rng: Callable[[int], Any]) -> None:
        self._make_rng = make_rng
        self._kept: OrderedDict[str, CargoNow] = OrderedDict()
        self._guard = threading.Lock()

    def now(self, kept: CargoKept, step: int | None = None) -> CargoNow:
        """How a cargo stands, or stood after so many events."""
        key = f"{kept!r}{step}"
        with self._guard:
            found = self._kept.get(key)
            if found is None:
                found = cargo_now(kept, self._make_rng, behind=None if step is None else _BEHIND, step=step)
                self._kept[key] = found
                while len(self._kept) > _AT_HAND:
                    self._kept.popitem(last=False)
            return found


@dataclass(frozen=True, slots=True)
class _SublotLine:
    number: int
    tonnes: str
    shares: str
    seconds: str
    composite: str
    average: str
    shortfall: str
    remark: str
    waits: bool


class LoadoutPages:
    """The spout over open records."""

    def __init__(self, records: Records, people: People, cargoes: Cargoes) -> None:
        self._records, self._people, self._cargoes = records, people, cargoes

    def routes(self) -> list[BaseRoute]:
        """Addresses and what answers them."""
        return [
            Route("/plan/loadout", self.loadout, name="loadout"),
            Route("/plan/loadout/now", self.now, name="loadout_now"),
        ]

    def loadout(self, request: Request) -> Response:
        """The whole page; ``?step=N`` as the cargo stood after so many events."""
        kept = cargo_kept(self._records)
        who = self._people.who(request)
        nav = Nav(
            "plan",
            person=who.name if who else "",
            demonstration=kept is not None and kept.demonstration,
            title=kept.terms.title if kept is not None else "",
        )
        if kept is None:
            return page(request, "loadout_none.html.j2", nav=nav, part="loadout")
        step = _step(request, kept)
        view = _view(self._cargoes.now(kept, step), step)
        return page(request, "loadout.html.j2", nav=nav, part="loadout", **view)

    def now(self, request: Request) -> Response:
        """What follows from the entries, alone."""
        kept = cargo_kept(self._records)
        if kept is None:
            return Response(status_code=404)
        return page(request, "loadout_now.html.j2", **_view(self._cargoes.now(kept), None))


def _step(request: Request, kept: CargoKept) -> int | None:
    text = request.query_params.get("step", "")
    if not (text.isascii() and text.isdigit() and len(text) < 6) or not kept.cargo.sublots:
        return None
    return min(max(int(text), 1), len(replayed(kept.cargo, _BEHIND)))


def _view(now: CargoNow, step: int | None) -> dict[str, Any]:
    answer, kept = now.answer, now.kept
    cargo = answer.cargo or kept.cargo
    currency = kept.terms.currency
    sources = [s.name for s in kept.cargo.sources]
    example = sources[0] if len(sources) == 1 else f"{sources[0]}:60 {sources[1]}:40"
    return {
        "said": _said(now),
        "picture": _picture(now),
        "lines": _lines(now),
        "draw": _draw(now),
        "recipes": tuple(
            (recipe_text(r.shares), number(100.0 * r.odds, 1), number(r.fn_s), number(r.spends_t, 2))
            for r in answer.recipes
        ),
        "stop": "" if answer.stopping is None else stopping_sentence(answer.stopping, currency),
        "under": tuple(_under(one, currency) for one in answer.under),
        "breakpoint": tidy(term("loadout-page.breakpoint", seconds=figure(cargo.asked.breakpoint_s))),
        "sublots": tuple(_line(now, one) for one in answer.running),
        "bins": tuple(
            (s.name, number(cargo.left_t(s.name)), f"{number(s.fn_s)}", cargo.left_t(s.name) < -1e-6)
            for s in cargo.sources
        ),
        "example": example,
        "usual_t": figure(cargo.asked.sublot_t),
        "currency": currency,
        "found": tuple(sentence(f) for f in answer.findings),
        "replay": _replay(kept, step),
        "has_history": bool(kept.cargo.sublots),
    }


def _said(now: CargoNow) -> str:
    answer = now.answer
    if answer.forecast is not None:
        return odds_sentence(answer.forecast)
    return tidy(term("loadout-page.not-begun", tonnes=number(answer.to_load_t)))


def _lines(now: CargoNow) -> tuple[str, ...]:
    answer = now.answer
    asked = now.kept.cargo.asked
    floor = number(asked.at_least_s)
    judged = term(f"loadout.judged-{asked.judged}")
    loaded, left = number(answer.loaded_t), number(answer.to_load_t)
    said = [term("loadout.stands", loaded=loaded, left=left, judged=judged, floor=floor)]
    if answer.running and answer.running[-1].untested_t > 0.0:
        said.append(term("loadout.untested", tonnes=number(answer.running[-1].untested_t)))
    if answer.forecast is not None:
        low, middle, high = (number(v) for v in answer.forecast.figure_s)
        said.append(term("loadout.figure", floor=floor, low=low, middle=middle, high=high))
    return tuple(tidy(one) for one in said)


def _draw(now: CargoNow) -> str:
    answer, terms = now.answer, now.kept.terms
    if not answer.recipes:
        return term("loadout-page.complete") if answer.to_load_t <= 0.0 else ""
    first = answer.recipes[0]
    said = recipe_text(first.shares)
    if first.odds < terms.wanted_odds:
        return tidy(term("loadout.draw-short", wanted=number(100.0 * terms.wanted_odds), recipe=said))
    fn, spends = number(first.fn_s), number(first.spends_t, 2)
    return tidy(term("loadout.draw", recipe=said, fn=fn, spends=spends, currency=terms.currency))


def _under(one: SublotRemedies, currency: str) -> dict[str, Any]:
    ways = [(remedy_text(r), number(100.0 * r.odds, 1), number(r.expected)) for r in one.remedies]
    best = ""
    if len(one.remedies) > 1:
        more = number(one.remedies[0].expected - one.remedies[1].expected)
        best = term("loadout-page.under-best", way=remedy_text(one.remedies[0]), more=more, currency=currency)
    return {
        "number": one.number, "best": best, "ways": ways,
        "title": term("loadout-page.under-title", number=one.number),
    }  # fmt: skip


def _figure_of(one: Running, judged: str) -> float | None:
    if judged == "composite":
        return one.composite_s
    return one.least_s if judged == "every-sublot" else one.average_s


def _picture(now: CargoNow) -> Drawing:
    answer = now.answer
    cargo = answer.cargo or now.kept.cargo
    asked = cargo.asked
    bands = {b.number: (b.low_s, b.high_s) for b in now.bands}
    figures = {one.number: _figure_of(one, asked.judged) for one in answer.running}
    end = answer.forecast
    rows = []
    sublots = [*cargo.sublots, *answer.rest]
    for i, one in enumerate(sublots):
        fan = None if end is None or i >= len(end.low_s) else (float(end.low_s[i]), float(end.high_s[i]))
        loaded = i < len(cargo.sublots)
        label = (
            term("loadout-page.sublot-row", number=one.number, tonnes=figure(one.tonnes, 1))
            if loaded
            else term("loadout-page.to-come-row", number=one.number)
        )
        band = bands.get(one.number) if one.result_s is None else None
        # An untested sublot leaves the figure where it was: the line goes on at the last tested one.
        running_s = figures.get(one.number) if one.result_s is not None else None
        rows.append(SublotRow(tidy(label), one.result_s, band, running_s, fan, loaded))
    floors = [(asked.at_least_s, term("loadout-page.clause", floor=number(asked.at_least_s)))]
    if asked.sublot_at_least_s is not None and asked.judged == "average-with-sublot-minimum":
        floors.append(
            (asked.sublot_at_least_s, term("loadout-page.least", floor=number(asked.sublot_at_least_s)))
        )
    tested = sum(1 for s in cargo.sublots if s.result_s is not None)
    last = figures.get(answer.running[-1].number) if answer.running else None
    title = sublots_title(tested, len(cargo.sublots) - tested, last, asked.at_least_s)
    return sublot_rows(rows, floors, title)


def _line(now: CargoNow, one: Running) -> _SublotLine:
    sublots = (now.answer.cargo or now.kept.cargo).sublots
    mine = next(s for s in sublots if s.number == one.number)
    band = next((b for b in now.bands if b.number == one.number), None)
    remark = term("loadout.under") if one.under_breakpoint else ""
    if one.result_s is None and band is not None:
        remark = term("loadout-page.span", low=number(band.low_s), high=number(band.high_s))
    return _SublotLine(
        one.number,
        number(mine.tonnes),
        recipe_text(mine.shares),
        number(one.result_s) if one.result_s is not None else DASH,
        number(one.composite_s, 1),
        number(one.average_s, 1),
        number(one.shortfall_s),
        tidy(remark),
        one.result_s is None,
    )


def _replay(kept: CargoKept, step: int | None) -> dict[str, Any] | None:
    if step is None:
        return None
    events = replayed(kept.cargo, _BEHIND)
    event = events[step - 1]
    seconds = DASH if event.result_s is None else number(event.result_s)
    said = term(f"loadout.event-{event.what}", number=event.number, seconds=seconds)
    return {
        "said": tidy(term("loadout-page.replaying", step=step, steps=len(events), event=said)),
        "before": step - 1 if step > 1 else None,
        "after": step + 1 if step < len(events) else None,
    }
