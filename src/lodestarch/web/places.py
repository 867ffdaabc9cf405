"""The places of the workbench, in their order: one line each, so that a room adds its own."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

__all__ = ["PLACES", "Place", "places_of"]


@dataclass(frozen=True, slots=True)
class Place:
    """One place in the line on top.

    Parameters
    ----------
    name : str
        Its word is ``place.NAME``; a page says ``Nav(NAME)`` when it stands there.
    path : str
    key : str
        ``g`` and this letter lead there.
    entering : bool
        Only where entries can be made.
    """

    name: str
    path: str
    key: str
    entering: bool = False


PLACES: Final = (
    Place("bench", "/bench", "w", entering=True),
    Place("office", "/tickets", "t", entering=True),
)
"""Bench and office; the places of a day (its register, bins and queries) follow them."""

LAST: Final = (
    Place("price", "/price", "p"),
    Place("bins", "/bins", "b", entering=True),
    Place("plan", "/plan", "l", entering=True),
    Place("control", "/control", "c", entering=True),
    Place("season", "/season", "n"),
    Place("tube", "/tube", "u"),
    Place("setup", "/setup", "s", entering=True),
)
"""Behind everything else."""


def places_of(*, entering: bool) -> tuple[tuple[Place, ...], tuple[Place, ...]]:
    """Places before and behind those of a day."""

    def shown(places: tuple[Place, ...]) -> tuple[Place, ...]:
        return tuple(p for p in places if entering or not p.entering)

    return shown(PLACES), shown(LAST)
