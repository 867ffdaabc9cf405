"""What is entered of bins: places, grain put in, moved, turned, taken out, and slips put right."""

from __future__ import annotations

from datetime import datetime

from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.records.engine import Records
from lodestarch.records.log import utc_text
from lodestarch.records.tables import Bin, Load, Movement
from lodestarch.records.unit import Unit, View
from lodestarch.sheets.typed import typed_number
from lodestarch.work.bench.entered import Entered, Sent, done, not_taken
from lodestarch.work.bench.entry import enter
from lodestarch.work.bench.sample_named import code_findings
from lodestarch.work.planning.bin_layers import layers_after, tonnes_in
from lodestarch.work.planning.bins_kept import moves_in_order
from lodestarch.work.planning.load_numbers import keep_facts
from lodestarch.work.planning.typed_amounts import chosen, text_findings, typed_amount, typed_result

__all__ = ["add_bin", "correct_movement", "move", "put_in", "record_in", "take_out", "turn"]

_ACTION = "bins.change"


def record_in(unit: Unit, load: str, bin_id: str, tonnes: float, at: datetime) -> None:
    """Write that a load went into a bin."""
    unit.add(
        Movement(
            key=unit.next_key(Movement, "m"),
            kind="in",
            moved_at=utc_text(at),
            tonnes=tonnes,
            to_bin=bin_id,
            load=load,
        )
    )


def _in_use(view: View) -> list[str]:
    return [b.key for b in view.all(Bin) if b.in_use]


def _held(view: View, bin_id: str) -> float:
    return tonnes_in(layers_after(moves_in_order(view)).get(bin_id, ()))


def _room(view: View, bin_id: str, tonnes: float, field: str, found: list[Finding]) -> None:
    """Note where a bin has not the room: its capacity is a number that somebody typed, so it only asks."""
    row = view.get(Bin, bin_id)
    if row is not None and row.capacity_t is not None:
        room = row.capacity_t - _held(view, bin_id)
        if tonnes > room + 1e-6:
            values: dict[str, Value] = {"bin": bin_id, "tonnes": tonnes, "room_t": max(room, 0.0)}
            found.append(Finding("bin-no-room", Where(field=field), Severity.CHECK, values))


def _lies_there(view: View, bin_id: str, tonnes: float, found: list[Finding]) -> None:
    held = _held(view, bin_id)
    if tonnes > held + 1e-6:
        values: dict[str, Value] = {"bin": bin_id, "tonnes": tonnes, "held_t": held}
        found.append(Finding("bin-holds-less", Where(field="tonnes"), Severity.STOP, values))


def add_bin(records: Records, sent: Sent, name: str, capacity: str, *, person: str, at: datetime) -> Entered:
    """Add a place of keeping; its name is how it is called everywhere."""

    def write(unit: Unit) -> Entered:
        wanted = name.strip()
        found = list(code_findings(wanted, "bin"))
        capacity_t = typed_amount(capacity, "capacity_t", found, name="room") if capacity.strip() else None
        if not found and unit.get(Bin, wanted) is not None:
            found.append(Finding("bin-known", Where(field="bin"), Severity.STOP, {"bin": wanted}))
        if found:
            return not_taken(None, found)
        unit.add(Bin(key=wanted, name=wanted, capacity_t=capacity_t))
        return done(unit, sent, "bin", "", at)

    return enter(records, sent, _ACTION, write, person=person, at=at)


def put_in(
    records: Records,
    sent: Sent,
    typed: tuple[str, str, str, str, str],
    *,
    person: str,
    at: datetime,
) -> Entered:
    """Put a load into a bin, as a layer on top.

    Parameters
    ----------
    records : Records
    sent : Sent
    typed : tuple of str
        Bin, ticket, tonnes; seconds and their standard uncertainty where known.
    person : str
    at : datetime
    """
    bin_text, ticket, tonnes_text, seconds_text, u_text = typed

    def write(unit: Unit) -> Entered:
        found: list[Finding] = []
        into = chosen(bin_text, "bin", _in_use(unit), found)
        load = ticket.strip()
        found += code_findings(load)
        tonnes = typed_amount(tonnes_text, "tonnes", found)
        seconds = typed_result(seconds_text, "seconds", found) if seconds_text.strip() else None
        u_s = typed_number(u_text) if u_text.strip() else None
        if u_text.strip() and u_s is None:
            values = {"text": u_text.strip()[:40], "name": "u"}
            found.append(Finding("entry-no-number", Where(field="u_s"), Severity.STOP, values))
        known = unit.get(Load, load) if not found else None
        if known is not None and known.bin is not None:
            values = {"ticket": load, "bin": known.bin}
            found.append(Finding("load-lies", Where(field="ticket"), Severity.STOP, values))
        if found or into is None or tonnes is None:
            return not_taken(None, found)
        notes: list[Finding] = []
        _room(unit, into, tonnes, "tonnes", notes)
        _keep_load(unit, load, into, tonnes, known, sent.moment(at))
        if seconds is not None:
            keep_facts(unit, load, at, fn_s=seconds.value_s, says=int(seconds.kind), fn_u_s=u_s)
        record_in(unit, load, into, tonnes, sent.moment(at))
        return done(unit, sent, "bin in", load, at, notes)

    return enter(records, sent, _ACTION, write, person=person, at=at)


