"""Cleaned and ground; the moisture measured; the portion weighed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.method.portion import moisture_findings, portion
from lodestarch.method.profile import Profile
from lodestarch.records.engine import Records
from lodestarch.records.log import utc_text
from lodestarch.records.tables import Moisture, PortionWeighed, Preparation, Sample
from lodestarch.records.unit import Unit
from lodestarch.sheets.typed import read_typed
from lodestarch.work.bench.choices import profile_of_bench
from lodestarch.work.bench.entered import Entered, Sent, done, not_taken
from lodestarch.work.bench.entry import enter_for
from lodestarch.work.keeping.profiles import book_of

__all__ = ["MOISTURE_METHODS", "Ground", "MoistureTyped", "grind", "measure", "weigh", "write_moisture"]

MOISTURE_METHODS = ("meter", "nir", "oven", "other")
_POSITIONS = 8
"""Tubes of one run that can be weighed ahead. A setting of ours."""


@dataclass(frozen=True, slots=True)
class Ground:
    """Cleaning and grinding, as typed."""

    cleaned_how: str = "as is"
    ground_mass_g: str = ""
    mill: str = ""


@dataclass(frozen=True, slots=True)
class MoistureTyped:
    """A moisture as typed."""

    moisture_pct: str
    method: str = "meter"
    measured_on: str = "meal"
    reason: str = ""


def grind(records: Records, sent: Sent, code: str, typed: Ground, *, person: str, at: datetime) -> Entered:
    """Note that a sample is cleaned and ground."""

    def write(unit: Unit, sample: Sample) -> Entered:
        mass, found = None, list[Finding]()
        if typed.ground_mass_g.strip():
            mass, faults = read_typed("ground_mass_g", typed.ground_mass_g, Where(sample=sample.key))
            found.extend(faults)
        if found:
            return not_taken(sample.key, found)
        kept = unit.of_samples(Preparation, [sample.key])
        unit.add(
            Preparation(
                key=f"{sample.key}/{len(kept) + 1}",
                sample=sample.key,
                cleaned_how=typed.cleaned_how.strip() or "as is",
                ground_mass_g=mass,
                ground_at=utc_text(sent.moment(at)),
            )
        )
        return done(unit, sent, "ground", sample.key, at)

    return enter_for(records, sent, code, "reading.record", write, person=person, at=at)


def write_moisture(
    unit: Unit, sample: Sample, typed: MoistureTyped, profile: Profile, at: datetime
) -> tuple[float | None, tuple[Finding, ...]]:
    """Write a moisture, or say why it cannot be one; one beyond the method is kept and told."""
    where = Where(ticket=sample.ticket, sample=sample.key, field="moisture_pct")
    value, found = read_typed("moisture_pct", typed.moisture_pct, where)
    choices = (
        ("method", typed.method, MOISTURE_METHODS),
        ("measured_on", typed.measured_on, ("grain", "meal")),
    )
    for field, given, allowed in choices:
        if given not in allowed:
            values = {"text": given[:40], "choices": ", ".join(allowed)}
            found = (*found, Finding("entry-no-choice", Where(field=field), Severity.STOP, values))
    if value is None or found:
        return None, found
    kept = unit.of_samples(Moisture, [sample.key])
    unit.add(
        Moisture(
            key=f"{sample.key}/{len(kept) + 1}",
            sample=sample.key,
            moisture_pct=value,
            as_entered=typed.moisture_pct.strip(),
            method=typed.method,
            measured_on=typed.measured_on,
            measured_at=utc_text(at),
        ),
        reason=typed.reason.strip() or None,
    )
    return value, moisture_findings(value, profile, where)


def measure(
    records: Records, sent: Sent, code: str, typed: MoistureTyped, *, person: str, at: datetime
) -> Entered:
    """Record a moisture; the portion follows from it.

    Returns
    -------
    Entered
        Taken with the finding ``moisture-above-method`` (or below) where the method has no portion for it.
    """

    def write(unit: Unit, sample: Sample) -> Entered:
        profile = profile_of_bench(unit, book_of(unit))
        value, found = write_moisture(unit, sample, typed, profile, sent.moment(at))
        if value is None:
            return not_taken(sample.key, found)
        return done(unit, sent, "moisture", sample.key, at, found)

    return enter_for(records, sent, code, "reading.record", write, person=person, at=at)


def _wanted_g(unit: Unit, sample: str, profile: Profile) -> tuple[float, float, float] | None:
    """Mass and band for the latest moisture; nothing where there is none, or none that the method covers."""
    kept = unit.of_samples(Moisture, [sample])
    if not kept or moisture_findings(kept[-1].moisture_pct, profile, Where()):
        return None
    wanted = portion(kept[-1].moisture_pct, profile)
    return wanted.mass_g, wanted.low_g, wanted.high_g


def weigh(
    records: Records, sent: Sent, code: str, position: str, mass: str, *, person: str, at: datetime
) -> Entered:
    """Record the portion weighed into one tube; one outside the band is kept and told at once."""

    def write(unit: Unit, sample: Sample) -> Entered:
        where = Where(ticket=sample.ticket, sample=sample.key, position=position, field="mass_g")
        value, found = read_typed("mass_g", mass, where)
        if position not in {str(n) for n in range(1, _POSITIONS + 1)}:
            values = {"text": position[:40], "choices": f"1 to {_POSITIONS}"}
            found = (*found, Finding("entry-no-choice", Where(field="position"), Severity.STOP, values))
        if value is None or found:
            return not_taken(sample.key, found)
        wanted = _wanted_g(unit, sample.key, profile_of_bench(unit, book_of(unit)))
        if wanted is not None and not wanted[1] <= value <= wanted[2]:
            band: dict[str, Value] = {
                "mass_g": value, "wanted_g": wanted[0], "low_g": wanted[1], "high_g": wanted[2]
            }  # fmt: skip
            found = (Finding("portion-outside-band", where, Severity.CHECK, band),)
        _put_portion(unit, sample.key, position, value, mass, wanted, sent.moment(at))
        return done(unit, sent, "weighed", sample.key, at, found)

    return enter_for(records, sent, code, "reading.record", write, person=person, at=at)


def _put_portion(
    unit: Unit,
    sample: str,
    position: str,
    mass_g: float,
    as_entered: str,
    wanted: tuple[float, float, float] | None,
    at: datetime,
) -> None:
    kept = unit.of_samples(PortionWeighed, [sample])
    waiting = next((p for p in kept if p.position == position and p.used_in is None), None)
    row = PortionWeighed(
        key=waiting.key if waiting else f"{sample}/{len(kept) + 1}",
        sample=sample,
        position=position,
        mass_g=mass_g,
        as_entered=as_entered.strip(),
        weighed_at=utc_text(at),
        wanted_g=wanted[0] if wanted else None,
    )
    if waiting is None:
        unit.add(row)
    else:
        # A tube that is not lowered yet is weighed anew: that tells no result another way.
        unit.edit(row, made_from=waiting.version, reason="weighed anew")
