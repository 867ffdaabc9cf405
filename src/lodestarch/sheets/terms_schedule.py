"""A schedule of a terms file, with its gaps, overlaps, wrong order and mixed units named by part and band."""

from __future__ import annotations

import math
from typing import Literal

from lodestarch.common.findings import Value
from lodestarch.sheets.terms_entry import Entry, Reporter
from lodestarch.sheets.terms_keys import BAND, PARTS, SCHEDULE, SHARE
from lodestarch.trade.factors import FACTORS, Factor
from lodestarch.trade.money_unit import BY_MASS, MoneyUnit, parse_money_unit
from lodestarch.trade.schedule import (
    Action,
    Band,
    Cliff,
    Part,
    Premium,
    Schedule,
    Side,
    Slope,
    Steps,
    Table,
    Window,
)
from lodestarch.trade.schedule_check import schedule_troubles

__all__ = ["read_schedule"]


def read_schedule(raw: dict[str, object], label: str, report: Reporter) -> Schedule | None:
    """Return a schedule, or ``None`` with findings that say what in it could not be read.

    Parameters
    ----------
    raw : dict
        One ``[[schedule]]``.
    label : str
        Its id, or its number in the file where it has none.
    report : Reporter
    """
    entry = Entry(report, "schedule", label).read(raw, SCHEDULE)
    unit = _unit(entry)
    factor = FACTORS.get(entry.text("factor") or "")
    entry.period("valid_from", "valid_to")
    if entry.sound and not entry.tables("part"):
        entry.refuse("terms-key-missing", "part")
    if factor is None or not entry.sound:
        return None
    parts = [
        _part(part, Entry(report, "schedule", label, f"part[{i}]."), factor, str(entry.text("unit")))
        for i, part in enumerate(entry.tables("part"), 1)
    ]
    entry.sound &= None not in parts
    boundary = entry.text("on_boundary")
    schedule = Schedule(
        id=label,
        name=entry.text("name") or label,
        factor=factor.key,
        unit=unit,
        on_boundary=_boundary(boundary),
        stated_to=entry.number("stated_to") or 0.0,
        parts=tuple(p for p in parts if p is not None),
        valid_from=entry.day("valid_from"),
        valid_to=entry.day("valid_to"),
        provenance=entry.provenance(),
    )
    if entry.sound:
        _fitting(schedule, entry, factor)
    if boundary is None and entry.sound and any(not isinstance(p, Slope) for p in schedule.parts):
        entry.note("terms-schedule-boundary")
    return schedule if entry.sound else None


def _boundary(text: str | None) -> Literal["better", "worse"] | None:
    if text is None:
        return None
    return "better" if text == "better" else "worse"


def _unit(entry: Entry) -> MoneyUnit | None:
    """The schedule's unit; ``None`` for shares."""
    text = entry.text("unit")
    if text is None or text == SHARE:
        return None
    currency = entry.report.currency
    unit = parse_money_unit(text, currency)
    if unit is None or unit.per not in BY_MASS:
        listed = ", ".join((*(f"{currency}/{p}" for p in BY_MASS), "ct/bu", SHARE))
        entry.refuse("terms-unit-unknown", "unit", value=text, choices=listed)
    elif unit.currency != currency:
        entry.refuse("terms-units-mixed", "unit", value=text, expected=currency)
    return unit


def _fitting(schedule: Schedule, entry: Entry, factor: Factor) -> None:
    for t in schedule_troubles(schedule):
        if t.kind == "open":
            entry.note("terms-schedule-open", part=t.part, at=t.low, unit=factor.unit)
            continue
        ends: dict[str, Value] = {"low": _finite(t.low), "high": _finite(t.high), "unit": factor.unit}
        if t.kind == "sequence":
            entry.refuse("terms-schedule-sequence", part=t.part, other=t.other)
        elif t.kind == "order":
            entry.refuse("terms-schedule-order", None, part=t.part, **ends)
        else:
            code = "terms-schedule-gap" if t.kind == "gap" else "terms-schedule-overlap"
            entry.refuse(code, None, part=t.part, other=t.other, **ends)