def _keep_load(unit: Unit, load: str, into: str, tonnes: float, known: Load | None, at: datetime) -> None:
    if known is None:
        unit.add(Load(key=load, received_at=utc_text(at), tonnes=tonnes, bin=into))
        return
    fresh = Load(
        key=load,
        received_at=known.received_at,
        grower=known.grower,
        sample=known.sample,
        tonnes=tonnes,
        bin=into,
        answer=known.answer,
    )
    unit.edit(fresh, made_from=known.version)


def move(
    records: Records, sent: Sent, out_of: str, into: str, tonnes_text: str, *, person: str, at: datetime
) -> Entered:
    """Move grain from one bin into another: the lowest layers first, one layer there."""

    def write(unit: Unit) -> Entered:
        found: list[Finding] = []
        places = _in_use(unit)
        origin = chosen(out_of, "bin", places, found)
        goal = chosen(into, "to", places, found)
        tonnes = typed_amount(tonnes_text, "tonnes", found)
        if origin is not None and origin == goal:
            found.append(Finding("bin-same", Where(field="to"), Severity.STOP, {"bin": origin}))
        if origin is not None and tonnes is not None:
            _lies_there(unit, origin, tonnes, found)
        if found or origin is None or goal is None or tonnes is None:
            return not_taken(None, found)
        notes: list[Finding] = []
        _room(unit, goal, tonnes, "tonnes", notes)
        _write(unit, "move", tonnes, origin, goal, sent.moment(at))
        return done(unit, sent, "bin move", "", at, notes)

    return enter(records, sent, _ACTION, write, person=person, at=at)


def _write(unit: Unit, kind: str, tonnes: float, out_of: str | None, into: str | None, at: datetime) -> None:
    unit.add(
        Movement(
            key=unit.next_key(Movement, "m"),
            kind=kind,
            moved_at=utc_text(at),
            tonnes=tonnes,
            from_bin=out_of,
            to_bin=into,
        )
    )


def turn(records: Records, sent: Sent, bin_text: str, *, person: str, at: datetime) -> Entered:
    """Turn a bin: all of it is one layer from then on."""

    def write(unit: Unit) -> Entered:
        found: list[Finding] = []
        which = chosen(bin_text, "bin", _in_use(unit), found)
        held = 0.0 if which is None else _held(unit, which)
        if which is not None and held <= 0.0:
            found.append(Finding("bin-empty", Where(field="bin"), Severity.STOP, {"bin": which}))
        if found:
            return not_taken(None, found)
        _write(unit, "turn", held, which, which, sent.moment(at))
        return done(unit, sent, "bin turned", "", at)

    return enter(records, sent, _ACTION, write, person=person, at=at)


def take_out(
    records: Records, sent: Sent, bin_text: str, tonnes_text: str, *, person: str, at: datetime
) -> Entered:
    """Take grain out of a bin: loaded out, sold, used."""

    def write(unit: Unit) -> Entered:
        found: list[Finding] = []
        which = chosen(bin_text, "bin", _in_use(unit), found)
        tonnes = typed_amount(tonnes_text, "tonnes", found)
        if which is not None and tonnes is not None:
            _lies_there(unit, which, tonnes, found)
        if found or tonnes is None:
            return not_taken(None, found)
        _write(unit, "out", tonnes, which, None, sent.moment(at))
        return done(unit, sent, "bin out", "", at)

    return enter(records, sent, _ACTION, write, person=person, at=at)


def correct_movement(
    records: Records, sent: Sent, key: str, tonnes_text: str, reason: str, *, person: str, at: datetime
) -> Entered:
    """Put the tonnes of a movement right, with the reason; 0 takes it back. What stood before is kept."""

    def write(unit: Unit) -> Entered:
        found: list[Finding] = []
        tonnes = typed_amount(tonnes_text, "tonnes", found, zero=True)
        why = text_findings(reason, "reason", found, 200)
        if not why:
            found.append(Finding("reason-empty", Where(field="reason"), Severity.STOP))
        row = unit.get(Movement, key.strip())
        if row is None:
            found.append(
                Finding("movement-unknown", Where(field="movement"), Severity.STOP, {"text": key[:40]})
            )
        if found or row is None or tonnes is None:
            return not_taken(None, found)
        fresh = Movement(
            key=row.key,
            kind=row.kind,
            moved_at=row.moved_at,
            tonnes=tonnes,
            from_bin=row.from_bin,
            to_bin=row.to_bin,
            load=row.load,
            sublot=row.sublot,
        )
        unit.edit(fresh, made_from=row.version, reason=why)
        return done(unit, sent, "bin movement", "", at)

    return enter(records, sent, _ACTION, write, person=person, at=at)
