"""Results let out: by rule where nothing stands against it, otherwise by the chemist."""

from __future__ import annotations

from datetime import datetime, timedelta

from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.records.engine import Records
from lodestarch.records.log import utc_text
from lodestarch.records.tables import Sample
from lodestarch.records.unit import Unit
from lodestarch.work.bench.entered import Entered, Sent, done, not_taken
from lodestarch.work.bench.entry import enter, enter_for
from lodestarch.work.bench.state import DAYS_BACK, MOST
from lodestarch.work.bench.ticket import tickets_in_work

__all__ = ["release_by_chemist", "release_by_rule"]


def release_by_chemist(
    records: Records, sent: Sent, code: str, reason: str, *, person: str, at: datetime
) -> Entered:
    """Let one result out on the chemist's word; a result that the rule would keep wants a reason.

    Returns
    -------
    Entered
        Not taken for a sample without a result, for one that is held, and where a reason is wanted.
    """

    def write(unit: Unit, sample: Sample) -> Entered:
        (ticket,) = tickets_in_work(unit, [sample.key])
        where = Where(ticket=sample.ticket, sample=sample.key)
        if ticket.result is None or ticket.result["tubes"] == 0:
            return not_taken(sample.key, [Finding("release-nothing", where, Severity.STOP)])
        if ticket.result["status"] == "held":
            return not_taken(sample.key, [Finding("release-held", where, Severity.STOP)])
        if (ticket.keeps or ticket.release is not None) and not reason.strip():
            at_reason = Where(ticket=sample.ticket, sample=sample.key, field="reason")
            return not_taken(sample.key, [Finding("release-reason", at_reason, Severity.STOP)])
        unit.release(sample.key, by_rule=False, reason=reason.strip()[:200] or None)
        return done(unit, sent, "released", sample.key, at)

    return enter_for(records, sent, code, "result.release", write, person=person, at=at)


def release_by_rule(records: Records, sent: Sent, *, person: str, at: datetime) -> tuple[Entered, int]:
    """Let out every result that nothing stands against; returns how many went."""
    going: list[str] = []

    def write(unit: Unit) -> Entered:
        codes = unit.open_samples(utc_text(at - timedelta(days=DAYS_BACK)), MOST)
        going.extend(t.sample.key for t in tickets_in_work(unit, codes) if not t.keeps and t.release is None)
        for sample in going:
            unit.release(sample, by_rule=True)
        return done(unit, sent, "released by rule", "", at)

    return enter(records, sent, "result.release-by-rule", write, person=person, at=at), len(going)
