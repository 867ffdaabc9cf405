"""The invented day as it would have gone without any slip: loads, grinding, runs, readings.

Only the standard library's random source is used, one number after the other, so that the same seed gives the
same sheets on every machine.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from random import Random
from statistics import NormalDist
from typing import Final, TypeVar

from lodestarch.demo.cast import (
    ANALYSTS,
    BATHS,
    CHECKS,
    DAY,
    ELEVATION_M,
    ORIGINS,
    PROFILE_ID,
    STIRRERS,
    TUBES,
)
from lodestarch.method.bath import pressure_from_elevation_hpa
from lodestarch.method.portion import portion_mass_g
from lodestarch.method.profile import Constants
from lodestarch.method.shipped import shipped_profile

__all__ = ["FLOOR_LOADS", "LOADS", "Day", "Dice", "Reading", "Sample", "make_day", "slot_start"]

T = TypeVar("T")

LOADS: Final = 60
FLOOR_LOADS: Final = (21, 22, 23, 24, 60)
"""Loads from the field that stood wet longest; four of them were ground one after the other."""

_FIRST_TICKET: Final = 8800
_CV: Final = 0.012
"""Scatter of one tube on this bench, as CV; inside the published 1 to 4 %. Invented."""
_WEAR: Final = ("S6", 0.085)
"""The stirrer that wears, and by how much it reads high at the end of the day. Invented."""
_SLOT_MIN: Final = 32
_SET_LEVELS: Final = {9: 316.0, 10: 236.0, 14: 290.0, 20: 84.0, 26: 318.0, 31: 381.0, 33: 326.0, 36: 309.0}
"""True levels of the loads to which something happens. [s]"""


@dataclass(slots=True)
class Reading:
    """A row of the bench sheet, values as they are written."""

    sample: str
    ticket: str
    run: str
    bath: str
    position: str
    tube_id: str
    stirrer_id: str
    seconds: str
    moisture_pct: float | None
    mass_g: float
    pressure_hpa: float
    analyst: str
    run_at: datetime
    set_aside_cause: str = ""


@dataclass(slots=True)
class Sample:
    """A row of the sample sheet, values as they are written, and the true level behind them."""

    sample: str
    ticket: str
    kind: str
    material: str
    level_s: float
    moisture_pct: float
    grower: str = ""
    origin: str = ""
    variety: str = ""
    harvest_date: str = ""
    tonnes: float | None = None
    bin: str = ""
    received_at: datetime | None = None
    ground_mass_g: int | None = None
    mill_id: str = ""
    ground_at: datetime | None = None
    moisture_method: str = "drying dish"
    moisture_on: str = "meal"
    moisture_at: datetime | None = None


@dataclass(slots=True)
class Day:
    """Both sheets, before slips."""

    constants: Constants
    samples: list[Sample] = field(default_factory=list)
    readings: list[Reading] = field(default_factory=list)

    def sample(self, load: int) -> Sample:
        """Sample of a load by its number in the queue, from 1."""
        name = str(_FIRST_TICKET + load)
        return next(s for s in self.samples if s.sample == name)

    def tubes(self, load: int) -> list[Reading]:
        """Readings of a load, in the order of the sheet."""
        name = str(_FIRST_TICKET + load)
        return [r for r in self.readings if r.sample == name]


class Dice:
    """Numbers drawn one after the other."""

    def __init__(self, seed: int) -> None:
        self._random = Random(seed)

    def normal(self, mean: float, sd: float) -> float:
        """Draw from a normal distribution."""
        p = min(max(self._random.random(), 1e-9), 1.0 - 1e-9)
        return mean + sd * NormalDist().inv_cdf(p)

    def between(self, low: float, high: float) -> float:
        """Draw evenly between two numbers."""
        return low + (high - low) * self._random.random()

    def pick(self, items: tuple[T, ...]) -> T:
        """Draw one of several things."""
        return items[int(self._random.random() * len(items))]

    def deal(self, items: tuple[str, ...]) -> list[str]:
        """Lay things out in a drawn order."""
        left = list(items)
        return [left.pop(int(self._random.random() * len(left))) for _ in items]


def slot_start(slot: int) -> datetime:
    """When both baths are loaded for the given time."""
    return datetime(*DAY, 7, 40) + timedelta(minutes=_SLOT_MIN * slot)  # noqa: DTZ001 - the bench's own clock


def _loads(dice: Dice) -> list[Sample]:
    """Loads in the order of the queue, with their true levels."""
    out = []
    dry = [o for o in ORIGINS if o.share > 0.0]
    edges = [sum(o.share for o in dry[: i + 1]) for i in range(len(dry))]
    for load in range(1, LOADS + 1):
        draw = dice.between(0.0, edges[-1])
        origin = next(o for o, edge in zip(dry, edges, strict=True) if draw <= edge)
        if load in FLOOR_LOADS or load == 20:
            origin = ORIGINS[-1]
        level = dice.normal(origin.level_s, origin.spread_s)
        ticket = str(_FIRST_TICKET + load)
        cut = date(*DAY) - timedelta(days=origin.harvested)
        out.append(
            Sample(
                sample=ticket,
                ticket=ticket,
                kind="load",
                material="wheat",
                level_s=_SET_LEVELS.get(load, level),
                moisture_pct=round(min(max(dice.normal(origin.moisture_pct, 0.35), 11.4), 15.7), 1),
                grower=dice.pick(origin.growers),
                origin=origin.place,
                variety=dice.pick(origin.varieties),
                harvest_date=cut.isoformat(),
                tonnes=round(dice.between(11.0, 29.0), 1),
                bin=origin.bin_id,
                ground_mass_g=round(dice.between(302.0, 338.0)),
            )
        )
    return out


def _checks(dice: Dice) -> list[list[Sample]]:
    """Both check materials, three times a day."""
    return [
        [
            Sample(
                sample=f"{c.material_id}-{time}",
                ticket="",
                kind="check",
                material=c.material_id,
                level_s=dice.normal(c.target_s, c.u_s / 3.0),
                moisture_pct=c.moisture_pct,
                ground_mass_g=320 if c.whole_grain else None,
                moisture_method="label" if not c.whole_grain else "drying dish",
            )
            for c in CHECKS
        ]
        for time in (1, 2, 3)
    ]


def _queue(loads: list[Sample], checks: list[list[Sample]]) -> list[Sample]:
    """What is lowered, in order: two samples a bath, both baths a slot. Two loads come again."""
    out = checks[0] + loads[:28] + checks[1] + loads[28:38] + [loads[32]] + loads[38:41] + [loads[35]]
    return out + loads[41:] + checks[2]


def _grind(queue: list[Sample], dice: Dice) -> None:
    """Times of receiving, grinding and moisture; two mills in turn, the wettest field all on the second."""
    seen: set[str] = set()
    for i, sample in enumerate(queue):
        if sample.sample in seen:
            continue
        seen.add(sample.sample)
        ground = slot_start(i // 4) - timedelta(minutes=round(34 - 4 * (i % 4) - dice.between(0, 2)))
        if sample.kind == "load":
            sample.received_at = ground - timedelta(minutes=round(dice.between(12, 45)))
        if sample.ground_mass_g is not None:
            sample.ground_at = ground
            at_floor = sample.level_s < 60.0
            sample.mill_id = "M2" if i % 2 or at_floor else "M1"
            sample.moisture_at = ground + timedelta(minutes=round(dice.between(2, 5)))


def _seconds(level_s: float, stirrer: str, share_of_day: float, dice: Dice) -> str:
    wear = 1.0 + _WEAR[1] * share_of_day if stirrer == _WEAR[0] else 1.0
    reading = round(level_s * wear * dice.normal(1.0, _CV))
    return str(max(reading, 62))


def _lower(queue: list[Sample], constants: Constants, dice: Dice) -> list[Reading]:
    out = []
    slots = (len(queue) + 3) // 4
    tube = 0
    for slot in range(slots):
        stirrers = dice.deal(STIRRERS)
        for b, bath in enumerate(BATHS):
            pressure = round(
                pressure_from_elevation_hpa(ELEVATION_M) - 3.0 + 0.12 * slot + dice.normal(0, 0.1), 1
            )
            at = slot_start(slot) + timedelta(minutes=9 * b)
            for k, sample in enumerate(queue[4 * slot + 2 * b : 4 * slot + 2 * b + 2]):
                wanted = portion_mass_g(sample.moisture_pct, constants)
                for t in range(2):
                    place = 2 * k + t
                    stirrer = stirrers[4 * b + place]
                    off = min(max(dice.normal(0.0, 0.014), -0.04), 0.04)
                    out.append(
                        Reading(
                            sample=sample.sample,
                            ticket=sample.ticket,
                            run=f"{bath}-{slot + 1:02d}",
                            bath=bath,
                            position=str(place + 1),
                            tube_id=TUBES[tube % len(TUBES)],
                            stirrer_id=stirrer,
                            seconds=_seconds(sample.level_s, stirrer, slot / (slots - 1), dice),
                            moisture_pct=sample.moisture_pct,
                            mass_g=round(wanted + off, 2),
                            pressure_hpa=pressure,
                            analyst=ANALYSTS[0] if slot < slots // 2 else ANALYSTS[1],
                            run_at=at,
                        )
                    )
                    tube += 1
    return out


def make_day(seed: int) -> Day:
    """Make the day without slips.

    Parameters
    ----------
    seed : int
        Of the random source; the same seed gives the same day.

    Returns
    -------
    Day
        Samples in the order in which they came, readings in the order in which they were lowered.
    """
    dice = Dice(seed)
    constants = shipped_profile(PROFILE_ID).constants
    loads, checks = _loads(dice), _checks(dice)
    queue = _queue(loads, checks)
    _grind(queue, dice)
    readings = _lower(queue, constants, dice)
    samples = list({s.sample: s for s in queue}.values())
    return Day(constants, samples, readings)
