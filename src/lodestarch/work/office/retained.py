"""What is left of samples: kept with mass, place and seal, used from, and discarded when its day has come."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.common.provenance import Provenance
from lodestarch.records.engine import Records
from lodestarch.records.log import utc_text
from lodestarch.records.tables import RetainedSample, RetainedUse, RetentionRule, Sample
from lodestarch.records.tables.samples import SAMPLE_KINDS
from lodestarch.records.unit import Unit, View
from lodestarch.work.bench.entered import Entered, Sent, done, not_taken
from lodestarch.work.bench.entry import enter, enter_for
from lodestarch.work.office.sample_typed import days_of, grams_of, text_of

__all__ = ["Left", "RetainTyped", "RuleTyped", "discard", "keep_rule", "left_of", "retain", "retained_now"]
__all__ += ["rules", "take_from"]

EVERY = "every sample"
"""What a rule applies to that names no kind."""


@dataclass(frozen=True, slots=True)
class RetainTyped:
    """What is kept, as typed; without days the lab's own rule says for how long."""

    mass_g: str
    place: str
    seal: str = ""
    keep_days: str = ""


@dataclass(frozen=True, slots=True)
class RuleTyped:
    """How long a kind of sample is kept, and where that stands."""

    applies_to: str
    keep_days: str
    source: str


@dataclass(frozen=True, slots=True)
class Left:
    """Grain that is kept of one sample.

    Parameters
    ----------
    key : str
    sample, ticket : str, str or None
    mass_g : float
        As kept. [g]
    left_g : float
        After what was taken from it. [g]
    place, seal : str, str or None
    retained_on : date
    destroy_by : date or None
        ``None``: no rule said for how long.
    """

    key: str
    sample: str
    ticket: str | None
    mass_g: float
    left_g: float
    place: str
    seal: str | None
    retained_on: date
    destroy_by: date | None

    def is_due(self, today: date) -> bool:
        """Tell whether it may be discarded."""
        return self.destroy_by is not None and self.destroy_by <= today


def rules(records: Records) -> tuple[RetentionRule, ...]:
    """Return the lab's rules for keeping grain; a new lab has none."""
    with records.view() as view:
        return tuple(view.all(RetentionRule))


def keep_rule(records: Records, sent: Sent, typed: RuleTyped, *, person: str, at: datetime) -> Entered:
    """Keep how long a kind of sample is kept, as the lab enters it; another one takes its place."""

    def write(unit: Unit) -> Entered:
        kind = typed.applies_to.strip()
        days, found = days_of(typed.keep_days, "keep_days")
        found = (*found, *text_of(typed.source, "source", 200))
        if kind not in {EVERY, *SAMPLE_KINDS}:
            values: dict[str, Value] = {"text": kind[:40], "choices": ", ".join((EVERY, *SAMPLE_KINDS))}
            found = (*found, Finding("entry-no-choice", Where(field="applies_to"), Severity.STOP, values))
        if found or days is None:
            return not_taken(None, found)
        row, by = unit.get(RetentionRule, kind), Provenance.ENTERED_BY_LAB.value
        new = RetentionRule(
            key=kind, applies_to=kind, keep_days=days, source=typed.source.strip(), provenance=by
        )
        if row is None:
            unit.add(new)
        else:
            unit.edit(new, made_from=row.version, reason=typed.source.strip())
        return done(unit, sent, "retention rule", "", at)

    return enter(records, sent, "setup.change", write, person=person, at=at)


def _until(
    unit: Unit, sample: Sample, typed: str, at: datetime
) -> tuple[str | None, str | None, tuple[Finding, ...]]:
    """Rule and day until which grain is kept: as typed, else by the rule of its kind, else by that of all."""
    if typed.strip():
        days, found = days_of(typed, "keep_days")
        return None, None if days is None else (at + timedelta(days=days)).date().isoformat(), found
    for kind in (sample.kind, EVERY):
        rule = unit.get(RetentionRule, kind)
        if rule is not None:
            return rule.key, (at + timedelta(days=rule.keep_days)).date().isoformat(), ()
    return None, None, ()