def _finite(value: float) -> float | None:
    """An end as a number; none where it is open."""
    return value if math.isfinite(value) else None


def _part(raw: dict[str, object], entry: Entry, factor: Factor, unit: str) -> Part | None:
    shape = raw.get("shape")
    if not isinstance(shape, str) or shape not in PARTS:
        code = "terms-key-missing" if shape is None else "terms-not-in-list"
        values = {} if shape is None else {"value": str(shape), "choices": ", ".join(PARTS)}
        entry.refuse(code, "shape", **values)
        return None
    entry.read(raw, PARTS[shape])
    _same_unit(entry, unit)
    entry.within(factor, ("below", "above", "down_to", "up_to", "at_least", "at_most"))
    if shape == "table":
        return _table(entry, factor, unit)
    if shape == "window":
        return _window(entry)
    return _run(shape, entry)


def _same_unit(entry: Entry, unit: str) -> None:
    """A part or band may repeat the schedule's unit, and must not carry another."""
    stated = entry.text("unit")
    if stated is not None and stated != unit:
        entry.refuse("terms-units-mixed", "unit", value=stated, expected=unit)


def _action(entry: Entry) -> Action | None:
    """The action, with the amount that it needs and no other."""
    text = entry.text("action")
    if text is None:
        return None
    needed = {"discount": "discount", "price": "price"}.get(text)
    if needed is not None:
        entry.needs(needed)
    for other in ("discount", "price"):
        if other != needed and entry.number(other) is not None:
            entry.note("terms-key-unknown", other)
    return Action(text)


def _window(entry: Entry) -> Window | None:
    action = _action(entry)
    low, high = entry.number("at_least"), entry.number("at_most")
    if action is None or low is None or high is None or not entry.sound:
        return None
    price = entry.number("price") if action is Action.PRICE else None
    return Window(low, high, action, entry.number("discount") if action is Action.DISCOUNT else None, price)


def _run(shape: str, entry: Entry) -> Part | None:
    """A part that runs down or up from a start."""
    key = entry.one_of("below", "above")
    action = _action(entry) if shape == "cliff" else None
    if shape == "premium":
        entry.one_of("step", "per", required=False)
    if key is None:
        return None
    side = Side(key)
    ends, wrong = ("down_to", "up_to") if side is Side.BELOW else ("up_to", "down_to")
    if wrong in entry.values:
        entry.refuse("terms-one-of", f"{key} / {wrong}", count=2)
    start = entry.number(key)
    if start is None or not entry.sound:
        return None
    if action is not None:
        flat = entry.number("discount") if action is Action.DISCOUNT else None
        return Cliff(start, side, action, flat, entry.number("price") if action is Action.PRICE else None)
    return _moving(shape, entry, start, side, entry.number(ends))


def _moving(shape: str, entry: Entry, start: float, side: Side, end: float | None) -> Part | None:
    """A part whose amount grows with the distance from its start; its needed keys have been checked."""
    most, started = entry.number("most"), entry.flag("started", default=True)
    amount = entry.number("premium" if shape == "premium" else "discount")
    step, per = entry.number("step"), entry.number("per")
    if amount is None:
        return None
    if shape == "premium":
        return Premium(start, side, amount, step, per, end, most, started)
    if shape == "slope" or step is None:
        return Slope(start, side, amount, per or 1.0, end, most)
    return Steps(start, side, step, amount, end, most, started)


def _table(entry: Entry, factor: Factor, unit: str) -> Table | None:
    bands = []
    raw_bands = entry.tables("bands")
    if entry.sound and not raw_bands:
        entry.refuse("terms-key-missing", "bands")
    for i, raw in enumerate(raw_bands, 1):
        band = Entry(entry.report, entry.table, entry.id, f"{entry.prefix}bands[{i}].").read(raw, BAND)
        _same_unit(band, unit)
        band.within(factor, ("from", "to"))
        band.one_of("discount", "premium", "action")
        entry.sound &= band.sound
        bands.append(
            Band(band.number("from"), band.number("to"), band.number("discount"), band.number("premium"))
        )
    return Table(tuple(bands)) if entry.sound else None
