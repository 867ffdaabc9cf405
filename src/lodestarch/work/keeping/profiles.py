"""Profiles in force: those that ship, and the lab's own with their sign-offs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from lodestarch.common.canonical import Json
from lodestarch.common.errors import Refused, UnknownName
from lodestarch.method.profile import Profile, profile_from_document
from lodestarch.method.shipped import DEFAULT_PROFILE, shipped_profiles
from lodestarch.records.engine import open_records
from lodestarch.records.unit import View

__all__ = [
    "ProfileBook",
    "book_of",
    "open_book",
    "profile_named",
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


def open_book(records: str) -> ProfileBook:
    """Return the profiles that can be named at these records (the shipped ones where there are none)."""
    if "://" not in records and not Path(records).exists():
        return book_of(None)
    with open_records(records, create=False, mode="read", clock=now) as kept, kept.view() as view:
        return book_of(view)


def profile_named(name: str | None, records: str) -> Profile:
    """Return one profile by name; raises UnknownName."""
    return open_book(records).named(name)


def now() -> datetime:
    """The present moment, for openings that write nothing."""
    return datetime.now(UTC)
