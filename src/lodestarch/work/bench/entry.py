"""The frame of every entry: who may, once only, and the sample that it names."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from lodestarch.records.engine import Records
from lodestarch.records.tables import Sample
from lodestarch.records.unit import Unit
from lodestarch.work.bench.entered import Entered, Sent, not_taken, taken_before
from lodestarch.work.bench.sample_named import no_such_ticket, sample_named
from lodestarch.work.people.permissions import unit_for

__all__ = ["enter", "enter_for"]


def enter(
    records: Records,
    sent: Sent,
    action: str,
    write: Callable[[Unit], Entered],
    *,
    person: str,
    at: datetime,
) -> Entered:
    """Take an entry in one unit of work, unless it was taken before.

    Parameters
    ----------
    records : Records
    sent : Sent
    action : str
        Line of the permission table.
    write : callable
        Reads what was typed and writes it, ending in ``done`` or ``not_taken``.
    person : str
    at : datetime

    Raises
    ------
    NotAllowed
        When the person may not.
    IdTaken
        When another content came under the same id.
    """
    with unit_for(records, person, at, action) as unit:
        return taken_before(unit, sent) or write(unit)


def enter_for(
    records: Records,
    sent: Sent,
    code: str,
    action: str,
    write: Callable[[Unit, Sample], Entered],
    *,
    person: str,
    at: datetime,
) -> Entered:
    """Take an entry about the sample that a ticket or code names; see :func:`enter`.

    Returns
    -------
    Entered
        Not taken (``ticket-unknown``) where nothing is kept under the code.
    """

    def named(unit: Unit) -> Entered:
        sample = sample_named(unit, code)
        return not_taken(None, [no_such_ticket(code)]) if sample is None else write(unit, sample)

    return enter(records, sent, action, named, person=person, at=at)
