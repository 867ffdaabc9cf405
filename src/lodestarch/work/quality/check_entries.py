"""Check materials, the plan for running them, causes of failed ones, and blind duplicates, as entered."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Final

from lodestarch.common.canonical import Json, canonical_text
from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.records.engine import Records
from lodestarch.records.log import utc_text
from lodestarch.records.tables import CheckCause, CheckMaterial, Sample, SampleParent, Setting
from lodestarch.records.unit import Unit
from lodestarch.sheets.typed import read_typed, typed_number
from lodestarch.work.bench.entered import Entered, Sent, done, not_taken
from lodestarch.work.bench.entry import enter_for
from lodestarch.work.bench.sample_named import code_findings, sample_named
from lodestarch.work.quality.control_records import GRAINS, PLAN
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

__all__ = [
    "BLIND", "CauseTyped", "MaterialTyped", "PlanTyped", "add_blind", "find_cause", "register_material",
    "set_plan",
]  # fmt: skip

BLIND: Final = "blind duplicate"
"""Why a blind duplicate was split off, as its link to its parent says."""


@dataclass(frozen=True, slots=True)
class MaterialTyped:
    """A check material as typed; the same name again changes it."""

    name: str
    lot: str
    form: str
    target_s: str
    u_s: str
    source: str
    expires_on: str = ""


@dataclass(frozen=True, slots=True)
class CauseTyped:
    """The cause found for a failed check sample."""

    check: str
    cause: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class PlanTyped:
    """When check samples are due and when shifts begin."""

    every_runs: str
    shift_starts: str


def register_material(
    records: Records, sent: Sent, typed: MaterialTyped, *, person: str, at: datetime
) -> Entered:
    """Register a check material, or change one: lot, target, spread, date.

    Returns
    -------
    Entered
        Not taken without a lot, a form, a source of the target, or with a target, spread or date that cannot
        be.
    """

    def write(unit: Unit) -> list[Finding]:
        name, lot = typed.name.strip(), typed.lot.strip()
        found = list(code_findings(name, "name"))
        found += one_of("form", typed.form, tuple(GRAINS))
        target, faults = read_typed("seconds", typed.target_s, Where(field="target_s"))
        found += at_field("target_s", faults)
        u_s = typed_number(typed.u_s)
        if u_s is None or not u_s > 0.0:
            found.append(stopped("material-spread", "u_s", text=typed.u_s[:40]))
        elif target is not None and u_s > 0.2 * target:
            found.append(stopped("material-spread-wide", "u_s", u_s=u_s, target_s=target))
        found += [
            stopped("control-empty", f) for f in ("lot", "source") if not getattr(typed, f).strip()
        ]  # fmt: skip
        expires, faulty = _date(typed.expires_on)
        found += faulty + too_long(lot=lot, source=typed.source)
        if found or target is None:
            return found
        row = CheckMaterial(
            key=name, lot=lot, form=typed.form, level_s=target, level_source=typed.source.strip(),
            provenance=OWN, u_s=u_s, expires_on=expires.isoformat() if expires else None,
        )  # fmt: skip
        known = unit.get(CheckMaterial, name)
        if known is None:
            unit.add(row)
        else:
            unit.edit(row, made_from=known.version)
        if expires is not None and expires < at.date():
            values: dict[str, Value] = {"material": name, "expires_on": expires.isoformat()}
            return [Finding("material-expired", Where(field="expires_on"), Severity.CHECK, values)]
        return []

    return take_entry(records, sent, "control.decide", "check material", write, person, at)


def _date(text: str) -> tuple[date | None, list[Finding]]:
    if not text.strip():
        return None, []
    try:
        return date.fromisoformat(text.strip()), []
    except ValueError:
        return None, [stopped("control-date", "expires_on", text=text[:40])]


def find_cause(
    records: Records, sent: Sent, typed: CauseTyped, failed: tuple[str, ...], *, person: str, at: datetime
) -> Entered:
    """Lift the hold of a failed check sample, with the cause that was found.

    Parameters
    ----------
    failed : tuple of str
        Samples of the checks that were off and have no cause, as :func:`.bench_control.failed_checks` finds
        them.

    Returns
    -------
    Entered
        Not taken without a cause (``hold-cause-empty``), or for a check that is not among them
        (``check-not-off``).
    """

    def write(unit: Unit) -> list[Finding]:
        check, cause = typed.check.strip(), typed.cause.strip()
        found: list[Finding] = []
        if len(cause) < 4:
            found.append(stopped("hold-cause-empty", "cause"))
        if check not in failed:
            found.append(stopped("check-not-off", "check", text=check[:40]))
        found += too_long(cause=cause, note=typed.note)
        if found:
            return found
        row = CheckCause(
            key=check, cause=cause, decided_at=utc_text(sent.moment(at)), decided_by=unit.person,
            note=typed.note.strip() or None,
        )  # fmt: skip
        unit.add(row, reason=cause)
        return []

    return take_entry(records, sent, "control.decide", "cause of a failed check", write, person, at)


def set_plan(records: Records, sent: Sent, typed: PlanTyped, *, person: str, at: datetime) -> Entered:
    """Keep after how many runs a check sample is due, and when shifts begin."""

    def write(unit: Unit) -> list[Finding]:
        found: list[Finding] = []
        runs = typed_count(typed.every_runs or "-", "every_runs", found)
        starts = []
        for text in (t.strip() for t in typed.shift_starts.split(",")):
            clock = CLOCK.match(text)
            if clock is None:
                found.append(stopped("control-clock", "shift_starts", text=text[:40]))
            else:
                starts.append(time(int(clock[1]), int(clock[2])))
        if found or runs is None:
            return found
        clocks: list[Json] = [f"{t:%H:%M}" for t in sorted(set(starts))]
        value = canonical_text({"every_runs": round(runs), "shift_starts": clocks})
        row, known = Setting(key=PLAN, value=value), unit.get(Setting, PLAN)
        if known is None:
            unit.add(row)
        elif known.value != row.value:
            unit.edit(row, made_from=known.version)
        return []

    return take_entry(records, sent, "control.decide", "check plan", write, person, at)


def add_blind(records: Records, sent: Sent, code: str, ticket: str, *, person: str, at: datetime) -> Entered:
    """Split a blind duplicate off a sample under a ticket of its own, for whoever is to be signed off."""

    def write(unit: Unit, parent: Sample) -> Entered:
        name = ticket.strip()
        found = list(code_findings(name, "blind"))
        if not found and (sample_named(unit, name) is not None or unit.find(name)):
            found.append(stopped("ticket-known", "blind", code=name))
        if found:
            return not_taken(parent.key, found)
        unit.add(
            Sample(
                key=name, ticket=name, kind="split", received_at=utc_text(sent.moment(at)),
                material=parent.material,
            )
        )  # fmt: skip
        unit.add(SampleParent(key=f"{name}/1", sample=name, parent=parent.key, how="split", reason=BLIND))
        return done(unit, sent, "blind duplicate", name, at)

    return enter_for(records, sent, code, "control.decide", write, person=person, at=at)
