"""What the records hold for control: materials, causes, upkeep, ticks, and the lab's choices."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, tzinfo
from typing import Any, Final

from lodestarch.control.bench_rules import CheckMaterial
from lodestarch.control.bench_state import Grain
from lodestarch.control.upkeep import CheckPlan
from lodestarch.control.upkeep_items import SHIFT_STARTS, UPKEEP_ITEMS, ShiftTick
from lodestarch.records import tables
from lodestarch.records.unit import Unit, View

__all__ = [
    "GRAINS",
    "PLAN",
    "ControlChoices",
    "Interval",
    "KeptCause",
    "KeptMaterial",
    "KeptUpkeep",
    "causes_of",
    "control_choices",
    "equipment_named",
    "intervals_of",
    "kept_causes",
    "kept_materials",
    "known_materials",
    "on_bench_clock",
    "ticks_of",
    "upkeep_of",
]

PLAN: Final = "check-plan"
"""Key of the setting that says when check samples are due and when shifts begin."""
GRAINS: Final[Mapping[str, Grain]] = {"whole grain": "whole", "meal": "meal"}
"""Forms of a material as the records write them."""


@dataclass(frozen=True, slots=True)
class KeptMaterial:
    """A check material of the lab.

    Parameters
    ----------
    key, lot : str
    grain : str
        ``whole`` or ``meal``.
    target_s : float
    u_s : float or None
        Of one result on it here. [s]
    source, provenance : str
        Of the target.
    expires_on : date or None
    """

    key: str
    lot: str
    grain: Grain
    target_s: float
    u_s: float | None
    source: str
    provenance: str
    expires_on: date | None

    def expired(self, on: date) -> bool:
        """Tell whether it is past its date."""
        return self.expires_on is not None and self.expires_on < on


@dataclass(frozen=True, slots=True)
class KeptUpkeep:
    """Something done to the bench, on the bench's clock."""

    item: str
    at: datetime
    by: str
    changes_results: bool
    place: str
    note: str


@dataclass(frozen=True, slots=True)
class Interval:
    """How often an item is due, and who says so."""

    item: str
    every_days: float | None
    every_runs: int | None
    source: str
    provenance: str


@dataclass(frozen=True, slots=True)
class ControlChoices:
    """When check samples are due and when shifts begin; ``entered``: the lab said so."""

    plan: CheckPlan
    starts: tuple[time, ...]
    entered: bool


def on_bench_clock(text: str, zone: tzinfo | None) -> datetime:
    """Return a kept moment as the clock at the bench shows it: without zone, as sheets have it."""
    at = datetime.fromisoformat(text)
    return at.replace(tzinfo=None) if at.tzinfo is None else at.astimezone(zone).replace(tzinfo=None)


def kept_materials(view: View) -> tuple[KeptMaterial, ...]:
    """Every check material, in order of its name."""
    return tuple(
        KeptMaterial(
            row.key,
            row.lot,
            GRAINS[row.form],
            row.level_s,
            row.u_s,
            row.level_source,
            row.provenance,
            date.fromisoformat(row.expires_on) if row.expires_on else None,
        )
        for row in view.all(tables.CheckMaterial)
    )


def known_materials(view: View) -> tuple[CheckMaterial, ...]:
    """Check materials with a spread, as the rules take them."""
    return tuple(
        CheckMaterial(m.key, m.key, m.target_s, m.u_s) for m in kept_materials(view) if m.u_s is not None
    )


def causes_of(view: View) -> dict[str, str]:
    """Causes recorded for failed checks, by sample."""
    return {row.key: row.cause for row in view.all(tables.CheckCause)}


@dataclass(frozen=True, slots=True)
class KeptCause:
    """The cause recorded for a failed check, on the bench's clock."""

    check: str
    cause: str
    at: datetime
    by: str
    note: str


def kept_causes(view: View, zone: tzinfo | None) -> tuple[KeptCause, ...]:
    """Causes with who recorded them and when, oldest first."""
    names = view.names("people")
    found = [
        KeptCause(
            row.key,
            row.cause,
            on_bench_clock(row.decided_at, zone),
            names.get(row.decided_by, ""),
            row.note or "",
        )
        for row in view.all(tables.CheckCause)
    ]
    return tuple(sorted(found, key=lambda c: c.at))


def upkeep_of(view: View, zone: tzinfo | None) -> tuple[KeptUpkeep, ...]:
    """Everything done to the bench, oldest first."""
    names = view.names("people")
    found = [
        KeptUpkeep(
            row.item,
            on_bench_clock(row.done_at, zone),
            names.get(row.done_by, ""),
            row.changes_results,
            row.place or "",
            row.note or "",
        )
        for row in view.all(tables.UpkeepDone)
    ]
    return tuple(sorted(found, key=lambda e: e.at))


def intervals_of(view: View) -> tuple[Interval, ...]:
    """Intervals in force: the lab's own, and the usual ones for the rest."""
    own = {row.key: row for row in view.all(tables.UpkeepInterval)}
    return tuple(
        Interval(o.key, o.every_days, o.every_runs, o.source, o.provenance)
        if (o := own.get(usual.item)) is not None
        else Interval(usual.item, usual.every_days, usual.every_runs, "", usual.provenance.value)
        for usual in UPKEEP_ITEMS
    )


def ticks_of(view: View, zone: tzinfo | None) -> tuple[ShiftTick, ...]:
    """Every tick of the list at the start of a shift."""
    names = view.names("people")
    out = []
    for row in view.all(tables.ShiftCheck):
        at, by = on_bench_clock(row.checked_at, zone), names.get(row.checked_by, "")
        said: list[dict[str, Any]] = json.loads(row.items)
        out += [
            ShiftTick(one["item"], at, by, one["held"], one.get("value"), one.get("note", "")) for one in said
        ]
    return tuple(out)


def control_choices(view: View) -> ControlChoices:
    """Return when checks are due and shifts begin: as chosen, or as is common practice."""
    row = view.get(tables.Setting, PLAN)
    if row is None:
        return ControlChoices(CheckPlan(), SHIFT_STARTS, entered=False)
    said = json.loads(row.value)
    starts = tuple(time.fromisoformat(t) for t in said["shift_starts"])
    return ControlChoices(CheckPlan(every_runs=said["every_runs"]), starts, entered=True)


def equipment_named(unit: Unit, kind: str, name: str) -> str:
    """Return the key of a piece of equipment by its name, added where it is not known yet."""
    wanted = name.strip()
    for row in unit.all(tables.Equipment, kind=kind):
        if row.name.casefold() == wanted.casefold():
            return row.key
    key = unit.next_key(tables.Equipment, "e")
    unit.add(tables.Equipment(key=key, kind=kind, name=wanted))
    return key
