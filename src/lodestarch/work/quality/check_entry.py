"""A check sample at the bench: taken up like a ticket, or entered with its readings in one line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.records.engine import Records
from lodestarch.records.log import utc_text
from lodestarch.records.tables import Preparation, Sample
from lodestarch.records.unit import Unit
from lodestarch.sheets.typed import read_typed
from lodestarch.work.bench.choices import baths_of, profile_of_bench
from lodestarch.work.bench.entered import Entered, Sent, done, not_taken
from lodestarch.work.bench.entry import enter
from lodestarch.work.bench.preparing import MoistureTyped, write_moisture
from lodestarch.work.bench.reading_in import ReadingsTyped, seconds_findings, write_readings
from lodestarch.work.keeping.profiles import book_of
from lodestarch.work.quality.control_records import KeptMaterial, equipment_named, kept_materials
from lodestarch.work.quality.entry_parts import one_of, stopped, too_long

__all__ = ["CheckTyped", "run_check"]


@dataclass(frozen=True, slots=True)
class CheckTyped:
    """A check sample as typed; without seconds it waits at the bench like any ticket."""

    material: str
    bath: str = ""
    mill: str = ""
    moisture_pct: str = ""
    seconds: tuple[str, ...] = ()


def _read(
    typed: CheckTyped, materials: Sequence[KeptMaterial], baths: Sequence[str], at: datetime
) -> tuple[KeptMaterial | None, dict[str, str], list[Finding]]:
    wanted = typed.material.strip().casefold()
    material = next((m for m in materials if m.key.casefold() == wanted), None)
    found: list[Finding] = []
    if material is None:
        found.append(stopped("material-unknown", "material", text=typed.material[:40]))
    seconds = {str(n): text for n, text in enumerate(typed.seconds, start=1) if text.strip()}
    if seconds:
        found += seconds_findings(seconds, None)[1]
        # A check without a bath speaks for nobody in particular.
        found += one_of("bath", typed.bath.strip(), tuple(baths))
    if typed.moisture_pct.strip():
        found += read_typed("moisture_pct", typed.moisture_pct, Where())[1]
    found += too_long(mill=typed.mill)
    if material is not None and material.expired(at.date()) and material.expires_on is not None:
        values: dict[str, Value] = {"material": material.key, "expires_on": material.expires_on.isoformat()}
        found.append(Finding("material-expired", Where(field="material"), Severity.CHECK, values))
    return material, seconds, found


def _named(unit: Unit, material: str, at: datetime) -> str:
    """The next free name of a check sample: material, day, number."""
    number = 1
    while unit.get(Sample, code := f"{material}-{at:%m%d}-{number}") is not None or unit.find(code):
        number += 1
    return code


def run_check(records: Records, sent: Sent, typed: CheckTyped, *, person: str, at: datetime) -> Entered:
    """Take up a check sample; with seconds it is read and judged at once.

    Returns
    -------
    Entered
        Names the sample. Not taken for a material that is not registered, a bath that the bench does not
        have, or seconds that cannot be read.
    """

    def write(unit: Unit) -> Entered:
        moment = sent.moment(at)
        material, seconds, found = _read(typed, kept_materials(unit), baths_of(unit), moment)
        if material is None or any(f.severity is Severity.STOP for f in found):
            return not_taken(None, found)
        code = _named(unit, material.key, moment)
        sample = Sample(
            key=code, ticket=code, kind="check", received_at=utc_text(moment), material=material.key
        )
        unit.add(sample)
        if typed.mill.strip():
            mill = equipment_named(unit, "mill", typed.mill)
            unit.add(
                Preparation(
                    key=f"{code}/1", sample=code, cleaned_how="as is", mill=mill, ground_at=utc_text(moment)
                )
            )
        if typed.moisture_pct.strip():
            profile = profile_of_bench(unit, book_of(unit))
            found += write_moisture(unit, sample, MoistureTyped(typed.moisture_pct), profile, moment)[1]
        if seconds:
            read = seconds_findings(seconds, code)[0]
            said = ReadingsTyped(seconds, bath=typed.bath)
            found += write_readings(unit, sample, said, read, moment)
        return done(unit, sent, "check sample", code, at, found)

    return enter(records, sent, "control.record", write, person=person, at=at)
