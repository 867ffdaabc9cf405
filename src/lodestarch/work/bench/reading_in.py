"""Seconds typed from the instrument become readings, and a result where all tubes are read."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

import polars as pl

from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.method.reading import Seconds, parse_seconds
from lodestarch.method.table import READINGS, conform
from lodestarch.records.engine import Records
from lodestarch.records.tables import Lowering, Moisture, PortionWeighed, Sample
from lodestarch.records.unit import Unit
from lodestarch.sheets.typed import read_typed
from lodestarch.work.bench.bench_day import bench_day, record_judged
from lodestarch.work.bench.choices import profile_of_bench
from lodestarch.work.bench.entered import Entered, Sent, done, not_taken
from lodestarch.work.bench.entry import enter, enter_for
from lodestarch.work.bench.lowering import next_run
from lodestarch.work.bench.preparing import MoistureTyped, write_moisture
from lodestarch.work.bench.receiving import Arrival, write_sample
from lodestarch.work.bench.sample_named import code_findings, sample_named
from lodestarch.work.keeping.profiles import book_of
from lodestarch.work.people.permissions import require_allowed

__all__ = [
    "QuickLine",
    "ReadingsTyped",
    "frame_of",
    "quick_line",
    "read_in",
    "seconds_findings",
    "write_readings",
]


@dataclass(frozen=True, slots=True)
class ReadingsTyped:
    """Seconds by position as typed from the instrument: ``287``, ``<=62``, ``>400``."""

    seconds: Mapping[str, str]
    corrected_by_instrument: bool | None = None
    reason: str = ""
    bath: str = ""
    """Where nobody noted a lowering: the bath that they were in."""


@dataclass(frozen=True, slots=True)
class QuickLine:
    """Ticket, moisture and readings in one line, where that is all one wants to enter."""

    ticket: str
    moisture_pct: str
    seconds: tuple[str, ...]
    reason: str = ""


def seconds_findings(
    typed: Mapping[str, str], sample: str | None
) -> tuple[dict[str, Seconds], tuple[Finding, ...]]:
    """Read seconds by position; what cannot be read is a finding at its field."""
    read: dict[str, Seconds] = {}
    found: list[Finding] = []
    for position, text in typed.items():
        value = parse_seconds(text)
        if value is None:
            where = Where(field="seconds", sample=sample, position=position)
            found.append(Finding("seconds-unread", where, Severity.STOP, {"text": text[:40]}))
        else:
            read[position] = value
    if not typed:
        found.append(Finding("seconds-none", Where(field="seconds", sample=sample), Severity.STOP))
    return read, tuple(found)


def _text(value: object) -> str:
    return "" if value is None else str(value)


def _row(
    unit: Unit, sample: Sample, position: str, typed: str, seconds: Seconds, made: Mapping[str, object]
) -> dict[str, object]:
    """One reading in ``READINGS``; its text says what was typed and where it stood."""
    row: dict[str, object] = {
        "row": 0,
        "sample": sample.key,
        "ticket": sample.ticket,
        "position": position,
        "seconds": seconds.value_s,
        "kind": int(seconds.kind),
        "analyst": unit.names("people").get(unit.person),
        "position_stated": True,
        **made,
    }
    said = ("run", "bath", "mass_g", "moisture_pct", "pressure_hpa", "corrected_by_instrument")
    row["row_text"] = "\x1f".join(
        [_text(sample.ticket), position, typed.strip(), *(_text(row.get(k)) for k in said)]
    )
    return row


def frame_of(rows: Sequence[Mapping[str, object]]) -> pl.DataFrame:
    """Rows as a frame of readings."""
    columns = {name: [row.get(name) for row in rows] for name in READINGS}
    return conform(pl.DataFrame(columns, schema=READINGS, strict=False), READINGS)


def _latest_moisture(unit: Unit, sample: str) -> float | None:
    kept = unit.of_samples(Moisture, [sample])
    return kept[-1].moisture_pct if kept else None


def _without_bath(
    unit: Unit, sample: Sample, positions: Sequence[str], at: datetime
) -> dict[str, dict[str, object]]:
    """What is known of tubes that nobody noted as lowered: the run is this one, the masses those weighed."""
    profile = profile_of_bench(unit, book_of(unit))
    made: dict[str, object] = {
        "run": next_run(unit, sample.key, f"{at:%Y-%m-%d}"),
        "profile": profile.name,
        "moisture_pct": _latest_moisture(unit, sample.key),
        "run_at": at.replace(tzinfo=None),
    }
    weighed = {p.position: p for p in unit.of_samples(PortionWeighed, [sample.key]) if p.used_in is None}
    out = {}
    for position in positions:
        portion = weighed.get(position)
        out[position] = {**made, "mass_g": portion.mass_g if portion else None}
        if portion is not None:
            portion.used_in = f"{made['run']}"
            unit.edit(portion, made_from=portion.version, reason="read")
    return out


def _from_bath(one: Lowering, at: datetime) -> dict[str, object]:
    return {
        "run": one.run,
        "bath": one.bath,
        "profile": one.profile,
        "tube_id": one.tube_id,
        "stirrer_id": one.stirrer_id,
        "mass_g": one.mass_g,
        "moisture_pct": one.moisture_pct,
        "pressure_hpa": one.pressure_hpa,
        "run_at": datetime.fromisoformat(one.lowered_at).astimezone(at.tzinfo).replace(tzinfo=None),
    }


def write_readings(
    unit: Unit, sample: Sample, typed: ReadingsTyped, read: Mapping[str, Seconds], at: datetime
) -> tuple[Finding, ...]:
    """Keep seconds by position as readings of a sample, from its bath where it was lowered, and judge it."""
    inside = {one.position: one for one in unit.of_samples(Lowering, [sample.key]) if one.ended is None}
    loose = [position for position in read if position not in inside]
    known = _without_bath(unit, sample, loose, at)
    rows = []
    for position, seconds in read.items():
        made = known[position] if position in known else _from_bath(inside[position], at)
        if position in known:
            made["bath"] = typed.bath.strip() or None
        made["corrected_by_instrument"] = typed.corrected_by_instrument
        rows.append(_row(unit, sample, position, typed.seconds[position], seconds, made))
        if position in inside:
            one = inside.pop(position)
            one.ended = "read"
            unit.edit(one, made_from=one.version, reason="read")
    # A result is due when no tube of the sample is still in a bath.
    return record_judged(
        unit, bench_day(unit, at), frame_of(rows), reason=typed.reason.strip() or None, result=not inside
    )


def read_in(
    records: Records, sent: Sent, code: str, typed: ReadingsTyped, *, person: str, at: datetime
) -> Entered:
    """Take readings of one sample from the instrument and judge it once every lowered tube is read."""

    def write(unit: Unit, sample: Sample) -> Entered:
        read, found = seconds_findings(typed.seconds, sample.key)
        if found:
            return not_taken(sample.key, found)
        judged = write_readings(unit, sample, typed, read, sent.moment(at))
        return done(unit, sent, "readings", sample.key, at, judged)

    return enter_for(records, sent, code, "reading.record", write, person=person, at=at)


def quick_line(records: Records, sent: Sent, line: QuickLine, *, person: str, at: datetime) -> Entered:
    """Take ticket, moisture and readings in one go; a ticket that is not known is received with them."""

    def write(unit: Unit) -> Entered:
        code, moment = line.ticket.strip(), sent.moment(at)
        typed = {str(n): text for n, text in enumerate(line.seconds, start=1) if text.strip()}
        read, found = seconds_findings(typed, code or None)
        found = (*code_findings(code), *found)
        if line.moisture_pct.strip():
            found = (*found, *read_typed("moisture_pct", line.moisture_pct, Where(ticket=code or None))[1])
        if found:
            return not_taken(None, found)
        sample = sample_named(unit, code) or _received(unit, code, moment)
        told: tuple[Finding, ...] = ()
        if line.moisture_pct.strip():
            profile = profile_of_bench(unit, book_of(unit))
            _, told = write_moisture(unit, sample, MoistureTyped(line.moisture_pct), profile, moment)
        judged = write_readings(unit, sample, ReadingsTyped(typed, reason=line.reason), read, moment)
        return done(unit, sent, "quick line", sample.key, at, (*told, *judged))

    return enter(records, sent, "reading.record", write, person=person, at=at)


def _received(unit: Unit, code: str, at: datetime) -> Sample:
    """Receive a ticket that came with its readings."""
    require_allowed("ticket.receive", unit.roles_of(unit.person))
    write_sample(unit, Arrival(code), at)
    sample = sample_named(unit, code)
    assert sample is not None  # noqa: S101 - just written
    return sample
