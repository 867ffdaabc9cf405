"""The page Bins: a row a bin on the seconds axis, layers and movements, and what is entered of them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from lodestarch.method.reading import Kind
from lodestarch.records.engine import Records
from lodestarch.records.tables import Movement
from lodestarch.web.nav import Nav
from lodestarch.web.person import People
from lodestarch.web.render import page
from lodestarch.words.catalogues import term
from lodestarch.words.drawing.layered_bins import BinMark, layered_bins
from lodestarch.words.drawing.svg import Drawing
from lodestarch.words.numbers import DASH, figure, number, tidy
from lodestarch.words.times import when
from lodestarch.work.planning.bins_kept import BinKept, BinsKept, LayerKept, bins_kept

__all__ = ["BinsPages", "seconds_said"]

_LOADS_SHOWN: Final = 4
_SIGNS: Final = {Kind.EXACT: "", Kind.AT_OR_BELOW: "≤\u00a0", Kind.ABOVE: ">\u00a0"}


def seconds_said(seconds: float | None, kind: Kind = Kind.EXACT) -> str:
    """Seconds with their sign: ``287``, ``≤ 62``, ``> 400``."""
    return DASH if seconds is None else f"{_SIGNS[kind]}{number(seconds)}"


@dataclass(frozen=True, slots=True)
class _LayerLine:
    tonnes: str
    seconds: str
    loads: str
    mixed: bool


@dataclass(frozen=True, slots=True)
class _BinLine:
    id: str
    seconds: str
    u: str
    span: str
    layers: int
    tonnes: str
    untested: str
    room: str
    over: bool
    lines: tuple[_LayerLine, ...]


@dataclass(frozen=True, slots=True)
class _MoveLine:
    key: str
    at: str
    said: str
    tonnes: str


class BinsPages:
    """Bins over open records."""

    def __init__(self, records: Records, people: People) -> None:
        self._records, self._people = records, people

    def routes(self) -> list[BaseRoute]:
        """Addresses and what answers them."""
        return [
            Route("/bins", self.bins, name="bins_kept"),
            Route("/bins/now", self.now, name="bins_now"),
        ]

    def bins(self, request: Request) -> Response:
        """The whole page."""
        who = self._people.who(request)
        nav = Nav("bins", person=who.name if who else "")
        return page(request, "bins_kept.html.j2", nav=nav, **_view(bins_kept(self._records)))

    def now(self, request: Request) -> Response:
        """What follows from the movements, alone."""
        return page(request, "bins_now.html.j2", **_view(bins_kept(self._records)))


def _view(kept: BinsKept) -> dict[str, Any]:
    return {
        "said": _said(kept.bins),
        "bins": tuple(_line(b) for b in kept.bins),
        "ids": tuple(b.id for b in kept.bins),
        "picture": _picture(kept),
        "moves": tuple(_move(m) for m in kept.moves),
    }


def _said(bins: tuple[BinKept, ...]) -> str:
    if not bins:
        return term("bins-kept.none")
    tonnes, untested = sum(b.tonnes for b in bins), sum(b.untested_t for b in bins)
    if tonnes <= 0.0:
        name = "bins-kept.empty-one" if len(bins) == 1 else "bins-kept.empty"
        return term(name, count=len(bins))
    name = "bins-kept.holds-untested" if untested > 0.0 else "bins-kept.holds"
    return tidy(term(name, count=len(bins), tonnes=number(tonnes), untested=number(untested)))


def _number(one: BinKept) -> str:
    if one.tonnes <= 0.0:
        return term("bins-kept.nothing")
    if not one.comparable:
        return term("bins-kept.not-comparable")
    if one.seconds is None:
        return term("bins-kept.no-number")
    return f"{seconds_said(one.seconds, one.kind)}\u00a0s"


def _picture(kept: BinsKept) -> Drawing:
    marks = []
    for one in kept.bins:
        more = ""
        if one.untested_t > 0.0:
            more = term("bins-kept.untested", tonnes=number(one.untested_t))
        label = term("bins-kept.row", bin=one.id, number=_number(one), tonnes=number(one.tonnes), more=more)
        layers = tuple((v.seconds, v.tonnes) for v in one.layers if v.seconds is not None)
        marks.append(BinMark(tidy(label), one.seconds, one.tonnes, one.u_s, layers))
    return layered_bins(marks, kept.limits)


def _line(one: BinKept) -> _BinLine:
    spans = one.low_s is not None and one.high_s is not None and one.high_s - one.low_s >= 0.5
    return _BinLine(
        one.id,
        _number(one),
        number(one.u_s, 1),
        f"{number(one.low_s)} … {number(one.high_s)}" if spans else DASH,
        len(one.layers),
        number(one.tonnes, 1),
        number(one.untested_t, 1) if one.untested_t > 0.0 else "",
        figure(one.capacity_t, 1),
        one.capacity_t is not None and one.tonnes > one.capacity_t + 1e-6,
        tuple(_layer(v) for v in one.layers),
    )


def _layer(one: LayerKept) -> _LayerLine:
    loads = ", ".join(one.loads[:_LOADS_SHOWN])
    if len(one.loads) > _LOADS_SHOWN:
        loads += " " + term("bins-kept.more-loads", count=len(one.loads) - _LOADS_SHOWN)
    seconds = term("bins-kept.no-number") if one.seconds is None else seconds_said(one.seconds, one.kind)
    return _LayerLine(number(one.tonnes, 1), seconds, loads, one.mixed)


def _move(one: Movement) -> _MoveLine:
    values = {"load": one.load or DASH, "from": one.from_bin or "", "to": one.to_bin or ""}
    return _MoveLine(
        one.key,
        when(datetime.fromisoformat(one.moved_at).astimezone()),
        term(f"bins-kept.said-{one.kind}", **values),
        number(one.tonnes, 1),
    )
