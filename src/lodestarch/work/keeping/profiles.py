"""Profiles in force: those that ship, and the lab's own with their sign-offs."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from lodestarch.common.canonical import Json
from lodestarch.common.errors import Refused, UnknownName
from lodestarch.common.findings import Finding, Severity
from lodestarch.method.profile import (
    FieldValue,
    Profile,
    ProfileField,
    check_profile,
    profile_from_document,
    profile_to_document,
    revise,
)
from lodestarch.method.shipped import DEFAULT_PROFILE, shipped_profiles
from lodestarch.method.signoff import SignOff, SignOffState, sign_off, sign_off_state
from lodestarch.records.engine import Records, open_records
from lodestarch.records.unit import View

__all__ = [
    "ProfileBook",
    "book_of",
    "give_sign_off",
    "make_profile",
    "open_book",
    "profile_named",
    "state_of",
]


@dataclass(frozen=True, slots=True)
class ProfileBook:
    """Every profile version that can be named, and which version of an id is in force."""

    versions: Mapping[str, Profile]
    """By ``id@version``."""
    in_force: Mapping[str, Profile]
    """By id: the newest version."""

    def named(self, name: str | None) -> Profile:
        """Return a profile by ``id`` or ``id@version``; the default where the name is ``None``.

        Raises
        ------
        UnknownName
            When there is none.
        """
        wanted = name or DEFAULT_PROFILE
        found = self.versions.get(wanted) or self.in_force.get(wanted)
        if found is None:
            raise UnknownName("profile", wanted, (*self.in_force, *self.versions))
        return found

    def by_any_name(self) -> dict[str, Profile]:
        """All names a sheet may use."""
        return {**self.in_force, **self.versions}


def book_of(view: View | None) -> ProfileBook:
    """Gather the profiles that ship and the lab's own."""
    own = [profile_from_document(_mapping(k.document)) for k in view.profiles()] if view else []
    versions = {p.name: p for p in (*shipped_profiles(), *own)}
    in_force: dict[str, Profile] = {}
    for profile in sorted(versions.values(), key=lambda p: p.version):
        in_force[profile.profile_id] = profile
    return ProfileBook(versions, in_force)


def _mapping(document: Json) -> Mapping[str, Any]:
    if not isinstance(document, dict):
        raise Refused("a profile in the records is not a document")
    return document


def _view(records: str) -> AbstractContextManager[View | None]:
    """The records as they stand, or nothing where there are none yet."""
    if "://" not in records and not Path(records).exists():
        return nullcontext(None)
    return _reading(records)


class _reading(AbstractContextManager[View | None]):  # noqa: N801 - used like a function
    """Open records to look at them."""

    def __init__(self, address: str) -> None:
        self._records: Records = open_records(
            address, create=False, mode="read", clock=lambda: datetime.now(UTC)
        )

    def __enter__(self) -> View:
        return self._records.view().__enter__()

    def __exit__(self, *_: object) -> None:
        self._records.close()


def open_book(records: str) -> ProfileBook:
    """Return the profiles that can be named at these records (the shipped ones where there are none)."""
    with _view(records) as view:
        return book_of(view)


def profile_named(name: str | None, records: str) -> Profile:
    """Return one profile by name; raises UnknownName."""
    return open_book(records).named(name)
