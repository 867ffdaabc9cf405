"""One ticket whole: its state, what was said of it, and every change of it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from lodestarch.common.canonical import Json
from lodestarch.common.errors import UnknownName
from lodestarch.records.engine import Records
from lodestarch.records.tables import Answer, Sample
from lodestarch.records.unit import View
from lodestarch.trade.limits import Limit
from lodestarch.work.bench.choices import limits_read_out
from lodestarch.work.bench.sample_named import sample_named
from lodestarch.work.bench.ticket import TicketInWork, tickets_in_work
from lodestarch.work.office.retests_combined import RetestStory, retests_of
from lodestarch.work.office.ticket_price import TicketPrice, ticket_price
from lodestarch.work.office.tickets_answer import line_to_read_out

__all__ = ["Change", "Said", "TicketWhole", "ticket_whole"]


@dataclass(frozen=True, slots=True)
class Said:
    """One answer that was given."""

    at: datetime
    whom: str | None
    how: str
    said: str


@dataclass(frozen=True, slots=True)
class Change:
    """One entry of the log about a ticket."""

    at: datetime
    person: str
    kind: str
    reason: str | None
    data: Json


@dataclass(frozen=True, slots=True)
class TicketWhole:
    """Everything on a ticket's page."""

    ticket: TicketInWork
    phone: str
    limits: tuple[Limit, ...]
    answers: tuple[Said, ...]
    changes: tuple[Change, ...]
    earlier: tuple[dict[str, Any], ...]
    """Revisions of readings that something else took the place of."""
    retests: RetestStory | None = None
    """The load's retests with the number that counts; none where it was tested once."""
    price: TicketPrice | None = None
    """What it brings; none where whoever looks may not see prices, or there is nothing to price by."""


def _changes(
    view: View, sample: Sample, people: dict[str, str], retests: RetestStory | None
) -> tuple[Change, ...]:
    """Every change of a sample, and every retest that was asked for of its load, oldest first."""
    out = []
    subjects = [f"samples:{sample.key}"]
    if retests is not None:
        subjects += [f"retests:{t.code}" for t in retests.tests if t.made_from is not None]
    for entry in (entry for subject in subjects for entry in view.history(subject)):
        if isinstance(entry, dict):
            person = str(entry.get("person", ""))
            reason = entry.get("reason")
            out.append(
                Change(
                    datetime.fromisoformat(str(entry["at"])),
                    people.get(person, person),
                    str(entry["kind"]),
                    None if reason is None else str(reason),
                    entry.get("data"),
                )
            )
    return tuple(sorted(out, key=lambda change: change.at))


def ticket_whole(
    records: Records, code: str, *, roles: tuple[str, ...] = (), on: date | None = None
) -> TicketWhole:
    """Return everything that is kept of one ticket.

    Parameters
    ----------
    records : Records
    code : str
        Ticket or sample.
    roles : tuple of str
        Of whoever looks; prices go to those that may see them.
    on : date, optional
        Day of the offers; without it nothing is priced.

    Raises
    ------
    UnknownName
        When no sample is received under it.
    """
    with records.view() as view:
        sample = sample_named(view, code)
        if sample is None:
            raise UnknownName("ticket", code, ())
        (ticket,) = tickets_in_work(view, [sample.key])
        parties = view.names("parties")
        kept = view.open_sample(sample.key)
        retests = retests_of(view, sample)
        return TicketWhole(
            ticket,
            line_to_read_out(view, ticket),
            limits_read_out(view),
            tuple(
                Said(datetime.fromisoformat(a.said_at), parties.get(a.party or ""), a.how, a.said)
                for a in view.of_samples(Answer, [sample.key])
            ),
            _changes(view, sample, view.names("people"), retests),
            tuple(kept.readings.filter(~kept.readings["stands"]).iter_rows(named=True)),
            retests,
            None if on is None else ticket_price(view, ticket, roles=roles, on=on),
        )
