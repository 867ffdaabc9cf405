"""A lab's own profiles and sign-offs, kept as documents."""

from __future__ import annotations

import json
from dataclasses import dataclass

from lodestarch.common.canonical import Json, canonical_text, sha256_hex
from lodestarch.common.errors import ProfileInUse
from lodestarch.records.kept import added, fetch, fetch_all
from lodestarch.records.log import Entry
from lodestarch.records.scope import Scope
from lodestarch.records.tables import ProfileVersion, SignOff

__all__ = ["KeptProfile", "profiles", "save_profile", "save_signoff", "signoffs"]


@dataclass(frozen=True, slots=True)
class KeptProfile:
    """One version of a lab's own profile."""

    id: str
    version: str
    digest: str
    document: Json


def save_profile(scope: Scope, profile_id: str, version: str, document: Json) -> list[Entry]:
    """Keep one version of a profile; saying the same again changes nothing.

    Raises
    ------
    ProfileInUse
        When this version is kept already and says something else.
    """
    key, text = f"{profile_id}@{version}", canonical_text(document)
    mark = sha256_hex(text.encode("utf-8"))
    kept = fetch(scope, ProfileVersion, key)
    if kept is not None:
        if kept.digest == mark:
            return []
        raise ProfileInUse(f"{key} is kept already and says something else. Give the change a new version.")
    row = ProfileVersion(key=key, profile_id=profile_id, profile_version=version, digest=mark, document=text)
    return [Entry("profile.saved", f"profile_versions:{key}", {"changes": [added(scope, row)]})]


def profiles(scope: Scope) -> list[KeptProfile]:
    """Return every version of every profile of the lab's own."""
    return [
        KeptProfile(row.profile_id, row.profile_version, row.digest, json.loads(row.document))
        for row in fetch_all(scope, ProfileVersion)
    ]


def save_signoff(scope: Scope, profile_id: str, version: str, document: Json) -> list[Entry]:
    """Keep a sign-off of a profile version, the lab's own or one that ships; each is added, none changed."""
    text = canonical_text(document)
    mark = sha256_hex(text.encode("utf-8"))
    earlier = [s for s in fetch_all(scope, SignOff, profile_id=profile_id) if s.profile_version == version]
    if any(s.digest == mark for s in earlier):
        return []
    key = f"{profile_id}@{version}/{len(earlier) + 1}"
    row = SignOff(key=key, profile_id=profile_id, profile_version=version, digest=mark, document=text)
    return [Entry("profile.signed-off", f"sign_offs:{key}", {"changes": [added(scope, row)]})]


def signoffs(scope: Scope, profile_id: str) -> list[Json]:
    """Return the sign-offs of every version of a profile, in the order in which they were given."""
    rows = fetch_all(scope, SignOff, profile_id=profile_id)
    rows.sort(key=lambda s: (s.profile_version, int(s.key.rsplit("/", 1)[1])))
    return [json.loads(row.document) for row in rows]