def retain(
    records: Records, sent: Sent, code: str, typed: RetainTyped, *, person: str, at: datetime
) -> Entered:
    """Keep what is left of a sample: mass, place, seal, and until when.

    Returns
    -------
    Entered
        Taken with the finding ``retained-no-end`` where neither days nor a rule say for how long.
    """

    def write(unit: Unit, sample: Sample) -> Entered:
        mass_g, found = grams_of(typed.mass_g, "mass_g")
        found = (*found, *text_of(typed.place, "place"), *text_of(typed.seal, "seal", 40, wanted=False))
        moment = sent.moment(at)
        rule, until, wrong = _until(unit, sample, typed.keep_days, moment)
        if found or wrong or mass_g is None:
            return not_taken(sample.key, (*found, *wrong))
        kept = unit.of_samples(RetainedSample, [sample.key])
        unit.add(
            RetainedSample(
                key=f"{sample.key}/{len(kept) + 1}",
                sample=sample.key,
                mass_g=mass_g,
                place=typed.place.strip(),
                retained_at=utc_text(moment),
                seal=typed.seal.strip() or None,
                rule=rule,
                destroy_by=until,
            )
        )
        where = Where(ticket=sample.ticket, sample=sample.key)
        told = () if until else (Finding("retained-no-end", where, Severity.NOTE),)
        return done(unit, sent, "retained", sample.key, at, told)

    return enter_for(records, sent, code, "sample.edit", write, person=person, at=at)


def _left(view: View, row: RetainedSample, ticket: str | None) -> Left:
    used = sum(one.mass_g for one in view.all(RetainedUse, retained=row.key))
    return Left(
        row.key,
        row.sample,
        ticket,
        row.mass_g,
        round(row.mass_g - used, 6),
        row.place,
        row.seal,
        datetime.fromisoformat(row.retained_at).date(),
        None if row.destroy_by is None else date.fromisoformat(row.destroy_by),
    )


def left_of(view: View, sample: Sample) -> tuple[Left, ...]:
    """Return the grain that is kept of a sample and not discarded."""
    rows = view.of_samples(RetainedSample, [sample.key])
    return tuple(_left(view, row, sample.ticket) for row in rows if row.destroyed_on is None)


def retained_now(records: Records) -> tuple[Left, ...]:
    """Return all grain that is kept, what may be discarded first at the head."""
    with records.view() as view:
        rows = view.all(RetainedSample, destroyed_on=None)
        tickets = {row.sample: view.get(Sample, row.sample) for row in rows}
        lines = []
        for row in rows:
            sample = tickets[row.sample]
            lines.append(_left(view, row, None if sample is None else sample.ticket))
    return tuple(sorted(lines, key=lambda one: (one.destroy_by is None, one.destroy_by or date.max, one.key)))


def take_from(unit: Unit, sample: Sample, mass_g: float, purpose: str, at: datetime) -> Finding | None:
    """Take grain from what is kept of a sample, from the oldest that has enough; else say what is left."""
    left = left_of(unit, sample)
    for one in left:
        if one.left_g >= mass_g:
            count = len(unit.all(RetainedUse, retained=one.key))
            unit.add(
                RetainedUse(
                    key=f"{one.key}/{count + 1}",
                    retained=one.key,
                    mass_g=mass_g,
                    taken_at=utc_text(at),
                    purpose=purpose,
                )
            )
            return None
    most: dict[str, Value] = {"mass_g": mass_g, "left_g": max((one.left_g for one in left), default=0.0)}
    return Finding("retained-too-little", Where(ticket=sample.ticket, sample=sample.key), Severity.STOP, most)


def discard(records: Records, sent: Sent, key: str, reason: str, *, person: str, at: datetime) -> Entered:
    """Note that retained grain is discarded; before its day, or without one, only with a reason."""

    def write(unit: Unit) -> Entered:
        row = unit.get(RetainedSample, key)
        if row is None or row.destroyed_on is not None:
            values: dict[str, Value] = {"text": key[:40]}
            return not_taken(None, [Finding("retained-unknown", Where(field="key"), Severity.STOP, values)])
        today = at.date()
        due = row.destroy_by is not None and date.fromisoformat(row.destroy_by) <= today
        if not due and not reason.strip():
            where = Where(field="reason", sample=row.sample)
            return not_taken(row.sample, [Finding("retained-not-due", where, Severity.STOP)])
        row.destroyed_on = today.isoformat()
        unit.edit(row, made_from=row.version, reason=reason.strip()[:200] or "its day has come")
        return done(unit, sent, "discarded", row.sample, at)

    return enter(records, sent, "sample.edit", write, person=person, at=at)
