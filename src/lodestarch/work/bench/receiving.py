"""A load or sample arrives under its ticket."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.records.engine import Records
from lodestarch.records.log import utc_text
from lodestarch.records.tables import Sample
from lodestarch.records.unit import Unit
from lodestarch.sheets.typed import typed_number
from lodestarch.work.bench.entered import Entered, Sent, done, not_taken
from lodestarch.work.bench.entry import enter
from lodestarch.work.bench.sample_named import LONGEST_CODE, code_findings, party_named, sample_named

__all__ = ["KINDS", "Arrival", "receive", "write_sample"]

KINDS = ("load", "bin", "composite", "check", "retest")
"""Kinds of sample that can arrive; splits and regrinds are made here."""


@dataclass(frozen=True, slots=True)
class Arrival:
    """What is typed when something arrives; only the ticket is required."""

    ticket: str
    whose: str = ""
    kind: str = "load"
    material: str = ""
    needed_by: str = ""
    """A clock time or a date and time, as typed."""
    mass_g: str = ""
    condition: str = ""
    note: str = ""


def _findings(arrival: Arrival) -> list[Finding]:
    found = list(code_findings(arrival.ticket.strip()))
    if arrival.kind not in KINDS:
        values = {"text": arrival.kind[:LONGEST_CODE], "choices": ", ".join(KINDS)}
        found.append(Finding("entry-no-choice", Where(field="kind"), Severity.STOP, values))
    if arrival.mass_g.strip() and typed_number(arrival.mass_g) is None:
        values = {"text": arrival.mass_g[:LONGEST_CODE], "name": "mass_g"}
        found.append(Finding("entry-no-number", Where(field="mass_g"), Severity.STOP, values))
    for field in ("whose", "material", "needed_by", "condition", "note"):
        text = getattr(arrival, field)
        if len(text) > 200:
            found.append(
                Finding(
                    "entry-too-long", Where(field=field), Severity.STOP, {"count": len(text), "most": 200}
                )
            )
    return found


def write_sample(unit: Unit, arrival: Arrival, at: datetime) -> str:
    """Write a new sample under its ticket and return its code, which is the ticket."""
    ticket = arrival.ticket.strip()
    whose = party_named(unit, arrival.whose, "grower") if arrival.whose.strip() else None
    unit.add(
        Sample(
            key=ticket,
            ticket=ticket,
            kind=arrival.kind,
            received_at=utc_text(at),
            whose=whose,
            material=arrival.material.strip() or None,
            needed_by=arrival.needed_by.strip() or None,
            mass_g=typed_number(arrival.mass_g) if arrival.mass_g.strip() else None,
            condition=arrival.condition.strip() or None,
            note=arrival.note.strip() or None,
        )
    )
    return ticket


def receive(records: Records, sent: Sent, arrival: Arrival, *, person: str, at: datetime) -> Entered:
    """Receive a load or sample under its ticket.

    Returns
    -------
    Entered
        Not taken where the ticket is empty, too long or known already (``ticket-known``).

    Raises
    ------
    Refused
        When the person may not, or the records cannot be written.
    """

    def write(unit: Unit) -> Entered:
        found = _findings(arrival)
        code = arrival.ticket.strip()
        if not found and (sample_named(unit, code) is not None or unit.find(code)):
            found.append(
                Finding("ticket-known", Where(field="ticket", ticket=code), Severity.STOP, {"code": code})
            )
        if found:
            return not_taken(None, found)
        sample = write_sample(unit, arrival, sent.moment(at))
        return done(unit, sent, "receive", sample, at)

    return enter(records, sent, "ticket.receive", write, person=person, at=at)
