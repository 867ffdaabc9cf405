"""Upkeep and its intervals, and the list at the start of a shift, as entered."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from lodestarch.common.canonical import Json, canonical_text
from lodestarch.common.findings import Finding, Where
from lodestarch.control.upkeep_items import SHIFT_ITEMS, UPKEEP_ITEMS, upkeep_item
from lodestarch.records.engine import Records
from lodestarch.records.log import utc_text
from lodestarch.records.tables import ShiftCheck, UpkeepDone, UpkeepInterval
from lodestarch.records.unit import Unit
from lodestarch.sheets.typed import read_typed
from lodestarch.work.bench.entered import Entered, Sent
from lodestarch.work.quality.entry_parts import (
    CLOCK,
    OWN,
    at_field,
    one_of,
    stopped,
    take_entry,
    too_long,
    typed_count,
)

__all__ = ["IntervalTyped", "TickTyped", "UpkeepTyped", "set_interval", "tick", "upkeep_done"]


@dataclass(frozen=True, slots=True)
class UpkeepTyped:
    """Something done to the bench, as typed; no time: now."""

    item: str
    place: str = ""
    done_at: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class IntervalTyped:
    """How often an item is due, as typed, and who says so."""

    item: str
    every_days: str
    every_runs: str
    source: str


@dataclass(frozen=True, slots=True)
class TickTyped:
    """One item of the list at the start of a shift."""

    item: str
    value: str = ""
    held: bool = True
    note: str = ""


def upkeep_done(records: Records, sent: Sent, typed: UpkeepTyped, *, person: str, at: datetime) -> Entered:
    """Keep that something was done to the bench: what, where, when, by whom."""

    def write(unit: Unit) -> list[Finding]:
        item = upkeep_item(typed.item)
        found = one_of("item", typed.item, tuple(i.item for i in UPKEEP_ITEMS))
        moment, faults = _moment(typed.done_at, sent.moment(at))
        found += faults + too_long(place=typed.place, note=typed.note)
        if found or item is None or moment is None:
            return found
        unit.add(
            UpkeepDone(
                key=unit.next_key(UpkeepDone, "u"), item=typed.item, done_at=utc_text(moment),
                done_by=unit.person, changes_results=item.changes_results, place=typed.place.strip() or None,
                note=typed.note.strip() or None,
            )
        )  # fmt: skip
        return []

    return take_entry(records, sent, "control.record", "upkeep", write, person, at)


def _moment(text: str, now: datetime) -> tuple[datetime | None, list[Finding]]:
    """Read a clock time of today, a date, or both; nothing typed is now."""
    said = text.strip()
    if not said:
        return now, []
    clock = CLOCK.match(said)
    try:
        if clock is not None:
            moment = now.replace(hour=int(clock[1]), minute=int(clock[2]), second=0, microsecond=0)
        else:
            moment = datetime.fromisoformat(said)
            moment = moment if moment.tzinfo else moment.replace(tzinfo=now.tzinfo)
    except ValueError:
        return None, [stopped("control-moment", "done_at", text=said[:40])]
    if moment > now + timedelta(minutes=2):
        return None, [stopped("control-moment-ahead", "done_at", text=said[:40])]
    return moment, []


def set_interval(records: Records, sent: Sent, typed: IntervalTyped, *, person: str, at: datetime) -> Entered:
    """Keep how often an item is due here, in days, runs or both, with who says so."""

    def write(unit: Unit) -> list[Finding]:
        found = one_of("item", typed.item, tuple(i.item for i in UPKEEP_ITEMS))
        days, runs = (typed_count(getattr(typed, f), f, found) for f in ("every_days", "every_runs"))
        if not typed.every_days.strip() and not typed.every_runs.strip():
            found.append(stopped("interval-empty", "every_days"))
        if not typed.source.strip():
            found.append(stopped("control-empty", "source"))
        found += too_long(source=typed.source)
        if found:
            return found
        row = UpkeepInterval(
            key=typed.item, source=typed.source.strip(), provenance=OWN, every_days=days,
            every_runs=None if runs is None else round(runs),
        )  # fmt: skip
        known = unit.get(UpkeepInterval, typed.item)
        if known is None:
            unit.add(row)
        else:
            unit.edit(row, made_from=known.version)
        return []

    return take_entry(records, sent, "control.decide", "upkeep interval", write, person, at)


def tick(records: Records, sent: Sent, typed: TickTyped, *, person: str, at: datetime) -> Entered:
    """Tick one item of the list at the start of a shift: in order, or not and why."""

    def write(unit: Unit) -> list[Finding]:
        found = one_of("item", typed.item, tuple(i.item for i in SHIFT_ITEMS))
        if found:
            return found
        item = next(i for i in SHIFT_ITEMS if i.item == typed.item)
        value = None
        if typed.value.strip() and item.quantity:
            value, faults = read_typed(item.quantity, typed.value, Where(field="value"))
            found += at_field("value", faults)
        elif typed.held and item.needed:
            found.append(stopped("tick-value", "value", item=item.item))
        if not typed.held and not typed.note.strip():
            found.append(stopped("tick-note", "note", item=item.item))
        found += too_long(note=typed.note)
        if found:
            return found
        said: dict[str, Json] = {
            "item": item.item, "value": value, "held": typed.held, "note": typed.note.strip(),
        }  # fmt: skip
        unit.add(
            ShiftCheck(
                key=unit.next_key(ShiftCheck, "s"), checked_at=utc_text(sent.moment(at)),
                checked_by=unit.person, items=canonical_text([said]), held=typed.held,
            )
        )  # fmt: skip
        return []

    return take_entry(records, sent, "control.record", "shift item", write, person, at)
