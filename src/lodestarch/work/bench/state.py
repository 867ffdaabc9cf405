"""The bench as it stands: tickets by station, tubes by bath, and the next movement of the hand."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from lodestarch.records.engine import Records
from lodestarch.records.log import utc_text
from lodestarch.records.unit import View
from lodestarch.trade.limits import Limit
from lodestarch.work.bench.choices import baths_of, limits_read_out, profile_of_bench
from lodestarch.work.bench.ticket import TicketInWork, tickets_in_work
from lodestarch.work.keeping.profiles import book_of

__all__ = ["BathInWork", "BenchNow", "Movement", "bench_now", "bench_of", "next_movement"]

DAYS_BACK: Final = 3
"""A ticket that nobody finished stays on the bench so long; afterwards it is found on Tickets. A setting."""

MOST: Final = 200
"""Tickets on the bench at once; the latest ones."""


@dataclass(frozen=True, slots=True)
class BathInWork:
    """One bath: which tickets are in it, since when, and when the stirring ends.

    The count is a reminder. The instrument's own count is the reading, and nothing is filled in from here.
    """

    name: str
    tickets: tuple[str, ...]
    tubes: int
    lowered_at: datetime | None
    floor_s: float
    """From then on a reading can stand. [s]"""
    longest_s: float
    """At that time an instrument stops by itself. [s]"""


@dataclass(frozen=True, slots=True)
class Movement:
    """What the hand does next: a code, the ticket, and the bath where there is one."""

    what: str
    """``read``, ``lower``, ``judge``, ``weigh``, ``moisture``, ``grind``, ``wait`` or ``nothing``."""
    ticket: str = ""
    bath: str = ""


@dataclass(frozen=True, slots=True)
class BenchNow:
    """The bench at one moment."""

    at: datetime
    tickets: tuple[TicketInWork, ...]
    baths: tuple[BathInWork, ...]
    next: Movement
    limits: tuple[Limit, ...]
    profile: str

    def at_station(self, station: str) -> tuple[TicketInWork, ...]:
        """Tickets at one station, in the order in which they were received."""
        return tuple(t for t in self.tickets if t.station == station)


def _baths(names: Iterable[str], tickets: Sequence[TicketInWork]) -> tuple[BathInWork, ...]:
    inside: dict[str, list[tuple[TicketInWork, datetime]]] = {name: [] for name in names}
    for ticket in tickets:
        for one in ticket.inside:
            inside.setdefault(one.bath, []).append((ticket, datetime.fromisoformat(one.lowered_at)))
    out = []
    for name, tubes in inside.items():
        constants = tubes[0][0].profile.constants if tubes else None
        out.append(
            BathInWork(
                name,
                tuple(dict.fromkeys(t.name for t, _ in tubes)),
                len(tubes),
                max((at for _, at in tubes), default=None),
                constants.floor_s if constants else 0.0,
                constants.longest_reading_s if constants else 0.0,
            )
        )
    return tuple(out)


def _wants_a_hand(ticket: TicketInWork) -> bool:
    """A result that only waits for its release wants none."""
    if ticket.result is None or ticket.result["status"] in {"held", "none"}:
        return True
    return ticket.near_step_s is not None


def next_movement(tickets: Sequence[TicketInWork], baths: Sequence[BathInWork], at: datetime) -> Movement:
    """Return what the hand does next.

    Parameters
    ----------
    tickets : sequence of TicketInWork
    baths : sequence of BathInWork
    at : datetime
        The present.

    Notes
    -----
    In this order: read a bath whose count is past the floor; lower what is weighed where a bath is free;
    weigh, measure, grind, so that the next one is ready; settle what waits to be judged; wait for a bath.
    A tube in a bath cannot wait, so it goes before everything; a pair that disagrees waits without harm.
    """
    busy = sorted((b for b in baths if b.lowered_at is not None), key=lambda b: b.lowered_at or at)
    for bath in busy:
        since = (at - (bath.lowered_at or at)).total_seconds()
        if since >= bath.floor_s:
            return Movement("read", bath.tickets[0], bath.name)
    free = next((b.name for b in baths if b.lowered_at is None), "")
    ready = next((t.name for t in tickets if t.station == "weigh" and t.weighed), "")
    if ready and free:
        return Movement("lower", ready, free)
    for station in ("weigh", "moisture", "grind"):
        waiting = [t for t in tickets if t.station == station and not (station == "weigh" and t.weighed)]
        if waiting:
            return Movement(station, waiting[0].name)
    unsettled = next((t.name for t in tickets if t.station == "judge" and _wants_a_hand(t)), "")
    if unsettled:
        return Movement("judge", unsettled)
    return Movement("wait", busy[0].tickets[0], busy[0].name) if busy else Movement("nothing")


def bench_of(view: View, at: datetime) -> BenchNow:
    """Return the bench from a view that is open already."""
    codes = view.open_samples(utc_text(at - timedelta(days=DAYS_BACK)), MOST)
    tickets = tickets_in_work(view, codes)
    baths = _baths(baths_of(view), tickets)
    return BenchNow(
        at=at,
        tickets=tickets,
        baths=baths,
        next=next_movement(tickets, baths, at),
        limits=limits_read_out(view),
        profile=profile_of_bench(view, book_of(view)).name,
    )


def bench_now(records: Records, *, at: datetime) -> BenchNow:
    """Return the bench as it stands."""
    with records.view() as view:
        return bench_of(view, at)
