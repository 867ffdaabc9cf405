"""Lines of the office's pages, in words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from urllib.parse import quote

from lodestarch.words.catalogues import term, terms
from lodestarch.words.numbers import DASH
from lodestarch.words.result import basis_words, reported, seconds_text, tubes_words, u_text
from lodestarch.words.times import when
from lodestarch.work.bench.ticket import TicketInWork
from lodestarch.work.office.tickets_one import Change
from lodestarch.work.office.tickets_register import Line

__all__ = ["ChangeLine", "RegisterLine", "WaitingLine"]
__all__ += ["changes_in_words", "register_lines", "waiting_lines", "waiting_sentence"]


@dataclass(frozen=True, slots=True)
class WaitingLine:
    """A ticket that waits: at which station, for whom, until when."""

    code: str
    name: str
    whose: str
    station: str
    seconds: str
    said: str
    needed_by: str
    wants: bool


@dataclass(frozen=True, slots=True)
class RegisterLine:
    """A result in the register."""

    name: str
    address: str
    seconds: str
    u: str
    tubes: str
    basis: str
    status: str
    held: bool


@dataclass(frozen=True, slots=True)
class ChangeLine:
    """One entry of the log, in words."""

    at: str
    person: str
    what: str
    reason: str


def waiting_sentence(waiting: Sequence[TicketInWork]) -> str:
    """What waits and for whom."""
    if not waiting:
        return term("office.nothing-waits")
    names = Counter(t.whose for t in waiting if t.whose)
    most = names.most_common(1)
    count = len(waiting)
    if count == 1:
        return term("office.waits-one", ticket=waiting[0].name, station=_station(waiting[0]).lower())
    if most and most[0][1] > 1:
        return term("office.waits-whose", count=count, whose=most[0][0], of_them=most[0][1])
    return term("office.waits-many", count=count)


def _station(ticket: TicketInWork) -> str:
    return term(f"station.{ticket.station}")


def waiting_lines(waiting: Sequence[TicketInWork]) -> tuple[WaitingLine, ...]:
    """Tickets in work, those promised first."""
    lines = []
    for ticket in waiting:
        seconds = said = ""
        wants = False
        if ticket.result is not None:
            line = reported(ticket.result, ticket.profile)
            held = line.status in {"held", "none"}
            seconds = DASH if held else seconds_text(line)
            said = term("lane.held") if held else term(f"status.{line.status}")
            wants = held or ticket.near_step_s is not None
            if not held and ticket.keeps:
                said += ", " + term(f"keeps.{ticket.keeps[0]}")
        lines.append(
            WaitingLine(
                ticket.sample.key,
                ticket.name,
                ticket.whose or "",
                _station(ticket),
                seconds,
                said,
                ticket.sample.needed_by or "",
                wants,
            )
        )
    return tuple(sorted(lines, key=lambda one: (not one.needed_by, one.needed_by)))


def register_lines(lines: Iterable[Line]) -> tuple[RegisterLine, ...]:
    """Results of the register."""
    out = []
    for line in lines:
        said = reported(line.result, line.profile)
        held = said.status in {"held", "none"}
        sample = quote(str(line.result["sample"]), safe="")
        day = quote(str(line.result["day_id"]), safe="")
        out.append(
            RegisterLine(
                name=said.name,
                address=f"/tickets/{sample}" if line.received else f"/days/{day}/samples/{sample}",
                seconds=DASH if held else seconds_text(said),
                u=DASH if held else u_text(said.u_s),
                tubes=tubes_words(said.tubes, stated=said.tubes_stated),
                basis=basis_words(line.profile),
                status=term(f"status.{said.status}"),
                held=held,
            )
        )
    return tuple(out)


def changes_in_words(changes: Sequence[Change]) -> tuple[ChangeLine, ...]:
    """Entries of the log about a ticket, the latest first."""
    known = terms()
    return tuple(
        ChangeLine(
            when(c.at.astimezone()),
            c.person,
            known.get(f"log.{c.kind.replace('.', '-')}", c.kind),
            c.reason or "",
        )
        for c in reversed(changes)
    )
