"""Sign-off: the lab holds each field of a profile against its own printed standard, once.

A profile with recalled fields works for everything but certificates. Once every field is confirmed, the
certificate cites the standard.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from lodestarch.common.errors import UnknownName
from lodestarch.method.profile import FieldValue, Profile

__all__ = ["SignOff", "SignOffState", "sign_off", "sign_off_state"]


@dataclass(frozen=True, slots=True)
class SignOff:
    """One field confirmed: who looked, when, in which standard and clause, and the value seen."""

    profile: str
    field: str
    value: FieldValue
    standard: str
    clause: str
    person: str
    on: date


@dataclass(frozen=True, slots=True)
class SignOffState:
    """How far a profile version is confirmed."""

    profile: str
    confirmed: tuple[str, ...]
    open: tuple[str, ...]
    stale: tuple[str, ...]
    """Fields whose sign-off was given to another value: they are open again."""

    @property
    def complete(self) -> bool:
        """True when nothing is open."""
        return not self.open


def sign_off(profile: Profile, field: str, *, standard: str, clause: str, person: str, on: date) -> SignOff:
    """Confirm one field of a profile version.

    Raises
    ------
    UnknownName
        When the profile has no such field.
    ValueError
        When standard or person is blank: a sign-off without them confirms nothing.
    """
    if field not in profile.fields:
        raise UnknownName("profile field", field, tuple(profile.fields))
    if not standard.strip() or not person.strip():
        raise ValueError("a sign-off names the printed standard and the person")
    value = profile.fields[field].value
    return SignOff(profile.name, field, value, standard.strip(), clause.strip(), person.strip(), on)


def sign_off_state(profile: Profile, given: Iterable[SignOff]) -> SignOffState:
    """Say which fields of a profile version are confirmed, and which are open.

    A sign-off counts for the version and the value it was given to, and for no other. Fields without a value
    (rules that are off) need none.
    """
    mine = [s for s in given if s.profile == profile.name]
    needed = [key for key, item in profile.fields.items() if item.value is not None]
    good = {s.field for s in mine if profile.fields[s.field].value == s.value}
    stale = {s.field for s in mine} - good
    return SignOffState(
        profile.name,
        tuple(k for k in needed if k in good),
        tuple(k for k in needed if k not in good),
        tuple(k for k in needed if k in stale),
    )
