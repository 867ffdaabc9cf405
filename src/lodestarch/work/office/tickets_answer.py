"""One answer by phone, with who asked."""

from __future__ import annotations

from datetime import datetime

from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.records.engine import Records
from lodestarch.records.log import utc_text
from lodestarch.records.tables import Answer, Sample
from lodestarch.records.tables.bench import ANSWER_HOW
from lodestarch.records.unit import Unit, View
from lodestarch.words.result import phone_line, reported
from lodestarch.work.bench.choices import limits_read_out
from lodestarch.work.bench.entered import Entered, Sent, done, not_taken
from lodestarch.work.bench.entry import enter_for
from lodestarch.work.bench.sample_named import party_named
from lodestarch.work.bench.ticket import TicketInWork, tickets_in_work

__all__ = ["answer", "line_to_read_out"]


def line_to_read_out(view: View, ticket: TicketInWork) -> str:
    """The one line: *8814 · 287, limit 300, two tubes, 14 % mb, preliminary*."""
    row = dict(ticket.result) if ticket.result is not None else _no_result(ticket)
    if ticket.release is not None and ticket.station == "released":
        row["status"] = "released"
    return phone_line(reported(row, ticket.profile), limits_read_out(view))


def _no_result(ticket: TicketInWork) -> dict[str, object]:
    names = ("seconds", "kind", "u_s", "tubes", "tubes_stated", "comparable_key", "correction", "how")
    return {
        **dict.fromkeys(names),
        "ticket": ticket.sample.ticket,
        "sample": ticket.sample.key,
        "status": "none",
    }


def answer(
    records: Records, sent: Sent, code: str, asked_by: str, how: str, *, person: str, at: datetime
) -> Entered:
    """Keep what was read out of a ticket, to whom and how; the name of who asked stands beside the log."""

    def write(unit: Unit, sample: Sample) -> Entered:
        found = []
        if not asked_by.strip() or len(asked_by) > 200:
            found.append(Finding("asked-by-empty", Where(field="asked_by", sample=sample.key), Severity.STOP))
        if how not in ANSWER_HOW:
            values = {"text": how[:40], "choices": ", ".join(ANSWER_HOW)}
            found.append(Finding("entry-no-choice", Where(field="how"), Severity.STOP, values))
        if found:
            return not_taken(sample.key, found)
        (ticket,) = tickets_in_work(unit, [sample.key])
        said, party = line_to_read_out(unit, ticket), party_named(unit, asked_by, "other")
        out = ticket.release.key if ticket.release is not None and ticket.station == "released" else None
        earlier = unit.of_samples(Answer, [sample.key])
        unit.add(
            Answer(
                key=f"{sample.key}/{len(earlier) + 1}",
                sample=sample.key,
                said_at=utc_text(sent.moment(at)),
                how=how,
                said=said,
                party=party,
                release=out,
            )
        )
        if out is not None:
            unit.tell(out, how if how in {"phone", "mail", "screen"} else "other", party=party, said=said)
        return done(unit, sent, "answered", sample.key, at)

    return enter_for(records, sent, code, "ticket.answer", write, person=person, at=at)
