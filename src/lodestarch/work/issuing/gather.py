"""Everything that the records hold of one sample, as a certificate states it."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Final

from lodestarch import __version__
from lodestarch.common.canonical import Json
from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.common.provenance import Provenance
from lodestarch.method.profile import Profile
from lodestarch.method.reading import Kind, State
from lodestarch.records.samples_read import KeptSample
from lodestarch.records.tables import Day, Moisture, Preparation, Release
from lodestarch.records.unit import View
from lodestarch.words.issued.names import CustomerNames, LabNames
from lodestarch.words.issued.statement import (
    CERTIFICATE_FORM,
    Certificate,
    Deviation,
    Drawn,
    Item,
    MethodUsed,
    Released,
    StatedReading,
    StatedResult,
)
from lodestarch.work.bench.sample_named import LONGEST_CODE, no_such_ticket, sample_named
from lodestarch.work.issuing.lab import LabSettings, lab_of
from lodestarch.work.keeping.own_profiles import sign_offs_of, state_of
from lodestarch.work.keeping.profiles import book_of

__all__ = ["Gathered", "gather", "sample_code"]

_STATES: Final = {State.STANDS: "stands", State.RUN_AGAIN: "run-again", State.SET_ASIDE: "set-aside"}
_SAME: Final = ("seconds", "kind", "status", "tubes")
"""What a release and the latest result must share for the release to be what the readings say."""

Row = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Gathered:
    """One sample ready to be certified.

    ``certificate`` lacks number and moment, which only the issue gives.
    """

    certificate: Certificate
    customer: CustomerNames
    lab: LabNames
    party: str | None
    """Key of the customer, where it is a party of the records."""
    release: Release
    settings: LabSettings
    findings: tuple[Finding, ...]


def sample_code(view: View, code: str) -> str | None:
    """The sample that a ticket or code names, received at the bench or by a sheet; ``None`` for nothing."""
    received = sample_named(view, code)
    if received is not None:
        return received.key
    found = view.find(code)
    return found[0].sample if found else None


def _latest(rows: Iterable[Any], sample: str) -> Any:
    mine = [row for row in rows if row.sample == sample]
    return mine[-1] if mine else None


def _text(value: Any) -> str | None:
    """A moment or text as kept; ``None`` for nothing."""
    if value is None:
        return None
    return value.isoformat() if hasattr(value, "isoformat") else (str(value) or None)


def _first(*values: Any) -> Any:
    return next((v for v in values if v is not None and v != ""), None)


def _item(kept: KeptSample, sheet: Row, code: str, result: Row) -> Item:
    row = kept.row
    return Item(
        sample=code,
        ticket=_first(row and row.ticket, sheet.get("ticket"), result.get("ticket")),
        kind=_first(row and row.kind, sheet.get("kind"), "load"),
        material=_first(row and row.material, sheet.get("material")),
        variety=_first(row and row.variety, sheet.get("variety")),
        variety_how=_first(row and row.variety_how, "declared" if sheet.get("variety") else None),
        origin=_first(row and row.origin, sheet.get("origin")),
        harvest_date=_first(row and row.harvest_date, _text(sheet.get("harvest_date"))),
        tonnes=sheet.get("tonnes"),
        mass_g=None if row is None else row.mass_g,
        seal=None if row is None else row.seal,
        condition=None if row is None else row.condition,
        received_at=_first(_text(sheet.get("received_at")), row and row.received_at),
    )


def _drawn(kept: KeptSample) -> Drawn:
    row = kept.row
    return Drawn(None, None, None, None) if row is None else Drawn(
        row.drawn_how, row.drawn_by, row.probes, row.increments
    )  # fmt: skip


def _method(view: View, kept: KeptSample, sheet: Row, result: Row, profile: Profile) -> MethodUsed:
    given = [
        s for s in sign_offs_of(view, profile)
        if s.profile == profile.name and s.value == profile.fields[s.field].value
    ]  # fmt: skip
    ground = _latest(view.of_samples(Preparation, [kept.sample]), kept.sample)
    wet = _latest(view.of_samples(Moisture, [kept.sample]), kept.sample)
    constants = profile.constants
    return MethodUsed(
        profile=profile.name,
        title=profile.title,
        cites=constants.cites,
        standards=tuple(dict.fromkeys(s.standard for s in given)),
        signed_off_on=max((s.on.isoformat() for s in given), default=""),
        invented=all(
            f.provenance is Provenance.INVENTED for f in profile.fields.values() if f.value is not None
        ),
        basis_pct=constants.moisture_basis_pct,
        base_mass_g=constants.base_mass_g,
        tubes=int(constants.tubes),
        correction=str(result["correction"] or "not stated"),
        pressure_hpa=result["pressure_hpa"],
        cleaned_how=ground and ground.cleaned_how,
        dockage_pct=ground and ground.dockage_pct,
        besatz_pct=ground and ground.besatz_pct,
        ground_mass_g=_first(ground and ground.ground_mass_g, sheet.get("ground_mass_g")),
        mill=_first(ground and ground.mill, sheet.get("mill_id")),
        ground_at=_first(ground and ground.ground_at, _text(sheet.get("ground_at"))),
        moisture_pct=_first(wet and wet.moisture_pct, result["moisture_pct"]),
        moisture_method=_first(wet and wet.method, sheet.get("moisture_method")),
        moisture_on=_first(wet and wet.measured_on, sheet.get("moisture_on")),
        moisture_at=_first(wet and wet.measured_at, _text(sheet.get("moisture_at"))),
    )


def _reading(row: Row) -> StatedReading:
    aside = row["set_aside_cause"]
    state = State.SET_ASIDE if aside else State(row["state"] or 0)
    return StatedReading(
        run=row["run"], position=row["position"], seconds=row["seconds"], kind=int(row["kind"] or 0),
        mass_g=row["mass_g"], moisture_pct=row["moisture_pct"], run_at=_text(row["run_at"]),
        state=_STATES[state], cause=aside or (row["state_code"] if state is State.SET_ASIDE else None),
        replaced=not row["stands"],
    )  # fmt: skip


def _result(row: Row, profile: Profile, k: float | None) -> StatedResult:
    u = row["u_s"] if row["kind"] == Kind.EXACT else None
    return StatedResult(
        seconds=row["seconds"], kind=int(row["kind"]), how=str(row["how"] or "mean"), tubes=int(row["tubes"]),
        tubes_stated=row["tubes_stated"] is not False, spread_s=row["spread_s"], limit_s=row["limit_s"],
        agreement=row["agreement"], u_s=u, k=k, expanded_s=None if u is None or k is None else k * u,
        as_is=profile.constants.moisture_basis_pct is not None and row["comparable_key"] == profile.as_is_key,
    )  # fmt: skip


def _count(code: str, rows: list[Any]) -> list[Deviation]:
    return [Deviation(code, len(rows))] if rows else []


def _is_off(row: Row, tolerance_g: float) -> bool:
    """The portion lies outside the method's tolerance."""
    mass_g, wanted_g = row["mass_g"], row["portion_g"]
    return mass_g is not None and wanted_g is not None and abs(mass_g - wanted_g) > tolerance_g + 1e-9


