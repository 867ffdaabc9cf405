"""What is looked after at a bench: upkeep with its usual intervals, and the list at the start of a shift."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, time, timedelta
from typing import Final

from lodestarch.common.provenance import Provenance

__all__ = [
    "SHIFT_ITEMS",
    "SHIFT_STARTS",
    "UPKEEP_ITEMS",
    "ShiftItem",
    "ShiftLine",
    "ShiftTick",
    "UpkeepItem",
    "shift_began",
    "shift_lines",
    "upkeep_item",
]


@dataclass(frozen=True, slots=True)
class UpkeepItem:
    """One kind of upkeep.

    Parameters
    ----------
    item : str
        Its code.
    every_days : float
        Usual interval. [d]
    every_runs : int or None
        Usual interval in runs, where use wears it. [1]
    changes_results : bool
        A shift on a chart may follow, so that a check sample is due afterwards.
    provenance : Provenance
        Of the interval.
    """

    item: str
    every_days: float
    every_runs: int | None = None
    changes_results: bool = True
    provenance: Provenance = Provenance.COMMON_PRACTICE


UPKEEP_ITEMS: Final = (
    UpkeepItem("bath-water", 7.0),
    UpkeepItem("bath-descaled", 90.0),
    UpkeepItem("mill-cleaned", 1.0, changes_results=False),
    UpkeepItem("mill-sieve", 30.0, 2000),
    UpkeepItem("mill-wear", 180.0, 10_000),
    UpkeepItem("tubes", 30.0, 2000),
    UpkeepItem("stirrers", 30.0, 2000),
    UpkeepItem("dispenser", 30.0),
    UpkeepItem("balance", 180.0, changes_results=False),
    UpkeepItem("moisture-meter", 30.0),
    UpkeepItem("barometer", 180.0, changes_results=False),
    UpkeepItem("timing", 365.0, changes_results=False),
)
"""Intervals [d, runs] that stand until a lab enters its own. Common practice, no source: a lab's own records
and its instruments' papers know better."""


def upkeep_item(code: str) -> UpkeepItem | None:
    """Return the item under a code; ``None`` where there is none."""
    return next((one for one in UPKEEP_ITEMS if one.item == code), None)


@dataclass(frozen=True, slots=True)
class ShiftItem:
    """One line of the list at the start of a shift.

    Parameters
    ----------
    item : str
    quantity : str
        Key of the value that is entered with it; empty: none.
    needed : bool
        The value has to be there; otherwise it may be left empty.
    """

    item: str
    quantity: str = ""
    needed: bool = False


SHIFT_ITEMS: Final = (
    ShiftItem("bath-boil"),
    ShiftItem("station-pressure", "pressure_hpa", needed=True),
    ShiftItem("tubes-and-stirrers"),
    ShiftItem("mill-and-sieve"),
    ShiftItem("balance-check", "mass_g"),
    ShiftItem("water-check", "water_ml"),
)
"""In the order in which one walks the bench. What is read off the records (check samples, upkeep) is shown
beneath and is not ticked."""

SHIFT_STARTS: Final = (time(6, 0),)
"""When a shift begins until a lab enters its own. [clock time]  Common practice."""


def shift_began(now: datetime, starts: tuple[time, ...] = SHIFT_STARTS) -> datetime:
    """Return when the present shift began: the last of the starts at or before now.

    Examples
    --------
    >>> shift_began(datetime(2024, 8, 22, 3, 0), (time(6), time(14), time(22)))
    datetime.datetime(2024, 8, 21, 22, 0)
    """
    today = [datetime.combine(now.date() - timedelta(days=back), t) for back in (0, 1) for t in starts]
    plain = now.replace(tzinfo=None)
    return max(t for t in today if t <= plain).replace(tzinfo=now.tzinfo)


@dataclass(frozen=True, slots=True)
class ShiftTick:
    """One item as it was ticked.

    Parameters
    ----------
    item : str
    at : datetime
    by : str
        Name of the person.
    held : bool
        It was in order.
    value : float or None
        In the unit of the item's quantity.
    note : str
    """

    item: str
    at: datetime
    by: str
    held: bool
    value: float | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class ShiftLine:
    """One item of the list with its last tick of this shift; ``None``: open."""

    item: ShiftItem
    tick: ShiftTick | None


def shift_lines(ticks: tuple[ShiftTick, ...], began: datetime) -> tuple[ShiftLine, ...]:
    """Return the list with what was ticked since the shift began; the latest tick of an item counts."""
    latest = {t.item: t for t in sorted(ticks, key=lambda t: t.at) if t.at >= began}
    return tuple(ShiftLine(item, latest.get(item.item)) for item in SHIFT_ITEMS)
