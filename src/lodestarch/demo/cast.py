"""Who and what appears in the invented harvest: places, growers, varieties, check materials, bench ware.

Every name is made up. None is meant for a company, a place, a variety or a person.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

__all__ = [
    "ANALYSTS",
    "BATHS",
    "CHECKS",
    "DAY",
    "ELEVATION_M",
    "ORIGINS",
    "PROFILE_ID",
    "SEED",
    "STIRRERS",
    "TUBES",
    "CheckSpec",
    "Origin",
]

SEED: Final = 8839
"""Seed of the generator; the data files in ``harvest/`` are its output. Of fifty seeds tried (8800 to 8849)
twelve give a day in which every slip is found and nothing else, and this is one of them. In 26 the stirrer's
wear is not found: with some 14 pairs a day it often stays within the scatter. In the other 12 it shows as a
shift, or parts further pairs by more than their limit, or a check sample lies off by chance."""

DAY: Final = (2024, 8, 21)
"""Year, month and day of the invented harvest day."""

ELEVATION_M: Final = 520.0
"""Elevation of the invented bench [m]."""

PROFILE_ID: Final = "meal-14"
"""Profile that the bench works by."""


@dataclass(frozen=True, slots=True)
class Origin:
    """A place that loads come from.

    ``level_s`` and ``spread_s`` are mean and SD of its loads' true falling numbers, ``moisture_pct`` the mean
    moisture of its meal; ``bin_id`` is where its loads were dumped before any number was known.
    """

    place: str
    growers: tuple[str, ...]
    varieties: tuple[str, ...]
    bin_id: str
    level_s: float
    spread_s: float
    moisture_pct: float
    harvested: int  # days before the sheet's day
    share: float


ORIGINS: Final = (
    Origin("Nether Vosk", ("Feldwick Farm", "Quennor Acres"), ("Harthwin",), "bin-1", 334, 13, 12.4, 3, 0.18),
    Origin("Tamwold", ("Halvenstock Brothers",), ("Harthwin", "Ostarn"), "bin-2", 317, 15, 12.9, 2, 0.18),
    Origin("Cressolt", ("Dremming", "Wenlothe Land"), ("Ostarn",), "bin-3", 301, 16, 13.3, 1, 0.24),
    Origin("Ilderwath", ("Tarrelgate",), ("Brellow", "Ostarn"), "bin-4", 279, 20, 13.8, 1, 0.22),
    Origin("Hobbinfold", ("Mardlow and Daughter",), ("Brellow",), "bin-5", 238, 26, 14.4, 0, 0.18),
    Origin("Marrowfen", ("Skarrow Fen Farm",), ("Brellow",), "bin-6", 40, 0, 15.1, 0, 0.0),
)
"""Marrowfen stood wet longest: its loads are at the floor, and the script places them by hand."""


@dataclass(frozen=True, slots=True)
class CheckSpec:
    """A check material: assigned value, and standard uncertainty of one result on it at this bench. [s]"""

    material_id: str
    name: str
    whole_grain: bool
    target_s: float
    u_s: float
    moisture_pct: float


CHECKS: Final = (
    CheckSpec("CW-310", "check wheat, ground here", whole_grain=True, target_s=310, u_s=6, moisture_pct=12.0),
    CheckSpec("CM-220", "check meal, ground once", whole_grain=False, target_s=220, u_s=4, moisture_pct=11.6),
)

BATHS: Final = ("A", "B")
"""Two baths of four positions."""

STIRRERS: Final = tuple(f"S{i}" for i in range(1, 9))
TUBES: Final = tuple(f"T{i:02d}" for i in range(1, 25))
ANALYSTS: Final = ("MQ", "TD")
