"""Tickets as the office sees them: what waits and for whom, and the register beneath."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from lodestarch.method.profile import Profile
from lodestarch.records.engine import Records
from lodestarch.records.tables import Sample
from lodestarch.records.unit import View
from lodestarch.trade.limits import Limit
from lodestarch.work.bench.state import bench_of
from lodestarch.work.bench.ticket import TicketInWork
from lodestarch.work.keeping.profiles import book_of

__all__ = ["Found", "Line", "Register", "find_tickets", "register_of_tickets"]

PER_PAGE: Final = 50


@dataclass(frozen=True, slots=True)
class Line:
    """One result in the register.

    Parameters
    ----------
    result : mapping
        In ``method.table.RESULTS`` with ``day_id`` and ``id``; its status is *released* where the release of
        it stands.
    profile : Profile or None
    received : bool
        It came by its ticket, so that it has a page of its own; otherwise by a sheet.
    """

    result: Mapping[str, Any]
    profile: Profile | None
    received: bool


@dataclass(frozen=True, slots=True)
class Register:
    """The office's page."""

    waiting: tuple[TicketInWork, ...]
    lines: tuple[Line, ...]
    more_before: int | None
    limits: tuple[Limit, ...]


@dataclass(frozen=True, slots=True)
class Found:
    """One hit of a search."""

    sample: str
    ticket: str | None
    received: bool
    day_id: str | None
    """The day whose sheet it stands on, where it was not received by its ticket."""


def register_of_tickets(records: Records, *, at: datetime, before: int | None = None) -> Register:
    """Return what waits, and one page of the register, the latest results first.

    Parameters
    ----------
    records : Records
    at : datetime
        The present.
    before : int or None
        Only results kept before this one, for the next page.
    """
    with records.view() as view:
        bench = bench_of(view, at)
        frame = view.latest_results(PER_PAGE + 1, before)
        rows = list(frame.iter_rows(named=True))
        book = book_of(view)
        lines = []
        seen: set[str] = set()
        for row in rows[:PER_PAGE]:
            if row["sample"] in seen:  # an earlier version of a result stands on its ticket's page
                continue
            seen.add(row["sample"])
            lines.append(_line(view, row, book.versions.get(row["profile"] or "")))
        more = rows[PER_PAGE - 1]["id"] if len(rows) > PER_PAGE else None
        return Register(bench.tickets, tuple(lines), more, bench.limits)


def _line(view: View, row: Mapping[str, Any], profile: Profile | None) -> Line:
    release = view.standing_release(row["sample"])
    result = dict(row)
    if release is not None and result["status"] in {"preliminary", "screen"}:
        result["status"] = "released"
    return Line(result, profile, view.get(Sample, row["sample"]) is not None)


def find_tickets(records: Records, beginning: str) -> tuple[Found, ...]:
    """Return tickets and samples whose code begins so, in order of code."""
    out = []
    with records.view() as view:
        for sample, ticket in view.search(beginning.strip(), 50):
            received = view.get(Sample, sample) is not None
            days = [] if received else view.find(sample)
            out.append(Found(sample, ticket, received, days[0].day_id if days else None))
    return tuple(out)
