"""Names that stand on an issued paper, apart from what it states, so that they can be erased."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["CustomerNames", "LabNames"]


@dataclass(frozen=True, slots=True)
class CustomerNames:
    """Who asked for the test."""

    name: str
    contact: str


@dataclass(frozen=True, slots=True)
class LabNames:
    """Who did what at the laboratory: keys or initials as entered, and names where the records have them."""

    released_by: str
    issued_by: str
    analysts: tuple[str, ...]
