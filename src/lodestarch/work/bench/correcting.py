"""A slip put right, a reading set aside with its cause, a sample judged as it stands."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import polars as pl

from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.method.reading import CAUSES, parse_seconds
from lodestarch.method.table import READINGS
from lodestarch.records.engine import Records
from lodestarch.records.tables import Sample
from lodestarch.records.unit import Unit
from lodestarch.sheets.typed import read_typed
from lodestarch.work.bench.bench_day import bench_day, judge_standing, record_judged
from lodestarch.work.bench.entered import Entered, Sent, done, not_taken
from lodestarch.work.bench.entry import enter_for
from lodestarch.work.keeping.profiles import book_of

__all__ = ["Correction", "ReadingKey", "correct", "judge_now", "set_aside"]


@dataclass(frozen=True, slots=True)
class ReadingKey:
    """Which reading of a sample."""

    run: str
    position: str


@dataclass(frozen=True, slots=True)
class Correction:
    """What stands in place of what was typed; empty fields stay as they are."""

    seconds: str = ""
    mass_g: str = ""
    moisture_pct: str = ""
    reason: str = ""


def _reading(unit: Unit, sample: Sample, key: ReadingKey) -> pl.DataFrame | None:
    standing = unit.standing_readings([sample.key])
    found = standing.filter(run=key.run, position=key.position)
    return found if found.height else None


def _lost(sample: Sample, key: ReadingKey) -> Finding:
    where = Where(ticket=sample.ticket, sample=sample.key, run=key.run, position=key.position)
    return Finding("reading-unknown", where, Severity.STOP)


def _reworded(row: pl.DataFrame, **changes: object) -> pl.DataFrame:
    """A reading with other values; its text says so, which is how a change is told from a repetition."""
    said = "\x1f".join(f"{name}={value}" for name, value in changes.items())
    before = row["row_text"][0] or ""
    columns = [pl.lit(value).cast(READINGS[name]).alias(name) for name, value in changes.items()]
    text = pl.lit(f"{before}\x1f{said}").alias("row_text")
    return row.select(list(READINGS)).with_columns(*columns, text)


def _is_result_due(unit: Unit, sample: Sample) -> bool:
    """A sample that has a result gets another with every change of its readings."""
    return unit.open_sample(sample.key).results.height > 0


def set_aside(
    records: Records,
    sent: Sent,
    code: str,
    key: ReadingKey,
    cause: str,
    reason: str,
    *,
    person: str,
    at: datetime,
) -> Entered:
    """Set a reading aside with its cause (one of ``method.reading.CAUSES``); ``other`` wants words too."""

    def write(unit: Unit, sample: Sample) -> Entered:
        if cause not in CAUSES:
            values = {"text": cause[:40], "choices": ", ".join(CAUSES)}
            where = Where(field="cause", sample=sample.key)
            return not_taken(sample.key, [Finding("cause-empty", where, Severity.STOP, values)])
        if cause == "other" and not reason.strip():
            where = Where(field="reason", sample=sample.key)
            return not_taken(sample.key, [Finding("reason-empty", where, Severity.STOP)])
        row = _reading(unit, sample, key)
        if row is None:
            return not_taken(sample.key, [_lost(sample, key)])
        changed = _reworded(row, set_aside_cause=cause)
        told = reason.strip()[:200] or cause
        due = _is_result_due(unit, sample)
        judged = record_judged(unit, bench_day(unit, at), changed, reason=told, result=due)
        return done(unit, sent, "set aside", sample.key, at, judged)

    return enter_for(records, sent, code, "reading.set-aside", write, person=person, at=at)


def _changes(typed: Correction, where: Where) -> tuple[dict[str, object], list[Finding]]:
    changes: dict[str, object] = {}
    found: list[Finding] = []
    if typed.seconds.strip():
        seconds = parse_seconds(typed.seconds)
        if seconds is None:
            at = Where(field="seconds", sample=where.sample, position=where.position)
            found.append(Finding("seconds-unread", at, Severity.STOP, {"text": typed.seconds[:40]}))
        else:
            changes |= {"seconds": seconds.value_s, "kind": int(seconds.kind)}
    for name in ("mass_g", "moisture_pct"):
        text = getattr(typed, name)
        if text.strip():
            value, faults = read_typed(name, text, where)
            found.extend(faults)
            changes[name] = value
    if not changes and not found:
        found.append(Finding("correction-empty", Where(field="seconds", sample=where.sample), Severity.STOP))
    if not typed.reason.strip():
        found.append(Finding("reason-empty", Where(field="reason", sample=where.sample), Severity.STOP))
    return changes, found


def correct(
    records: Records,
    sent: Sent,
    code: str,
    key: ReadingKey,
    typed: Correction,
    *,
    person: str,
    at: datetime,
) -> Entered:
    """Put a slip right: what stood stays as an earlier revision, with the reason for the change."""

    def write(unit: Unit, sample: Sample) -> Entered:
        row = _reading(unit, sample, key)
        if row is None:
            return not_taken(sample.key, [_lost(sample, key)])
        where = Where(ticket=sample.ticket, sample=sample.key, position=key.position)
        changes, found = _changes(typed, where)
        if found:
            return not_taken(sample.key, found)
        # Several corrections may come to the same values again: the moment keeps their texts apart.
        changed = _reworded(row, **changes).with_columns(
            row_text=pl.col("row_text") + f"\x1f{at.isoformat(timespec='seconds')}"
        )
        due = _is_result_due(unit, sample)
        judged = record_judged(
            unit, bench_day(unit, at), changed, reason=typed.reason.strip()[:200], result=due
        )
        return done(unit, sent, "corrected", sample.key, at, judged)

    return enter_for(records, sent, code, "reading.record", write, person=person, at=at)


def judge_now(records: Records, sent: Sent, code: str, *, person: str, at: datetime) -> Entered:
    """Judge a sample by the readings that it has, although a tube was expected that did not come."""

    def write(unit: Unit, sample: Sample) -> Entered:
        standing = unit.standing_readings([sample.key])
        if standing.is_empty():
            where = Where(ticket=sample.ticket, sample=sample.key)
            return not_taken(sample.key, [Finding("readings-none", where, Severity.STOP)])
        judged = judge_standing(unit, standing, book_of(unit))
        unit.record_results(bench_day(unit, at), judged.results)
        return done(unit, sent, "judged", sample.key, at, judged.findings)

    return enter_for(records, sent, code, "reading.record", write, person=person, at=at)
