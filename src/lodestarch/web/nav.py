"""The line on top of every page."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Nav"]


@dataclass(frozen=True, slots=True)
class Nav:
    """Which day the places of a day lead into, where we are, and who is at the bench."""

    place: str
    day_id: str | None = None
    bins: bool = False
    demonstration: bool = False
    title: str = ""
    code: str = ""
    person: str = ""
