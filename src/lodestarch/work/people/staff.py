"""People who work here: added by the keeper, with roles and a password."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.records.accounts import LoginRefused, PasswordRefused
from lodestarch.records.engine import Records
from lodestarch.records.people import ALL_ROLES
from lodestarch.records.tables import Person
from lodestarch.work.people.permissions import unit_for

__all__ = ["StaffMember", "add_staff", "set_password_of", "staff"]


@dataclass(frozen=True, slots=True)
class StaffMember:
    """One person who works here."""

    key: str
    name: str
    roles: tuple[str, ...]
    has_password: bool
    active: bool


def staff(records: Records) -> tuple[StaffMember, ...]:
    """Return everybody, by name."""
    with records.view() as view:
        names = view.names("people")
        found = [
            StaffMember(p.key, names[p.key], tuple(p.roles.split()), view.has_password(p.key), p.active)
            for p in view.all(Person)
            if p.key in names
        ]
    return tuple(sorted(found, key=lambda one: one.name.casefold()))


def _findings(name: str, roles: Sequence[str], known: Sequence[str]) -> tuple[Finding, ...]:
    found = []
    if not name or len(name) > 200:
        found.append(Finding("name-empty", Where(field="name"), Severity.STOP))
    if name.casefold() in {one.casefold() for one in known}:
        found.append(Finding("name-known", Where(field="name"), Severity.STOP, {"text": name}))
    if not roles or any(role not in ALL_ROLES for role in roles):
        values = {"text": ", ".join(roles)[:40], "choices": ", ".join(ALL_ROLES)}
        found.append(Finding("entry-no-choice", Where(field="roles"), Severity.STOP, values))
    return tuple(found)


def _refused(cause: PasswordRefused) -> tuple[Finding, ...]:
    return (Finding("password-refused", Where(field="password"), Severity.STOP, {"text": str(cause)}),)


def add_staff(
    records: Records, name: str, roles: Sequence[str], password: str, *, person: str, at: datetime
) -> tuple[Finding, ...]:
    """Add a person with roles, and a password where one is given; returns what keeps it from being done."""
    try:
        with unit_for(records, person, at, "people.change") as unit:
            found = _findings(name.strip(), roles, list(unit.names("people").values()))
            if found:
                return found
            key = unit.add_person(name.strip(), tuple(roles))
            if password:
                unit.set_password(key, password)
            return ()
    except PasswordRefused as cause:
        return _refused(cause)


def set_password_of(
    records: Records,
    key: str,
    password: str,
    *,
    current: str = "",
    origin: str = "",
    person: str,
    at: datetime,
) -> tuple[Finding, ...]:
    """Give somebody a password, or another one; the keeper for everybody, each person for themselves.

    Parameters
    ----------
    records : Records
    key : str
        Whose it is to be.
    password : str
    current : str
        The one that holds now: wanted from whoever changes their own.
    origin : str
        Where the request came from; wrong tries from there make the next one wait.
    person : str
        Key of who does it.
    at : datetime
    """
    try:
        if key == person and (wrong := _current_wrong(records, key, current, origin, at)):
            return wrong
        action = "own.see" if key == person else "people.change"
        with unit_for(records, person, at, action) as unit:
            unit.set_password(key, password)
            return ()
    except PasswordRefused as cause:
        return _refused(cause)


def _current_wrong(
    records: Records, key: str, current: str, origin: str, at: datetime
) -> tuple[Finding, ...]:
    """What is wrong with the present password as given; nothing where there is none."""
    with records.view() as view:
        name, has_one = view.names("people").get(key, ""), view.has_password(key)
    if not has_one:
        return ()
    try:
        records.log_out(records.log_in(name, current, origin, at))
    except LoginRefused:
        return (Finding("password-wrong", Where(field="current"), Severity.STOP),)
    return ()