def _deviations(
    readings: tuple[StatedReading, ...],
    rows: list[Row],
    result: StatedResult,
    used: MethodUsed,
    tolerance_g: float,
) -> tuple[Deviation, ...]:
    standing = [r for r in readings if not r.replaced]
    off = [r for r in rows if r["stands"] and r["state"] == State.STANDS and _is_off(r, tolerance_g)]
    found = [
        *_count("set-aside", [r for r in standing if r.state == "set-aside"]),
        *_count("run-again", [r for r in standing if r.state == "run-again"]),
        *_count("corrected", [r for r in readings if r.replaced]),
    ]
    if result.tubes < used.tubes:
        found.append(Deviation("few-tubes", used.tubes, value=float(result.tubes)))
    if result.as_is:
        found.append(Deviation("as-is"))
    elif off:
        found.append(Deviation("portion", len(off)))
    if result.kind != Kind.EXACT:
        found.append(Deviation("floor" if result.kind == Kind.AT_OR_BELOW else "above"))
    if result.agreement == "disagrees":
        found.append(Deviation("disagree"))
    if used.pressure_hpa is None:
        found.append(Deviation("no-pressure"))
    return tuple(found)


def contact_text(personal: Json) -> str:
    """A party's contact on one line."""
    given = personal.get("contact") if isinstance(personal, Mapping) else None
    if isinstance(given, Mapping):
        given = list(given.values())
    if isinstance(given, list | tuple):
        return ", ".join(str(v) for v in given if v)
    return str(given or "")


