"""Tubes lowered into a bath: one run, one position a tube."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.records.engine import Records
from lodestarch.records.log import utc_text
from lodestarch.records.tables import Lowering, Moisture, PortionWeighed, Sample
from lodestarch.records.unit import Unit
from lodestarch.sheets.typed import read_typed
from lodestarch.work.bench.choices import profile_of_bench
from lodestarch.work.bench.entered import Entered, Sent, done, not_taken
from lodestarch.work.bench.entry import enter_for
from lodestarch.work.bench.sample_named import LONGEST_CODE
from lodestarch.work.keeping.profiles import book_of

__all__ = ["Lowered", "lower", "next_run", "raise_lost"]

MOST_TUBES = 4
"""Tubes of one sample in one lowering. A setting of ours."""


@dataclass(frozen=True, slots=True)
class Lowered:
    """A lowering as typed."""

    bath: str
    tubes: int = 2
    pressure_hpa: str = ""
    note: str = ""


def next_run(unit: Unit, sample: str, day: str) -> str:
    """The name of a sample's next run: the day, then the day with a number."""
    known = set(unit.standing_readings([sample])["run"].to_list())
    known |= {one.run for one in unit.of_samples(Lowering, [sample])}
    number = 1
    while (run := day if number == 1 else f"{day} no. {number}") in known:
        number += 1
    return run


def _findings(unit: Unit, sample: Sample, typed: Lowered) -> tuple[float | None, list[Finding]]:
    where = Where(ticket=sample.ticket, sample=sample.key)
    found: list[Finding] = []
    bath = typed.bath.strip()
    if not bath or len(bath) > LONGEST_CODE:
        found.append(Finding("bath-empty", Where(field="bath", sample=sample.key), Severity.STOP))
    if not 1 <= typed.tubes <= MOST_TUBES:
        values = {"text": str(typed.tubes), "choices": f"1 to {MOST_TUBES}"}
        found.append(Finding("entry-no-choice", Where(field="tubes"), Severity.STOP, values))
    if any(one.ended is None for one in unit.of_samples(Lowering, [sample.key])):
        found.append(Finding("ticket-in-bath", where, Severity.STOP))
    pressure = None
    if typed.pressure_hpa.strip():
        pressure, faults = read_typed("pressure_hpa", typed.pressure_hpa, where)
        found.extend(faults)
    return pressure, found


def lower(records: Records, sent: Sent, code: str, typed: Lowered, *, person: str, at: datetime) -> Entered:
    """Lower one or two tubes of a sample into a bath; masses weighed before go with them."""

    def write(unit: Unit, sample: Sample) -> Entered:
        pressure, found = _findings(unit, sample, typed)
        if found:
            return not_taken(sample.key, found)
        moment = sent.moment(at)
        moistures = unit.of_samples(Moisture, [sample.key])
        before = len(unit.of_samples(Lowering, [sample.key]))
        waiting = [p for p in unit.of_samples(PortionWeighed, [sample.key]) if p.used_in is None]
        by_position = {p.position: p for p in waiting}
        run, profile = next_run(unit, sample.key, f"{moment:%Y-%m-%d}"), profile_of_bench(unit, book_of(unit))
        for number in range(1, typed.tubes + 1):
            portion = by_position.get(str(number))
            row = Lowering(
                key=f"{sample.key}/{before + number}",
                sample=sample.key,
                run=run,
                position=str(number),
                bath=typed.bath.strip(),
                lowered_at=utc_text(moment),
                profile=profile.name,
                mass_g=portion.mass_g if portion else None,
                moisture_pct=moistures[-1].moisture_pct if moistures else None,
                pressure_hpa=pressure,
                note=typed.note.strip() or None,
            )
            unit.add(row)
            if portion is not None:
                portion.used_in = row.key
                unit.edit(portion, made_from=portion.version, reason="lowered")
        return done(unit, sent, "lowered", sample.key, at)

    return enter_for(records, sent, code, "reading.record", write, person=person, at=at)


def raise_lost(records: Records, sent: Sent, code: str, note: str, *, person: str, at: datetime) -> Entered:
    """Take the tubes of a sample out without a reading, and say why."""

    def write(unit: Unit, sample: Sample) -> Entered:
        inside = [one for one in unit.of_samples(Lowering, [sample.key]) if one.ended is None]
        where = Where(ticket=sample.ticket, sample=sample.key, field="reason")
        if not inside:
            return not_taken(sample.key, [Finding("ticket-not-in-bath", where, Severity.STOP)])
        if not note.strip():
            return not_taken(sample.key, [Finding("reason-empty", where, Severity.STOP)])
        for one in inside:
            one.ended, one.note = "lost", note.strip()[:200]
            unit.edit(one, made_from=one.version, reason=note.strip()[:200])
        return done(unit, sent, "lost", sample.key, at)

    return enter_for(records, sent, code, "reading.record", write, person=person, at=at)
