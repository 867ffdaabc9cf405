"""What the Bench page shows, as values."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from lodestarch.method.portion import Portion
from lodestarch.method.reading import Kind, State
from lodestarch.words.catalogues import term
from lodestarch.words.drawing.svg import Drawing
from lodestarch.words.drawing.tubes import ResultMark, TubeMark, sample_tubes
from lodestarch.words.findings import FindingText, sentence
from lodestarch.words.numbers import DASH, figure, number
from lodestarch.words.register import reading_state
from lodestarch.words.result import ResultLine, reported, result_line, seconds_text
from lodestarch.work.bench.state import BathInWork, BenchNow
from lodestarch.work.bench.ticket import TicketInWork
from lodestarch.work.office.tickets_one import TicketWhole

__all__ = ["BathLine", "Lane", "LaneLine", "LanesView", "ReadingView", "Ruler", "TicketView"]
__all__ += ["clock_text", "lanes_view", "ticket_view"]

_LANES: Final = ("grind", "moisture", "weigh", "judge")
_SIGN: Final = {Kind.EXACT: "", Kind.AT_OR_BELOW: "≤\u00a0", Kind.ABOVE: ">\u00a0"}
_RULER_BANDS: Final = 4.0
"""How many half bands the ruler shows to each side of the mass wanted."""


def clock_text(seconds: float) -> str:
    """Minutes and seconds of a count.

    Examples
    --------
    >>> clock_text(62.4), clock_text(7)
    ('1:02', '0:07')
    """
    whole = max(0, int(seconds))
    return f"{whole // 60}:{whole % 60:02d}"


@dataclass(frozen=True, slots=True)
class LaneLine:
    """A ticket in a lane: what it is called, whose, and what is said beside it."""

    name: str
    whose: str
    said: str
    wants: bool


@dataclass(frozen=True, slots=True)
class Lane:
    """One station with the tickets at it."""

    station: str
    title: str
    lines: tuple[LaneLine, ...]


@dataclass(frozen=True, slots=True)
class BathLine:
    """One bath: what is in it and its count, which is a reminder."""

    name: str
    tickets: tuple[str, ...]
    since: str
    """ISO 8601; empty where nothing is in it."""
    floor_s: float
    count: str
    said: str


@dataclass(frozen=True, slots=True)
class LanesView:
    """The left half."""

    at: str
    sentence: str
    ticket: str
    lanes: tuple[Lane, ...]
    baths: tuple[BathLine, ...]
    first: BathLine | None
    """The bath whose count is shown large."""
    to_release: int
    codes: tuple[str, ...]


def _said(ticket: TicketInWork, at: datetime) -> tuple[str, bool]:
    """What is said beside a ticket in its lane, and whether it wants a hand of its own."""
    if ticket.station == "weigh":
        if ticket.portion is None:
            return term("lane.no-portion"), ticket.moisture is not None
        wanted = term("lane.weigh", mass=number(ticket.portion.mass_g, 2))
        done = ", ".join(number(p.mass_g, 2) for p in ticket.weighed)
        return (term("lane.weighed", wanted=wanted, masses=done) if done else wanted), False
    if ticket.station == "judge":
        return _judged_said(ticket)
    waited = int((at - datetime.fromisoformat(ticket.sample.received_at)).total_seconds() // 60)
    parts = [term("lane.waits-min", count=waited)] if waited < 600 else [term("lane.waits-day")]
    if ticket.sample.needed_by:
        parts.insert(0, term("lane.needed-by", when=ticket.sample.needed_by))
    return ", ".join(parts), False


def _judged_said(ticket: TicketInWork) -> tuple[str, bool]:
    if ticket.result is None:
        return term("lane.not-judged"), True
    line = reported(ticket.result, ticket.profile)
    if line.status == "held":
        return term("lane.held"), True
    if ticket.near_step_s is not None:
        return term("lane.near-step", seconds=seconds_text(line), step=number(ticket.near_step_s)), True
    word = term("lane.goes" if not ticket.keeps else f"keeps.{ticket.keeps[0]}")
    return f"{seconds_text(line)} · {word}", False


def _bath(bath: BathInWork, at: datetime) -> BathLine:
    if bath.lowered_at is None:
        return BathLine(bath.name, (), "", 0.0, "", term("bath.free"))
    since = (at - bath.lowered_at).total_seconds()
    falling = since >= bath.floor_s
    count = clock_text(since if falling else bath.floor_s - since)
    said = term("bath.running" if falling else "bath.stirring")
    return BathLine(bath.name, bath.tickets, bath.lowered_at.isoformat(), bath.floor_s, count, said)


def lanes_view(bench: BenchNow) -> LanesView:
    """Make the left half of the page."""
    lanes = []
    for station in _LANES:
        lines = []
        for ticket in bench.at_station(station):
            said, wants = _said(ticket, bench.at)
            lines.append(LaneLine(ticket.name, ticket.whose or "", said, wants))
        lanes.append(Lane(station, term(f"station.{station}"), tuple(lines)))
    baths = tuple(_bath(b, bench.at) for b in bench.baths)
    busy = sorted((b for b in baths if b.since), key=lambda b: b.since)
    step = bench.next
    return LanesView(
        at=bench.at.isoformat(),
        sentence=term(f"next.{step.what}", ticket=step.ticket, bath=step.bath),
        ticket=step.ticket,
        lanes=tuple(lanes),
        baths=baths,
        first=busy[0] if busy else None,
        to_release=sum(1 for t in bench.tickets if not t.keeps and t.release is None),
        codes=tuple(dict.fromkeys(c for t in bench.tickets for c in (t.name, t.sample.key))),
    )


@dataclass(frozen=True, slots=True)
class Ruler:
    """The mass to weigh with its band; places along the ruler in percent."""

    wanted: str
    low: str
    high: str
    from_g: float
    to_g: float
    band_from: float
    band_width: float
    rule: str


@dataclass(frozen=True, slots=True)
class ReadingView:
    """One reading in the list of a ticket."""

    run: str
    position: str
    label: str
    seconds: str
    state: str
    waits: bool
    is_set_aside: bool
    mass: str
    moisture: str
    bath: str


@dataclass(frozen=True, slots=True)
class TicketView:
    """The right half: one ticket open."""

    ticket: TicketInWork
    whole: TicketWhole
    ruler: Ruler | None
    weighed: Mapping[str, str]
    inside: tuple[str, ...]
    """Positions in a bath."""
    bath: str
    line: ResultLine | None
    held: bool
    picture: Drawing | None
    readings: tuple[ReadingView, ...]
    queries: tuple[FindingText, ...]
    keeps: tuple[str, ...]


def _ruler(portion: Portion) -> Ruler:
    half = max((portion.high_g - portion.low_g) / 2.0, 0.005) * _RULER_BANDS
    start, end = portion.mass_g - half, portion.mass_g + half
    return Ruler(
        wanted=number(portion.mass_g, 2),
        low=number(portion.low_g, 2),
        high=number(portion.high_g, 2),
        from_g=round(start, 4),
        to_g=round(end, 4),
        band_from=round(100.0 * (portion.low_g - start) / (end - start), 2),
        band_width=round(100.0 * (portion.high_g - portion.low_g) / (end - start), 2),
        rule=term(f"portion-rule.{portion.rule}"),
    )


def _label(row: Mapping[str, Any], *, several: bool) -> str:
    if several:
        return term("drawing.run-tube", run=row["run"], position=row["position"])
    return term("drawing.tube", position=row["position"])


def _reading(row: Mapping[str, Any], *, several: bool) -> ReadingView:
    return ReadingView(
        run=row["run"],
        position=row["position"],
        label=_label(row, several=several),
        seconds=_SIGN[Kind(row["kind"])] + figure(row["seconds"], 1),
        state=reading_state(row),
        waits=row["state"] == State.RUN_AGAIN.value,
        is_set_aside=row["state"] == State.SET_ASIDE.value,
        mass=DASH if row["mass_g"] is None else number(row["mass_g"], 2),
        moisture=DASH if row["moisture_pct"] is None else number(row["moisture_pct"], 1),
        bath=row["bath"] or DASH,
    )


def _picture(whole: TicketWhole, readings: Sequence[Mapping[str, Any]], *, several: bool) -> Drawing | None:
    ticket, result = whole.ticket, whole.ticket.result
    if not readings:
        return None
    marks = [
        TubeMark(
            _label(r, several=several),
            r["seconds"],
            Kind(r["kind"]),
            State(r["state"]),
            _SIGN[Kind(r["kind"])] + figure(r["seconds"], 1),
        )
        for r in readings
    ]
    mark = None
    if result is not None and result["status"] not in {"none", "held"} and result["seconds"] is not None:
        said = reported(result, ticket.profile)
        mark = ResultMark(said.seconds or 0.0, said.kind, said.u_s, seconds_text(said))
    known = result or dict.fromkeys(("mean_s", "spread_s", "limit_s"))
    return sample_tubes(
        ticket.name,
        marks,
        mark,
        whole.limits,
        floor_s=ticket.profile.constants.floor_s,
        mean_s=known["mean_s"],
        spread_s=known["spread_s"],
        limit_s=known["limit_s"],
        tubes_stated=True,
    )


def ticket_view(whole: TicketWhole) -> TicketView:
    """Make the right half of the page."""
    ticket = whole.ticket
    several = len({r["run"] for r in ticket.readings}) > 1
    line = None if ticket.result is None else reported(ticket.result, ticket.profile)
    if line is not None and ticket.station == "released":
        line = reported({**ticket.result, "status": "released"}, ticket.profile)  # type: ignore[dict-item] # it has one
    return TicketView(
        ticket=ticket,
        whole=whole,
        ruler=None if ticket.portion is None else _ruler(ticket.portion),
        weighed={p.position: p.as_entered for p in ticket.weighed},
        inside=tuple(one.position for one in ticket.inside),
        bath=ticket.inside[0].bath if ticket.inside else "",
        line=None if line is None else result_line(line),
        held=line is None or line.status in {"held", "none"},
        picture=_picture(whole, ticket.readings, several=several),
        readings=tuple(_reading(r, several=several) for r in ticket.readings),
        queries=tuple(sentence(f) for f in ticket.findings),
        keeps=tuple(term(f"keeps.{code}") for code in ticket.keeps),
    )
