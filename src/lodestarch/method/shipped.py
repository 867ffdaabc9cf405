"""The profiles that come with the package, read once from its data files."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files
from typing import Any, Final

from lodestarch.common.errors import UnknownName
from lodestarch.method.profile import Profile, profile_from_document

__all__ = ["DEFAULT_PROFILE", "SHIPPED", "shipped_profile", "shipped_profiles"]

SHIPPED: Final = ("meal-15", "meal-14", "as-is", "rye-9g", "flour-14")
"""Ids of the shipped profiles, the default first."""

DEFAULT_PROFILE: Final = "meal-15"


def _document(profile_id: str) -> dict[str, Any]:
    text = files("lodestarch.method").joinpath("profiles", f"{profile_id}.toml").read_text("utf-8")
    document = tomllib.loads(text)
    parent = document.get("starts_from")
    if parent is not None:
        document["fields"] = {**_document(parent)["fields"], **document["fields"]}
    return document


@cache
def shipped_profile(profile_id: str) -> Profile:
    """Return a shipped profile by id.

    Raises
    ------
    UnknownName
        When none has this id.
    """
    if profile_id not in SHIPPED:
        raise UnknownName("shipped profile", profile_id, SHIPPED)
    return profile_from_document(_document(profile_id))


def shipped_profiles() -> tuple[Profile, ...]:
    """Return all shipped profiles, the default first."""
    return tuple(shipped_profile(i) for i in SHIPPED)
