"""The page Receive: one word at the probe, the rule to post, trucks that wait, bins as they fill."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from lodestarch.plan.receive.desk import Word
from lodestarch.plan.receive.waiting import Queue
from lodestarch.records.engine import Records
from lodestarch.web.bins_pages import seconds_said
from lodestarch.web.nav import Nav
from lodestarch.web.person import People
from lodestarch.web.render import page
from lodestarch.words.catalogues import term
from lodestarch.words.findings import sentence
from lodestarch.words.numbers import DASH, figure, number, tidy
from lodestarch.words.probe import because_sentence, large_word, posted_rule, waiting_words
from lodestarch.words.receive import range_text
from lodestarch.work.planning.probe_kept import (
    CompositeKept,
    ProbeMode,
    ProbeNow,
    Truck,
    composite_code,
    probe_now,
)

__all__ = ["ReceivePages"]

_NAMES_SHOWN: Final = 30


@dataclass(frozen=True, slots=True)
class _TruckLine:
    ticket: str
    word: str
    comes_from: str
    tonnes: str
    seconds: str
    bin: str
    because: str
    at_bench: bool
    tested: bool


@dataclass(frozen=True, slots=True)
class _BinLine:
    bin: str
    takes: str
    holds: str
    room: str
    as_turned: str


@dataclass(frozen=True, slots=True)
class _CompositeLine:
    name: str
    code: str
    said: str
    waits: bool


class ReceivePages:
    """The probe over open records."""

    def __init__(self, records: Records, people: People) -> None:
        self._records, self._people = records, people

    def routes(self) -> list[BaseRoute]:
        """Addresses and what answers them."""
        return [
            Route("/plan/receive", self.receive, name="receive"),
            Route("/plan/receive/now", self.now, name="receive_now"),
        ]

    def receive(self, request: Request) -> Response:
        """The whole page."""
        now = probe_now(self._records)
        who = self._people.who(request)
        nav = Nav(
            "plan",
            person=who.name if who else "",
            demonstration=now is not None and now.kept.demonstration,
            title=now.kept.site.title if now is not None else "",
        )
        if now is None:
            return page(request, "receive_none.html.j2", nav=nav, part="receive")
        return page(request, "receive.html.j2", nav=nav, part="receive", **_view(now))

    def now(self, request: Request) -> Response:
        """What changes by itself, alone."""
        now = probe_now(self._records)
        if now is None:
            return Response(status_code=404)
        return page(request, "receive_now.html.j2", **_view(now))


def _view(now: ProbeNow) -> dict[str, Any]:
    answer, kept = now.answer, now.kept
    trucks = tuple(_line(truck, now) for truck in now.trucks)
    composite_of = kept.composite_of if kept.mode is ProbeMode.COMPOSITE else None
    return {
        "said": waiting_words([t.word for t in now.trucks]),
        "probe": trucks[-1] if trucks else None,
        "trucks": trucks,
        "rule": posted_rule(answer.rule, kept.site.mode, composite_of),
        "left": _left(now),
        "queue": _queue(answer.queue, kept.site.currency) if kept.mode is ProbeMode.HOLD else "",
        "bins": _bins(now),
        "composites": tuple(_composite(c) for c in reversed(now.composites)),
        "untested": tuple(
            (ticket, term("receive-page.told-line", ticket=ticket, bin=into)) for ticket, into in now.untested
        ),
        "fields": now.fields[:_NAMES_SHOWN],
        "varieties": now.varieties[:_NAMES_SHOWN],
        "mode": kept.mode.value,
        "modes": tuple(m.value for m in ProbeMode),
        "composite_of": kept.composite_of,
        "found": tuple(sentence(f) for f in answer.findings),
    }


def _line(truck: Truck, now: ProbeNow) -> _TruckLine:
    comes_from = " · ".join(part for part in (truck.field, truck.variety) if part)
    return _TruckLine(
        truck.ticket,
        large_word(truck.word, truck.bin),
        comes_from,
        tidy(term("receive-page.tonnes-of", tonnes=figure(truck.tonnes, 2))),
        "" if truck.number is None else seconds_said(truck.number.seconds, truck.number.kind),
        truck.bin or "",
        _because(truck, now),
        truck.at_bench,
        truck.word in {Word.HOLD, Word.TEST},
    )


def _because(truck: Truck, now: ProbeNow) -> str:
    if truck.number is not None:
        seconds = f"{seconds_said(truck.number.seconds, truck.number.kind)}\u00a0s"
        return term("receive-page.because-tested", seconds=seconds, bin=truck.bin or DASH)
    mixed = next((c for c in now.composites if truck.ticket in c.tickets), None)
    if mixed is not None:
        place = mixed.tickets.index(truck.ticket) + 1
        return term("receive-page.because-composite", number=mixed.number, place=place, wanted=mixed.wanted)
    return because_sentence(truck.said, now.kept.site.mode, now.kept.site.currency)


def _left(now: ProbeNow) -> str:
    rule = now.answer.rule
    renew = 0 if rule is None else rule.loads_until_renewed
    values = {"tests": now.answer.tests_left, "loads": now.answer.loads_left, "renew": renew}
    return term("receive-page.left", **values)


def _queue(queue: Queue | None, currency: str) -> str:
    if queue is None:
        return ""
    busy = number(100.0 * queue.busy)
    if math.isinf(queue.held_min):
        return tidy(term("receive.queue-endless", busy=busy))
    held, cost = number(queue.held_min), number(queue.cost_a_truck, 2)
    return tidy(term("receive.queue", busy=busy, held=held, cost=cost, currency=currency))


def _bins(now: ProbeNow) -> tuple[_BinLine, ...]:
    rule = now.answer.rule
    ranges = {r.bin: r for r in (rule.bins if rule is not None else ())}
    return tuple(
        _BinLine(
            b.bin,
            range_text(ranges.get(b.bin)),
            number(now.holds_t.get(b.bin)),
            number(b.room_t),
            number(b.expected_s),
        )
        for b in now.answer.bins
    )


def _composite(one: CompositeKept) -> _CompositeLine:
    tickets = ", ".join(one.tickets)
    if one.seconds is not None:
        said = term("receive-page.composite-read", seconds=number(one.seconds), tickets=tickets)
    elif one.is_full:
        said = term("receive-page.composite-full", tickets=tickets)
    else:
        count = len(one.tickets)
        said = term("receive-page.composite-open", count=count, wanted=one.wanted, tickets=tickets)
    name = term("receive-page.composite", number=one.number)
    return _CompositeLine(name, composite_code(one.number), tidy(said), one.is_full and one.seconds is None)