def _stops(
    view: View, code: str, kept: KeptSample, release: Release | None, result: Row | None
) -> list[Finding]:
    where = Where(sample=code, ticket=kept.row.ticket if kept.row else None)
    if release is None or result is None:
        return [Finding("issue-not-released", where, Severity.STOP)]
    latest = kept.results.row(-1, named=True) if kept.results.height else None
    if latest is not None and latest["status"] == "held":
        return [Finding("issue-held", where, Severity.STOP)]
    if latest is not None and any(latest[k] != result.get(k) for k in _SAME):
        return [Finding("issue-changed-since", where, Severity.STOP)]
    if result["seconds"] is None or not result["tubes"]:
        return [Finding("issue-not-released", where, Severity.STOP)]
    if lab_of(view) is None:
        return [Finding("issue-no-lab", where, Severity.STOP)]
    return []


def _names(
    view: View, kept: KeptSample, sheet: Row, release: Release, person: str
) -> tuple[Any, CustomerNames, LabNames]:
    party = kept.row.whose if kept.row else None
    people, parties = view.names("people"), view.names("parties")
    name = parties.get(party or "") or str(sheet.get("grower") or "")
    contact = contact_text(view.personal("parties", party)) if party and party in parties else ""
    analysts = tuple(dict.fromkeys(a for a in kept.readings["analyst"].to_list() if a))
    lab = LabNames(people.get(release.released_by, release.released_by), people.get(person, person), analysts)
    return party, CustomerNames(name, contact), lab


def gather(
    view: View, code: str, person: str, language: str | None = None
) -> tuple[Gathered | None, tuple[Finding, ...]]:
    """Gather what a certificate of a sample states.

    Parameters
    ----------
    view : View
    code : str
        Ticket or sample.
    person : str
        Key of who issues.
    language : str or None
        Of the paper; the lab's own where left out.

    Returns
    -------
    Gathered or None, tuple of Finding
        ``None`` with ``ticket-unknown``, ``issue-not-released``, ``issue-held``, ``issue-changed-since``,
        ``issue-no-lab`` or ``issue-not-signed-off``.
    """
    sample = sample_code(view, code)
    if sample is None:
        return None, (no_such_ticket(code[:LONGEST_CODE]),)
    kept, release = view.open_sample(sample), view.standing_release(sample)
    result = None if release is None else json.loads(release.result)
    stops = _stops(view, sample, kept, release, result)
    settings = lab_of(view)
    if stops or release is None or result is None or settings is None:
        return None, tuple(stops)
    sheet: Row = kept.sheet_rows.row(-1, named=True) if kept.sheet_rows.height else {}
    profile = book_of(view).named(result["profile"])
    where = Where(ticket=result["ticket"], sample=sample)
    state = state_of(view, profile)
    if not state.complete:
        values: dict[str, Value] = {"profile": profile.name, "count": len(state.open)}
        return None, (Finding("issue-not-signed-off", where, Severity.STOP, values),)
    stated, used = _result(result, profile, settings.lab.k), _method(view, kept, sheet, result, profile)
    rows = sorted(
        kept.readings.iter_rows(named=True), key=lambda r: (str(r["run_at"] or ""), r["run"], r["position"])
    )
    readings = tuple(_reading(r) for r in rows)
    party, customer, names = _names(view, kept, sheet, release, person)
    day = view.get(Day, release.day)
    certificate = Certificate(
        form=CERTIFICATE_FORM, number="", site=view.site, issued_at="", locale=language or settings.language,
        demonstration=bool(day is not None and day.demonstration), software=__version__, lab=settings.lab,
        item=_item(kept, sheet, sample, result), drawn=_drawn(kept), method=used, readings=readings,
        result=stated, conformity=None,
        deviations=_deviations(readings, list(rows), stated, used, profile.constants.mass_tolerance_g),
        released=Released(release.key, release.released_at, release.by_rule), replaces=None, opinion=None,
    )  # fmt: skip
    found = _missing(certificate, customer, where)
    return Gathered(certificate, customer, names, party, release, settings, found), found


def _missing(given: Certificate, customer: CustomerNames, where: Where) -> tuple[Finding, ...]:
    """What the standard asks for and nobody stated: the paper says so, and so does a finding."""
    lacks = {
        "customer": not customer.name, "contact": not customer.contact, "drawn_how": given.drawn.how is None,
        "condition": given.item.condition is None, "received_at": given.item.received_at is None,
    }  # fmt: skip
    missing = [name for name, lack in lacks.items() if lack]
    found = []
    if missing:
        found.append(Finding("issue-not-stated", where, Severity.CHECK, {"fields": ", ".join(missing)}))
    if given.result.k is not None and given.result.expanded_s is None and given.result.kind == Kind.EXACT:
        found.append(Finding("issue-no-u", where, Severity.CHECK))
    return tuple(found)
