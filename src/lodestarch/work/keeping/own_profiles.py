"""A lab makes its own profile, and signs fields off against its own printed standard."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from lodestarch.common.errors import UnknownName
from lodestarch.common.findings import Finding, Severity
from lodestarch.common.provenance import Provenance
from lodestarch.method.profile import (
    FieldValue,
    Profile,
    ProfileField,
    check_profile,
    profile_to_document,
    revise,
)
from lodestarch.method.profile_fields import FieldSpec, field_spec
from lodestarch.method.signoff import SignOff, SignOffState, sign_off, sign_off_state
from lodestarch.records.engine import Records
from lodestarch.records.unit import View
from lodestarch.work.keeping.profiles import book_of
from lodestarch.work.people.permissions import unit_for

__all__ = ["MadeProfile", "make_profile", "parse_field_value", "sign_field", "sign_offs_of", "state_of"]


@dataclass(frozen=True, slots=True)
class MadeProfile:
    """A lab's profile with what was found in it; ``kept`` is False where a finding stops it."""

    profile: Profile
    findings: tuple[Finding, ...]
    kept: bool


def parse_field_value(key: str, text: str) -> FieldValue:
    """Read a field's value as typed: a number, one of the choices, ``none``, or pairs as ``0:10, 200:8``.

    Raises
    ------
    UnknownName
        When no profile has such a field.
    ValueError
        When the text cannot be a value of its kind.
    """
    spec: FieldSpec = field_spec(key)
    stripped = text.strip()
    if spec.optional and stripped.casefold() in {"", "none"}:
        return None
    if spec.kind == "number":
        return float(stripped.replace(",", "."))
    if spec.kind == "pairs":
        pairs = (part.split(":") for part in stripped.split(",") if part.strip())
        return tuple((float(a), float(b)) for a, b in pairs)
    return stripped


def make_profile(
    records: Records,
    *,
    start_from: str,
    new_id: str,
    title: str | None,
    changes: Mapping[str, FieldValue],
    source: str,
    person: str,
    at: datetime,
) -> MadeProfile:
    """Make a lab's own profile, or the next version of one that it has.

    Parameters
    ----------
    records : Records
    start_from : str
        Name of the profile to start from.
    new_id : str
        Id of the lab's profile; where it exists, the next version is made.
    title : str or None
    changes : mapping
        Values by field.
    source : str
        Where the lab read them: they become *entered by the lab*.
    person : str
    at : datetime

    Raises
    ------
    UnknownName
        When ``start_from`` names none.
    """
    with unit_for(records, person, at, "profile.change") as unit:
        book = book_of(unit)
        parent = book.named(start_from)
        fields = {k: ProfileField(k, v, Provenance.ENTERED_BY_LAB, source) for k, v in changes.items()}
        existing = book.in_force.get(new_id)
        version = existing.version + 1 if existing else 1
        made = revise(parent, fields, new_id=new_id, title=title, version=version)
        found = check_profile(made)
        keep = not any(f.severity is Severity.STOP for f in found)
        if keep:
            unit.save_profile(made.profile_id, str(made.version), profile_to_document(made))
        return MadeProfile(made, found, keep)


def _document(given: SignOff) -> dict[str, Any]:
    value = [list(p) for p in given.value] if isinstance(given.value, tuple) else given.value
    return {
        "profile": given.profile,
        "field": given.field,
        "value": value,
        "standard": given.standard,
        "clause": given.clause,
        "person": given.person,
        "on": given.on.isoformat(),
    }


def _sign_off(document: Mapping[str, Any]) -> SignOff:
    value = document["value"]
    if isinstance(value, list):
        value = tuple((float(a), float(b)) for a, b in value)
    return SignOff(
        document["profile"],
        document["field"],
        float(value) if isinstance(value, int) else value,
        document["standard"],
        document["clause"],
        document["person"],
        date.fromisoformat(document["on"]),
    )


def sign_offs_of(view: View, profile: Profile) -> tuple[SignOff, ...]:
    """Every sign-off given to a profile, of any version."""
    return tuple(_sign_off(d) for d in view.signoffs(profile.profile_id) if isinstance(d, dict))


def state_of(view: View, profile: Profile) -> SignOffState:
    """How far a profile version is confirmed."""
    return sign_off_state(profile, sign_offs_of(view, profile))


def sign_field(
    records: Records,
    *,
    profile: str,
    field: str,
    standard: str,
    clause: str,
    person: str,
    at: datetime,
) -> SignOffState:
    """Confirm one field (or ``all`` that are open) of a profile version; returns where it stands then.

    Raises
    ------
    UnknownName
        When there is no such profile or field.
    """
    with unit_for(records, person, at, "profile.sign-off") as unit:
        chosen = book_of(unit).named(profile)
        state = state_of(unit, chosen)
        fields = state.open if field == "all" else (field,)
        for name in fields:
            if name not in chosen.fields:
                raise UnknownName("profile field", name, tuple(chosen.fields))
            given = sign_off(chosen, name, standard=standard, clause=clause, person=person, on=at.date())
            unit.save_signoff(chosen.profile_id, str(chosen.version), _document(given))
        return state_of(unit, chosen)
