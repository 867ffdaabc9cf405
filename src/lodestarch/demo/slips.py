"""Slips of the kind that happen on a wet-harvest day, put into the clean day one by one.

Each slip says in a sentence what happened and lists what the software has to find, and where: the row of a
tube, or the row of a sample. ``harvest/faults.toml`` is made from these lists.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Final

from lodestarch.demo.clean_day import FLOOR_LOADS, Day, Reading, Sample
from lodestarch.method.liquefaction import fn_from_ln, ln_from_fn

__all__ = ["SLIPS", "Expected", "Slip", "apply_slips"]


@dataclass(frozen=True, slots=True)
class Expected:
    """One finding that a slip has to give, at a row of the bench or of the sample sheet."""

    code: str
    severity: str
    at: Reading | Sample
    run: str = ""


@dataclass(slots=True)
class Slip:
    """What happened, and what has to be found."""

    name: str
    story: str
    expected: list[Expected] = field(default_factory=list)


def _swapped_tubes(day: Day) -> Slip:
    first, second = day.tubes(9), day.tubes(10)
    first[1].seconds, second[0].seconds = second[0].seconds, first[1].seconds
    return Slip(
        "swapped-tubes",
        "Two tubes of one run changed places on the way from the balance to the bath.",
        [
            Expected("tubes-look-swapped", "stop", first[0]),
        ],
    )


def _out_by_ten(day: Day) -> Slip:
    second = day.tubes(14)[1]
    second.seconds = f"{second.seconds}0"
    return Slip(
        "out-by-ten",
        "One digit too many was typed for the second tube.",
        [Expected("reading-tenfold", "stop", second)],
    )


def _missing_moisture(day: Day) -> Slip:
    tubes = day.tubes(17)
    for tube in tubes:
        tube.moisture_pct = None
    return Slip(
        "missing-moisture",
        "The portion was weighed by a moisture that nobody wrote down.",
        [Expected("moisture-missing", "check", tubes[0])],
    )


def _carry_over(day: Day) -> Slip:
    """Load 26 follows four loads at the floor on the same mill; 0.7 % of the last one is left in it."""
    left = 0.007
    for tube in day.tubes(26):
        clean, floor = ln_from_fn(float(tube.seconds)), ln_from_fn(62.0)
        tube.seconds = str(round(fn_from_ln((1.0 - left) * clean + left * floor)))
    return Slip(
        "carry-over",
        "A sound load was ground straight after four sprouted ones without cleaning the mill.",
        [Expected("mill-carry-over", "check", day.sample(26))],
    )


def _stopped_early(day: Day) -> Slip:
    first, second = day.tubes(31)
    second.seconds = ">400"
    return Slip(
        "stopped-early",
        "The bath was needed: one tube of a very sound load was taken out at 400 s.",
        [Expected("stopped-early", "note", first)],
    )


def _at_floor(day: Day) -> Slip:
    tubes = [day.tubes(load) for load in FLOOR_LOADS]
    for tube in tubes[1]:
        tube.seconds = "<=62"  # one analyst writes it so
    return Slip(
        "at-floor",
        "The loads of the field that stood wet longest read no more than the floor.",
        [Expected("at-floor", "note", pair[0]) for pair in tubes],
    )


def _disagrees_and_fresh_pair(day: Day) -> Slip:
    tubes = day.tubes(33)
    for tube, seconds in zip(tubes, ("297", "346", "332", "336"), strict=True):
        tube.seconds = seconds
    return Slip(
        "disagrees-then-fresh-pair",
        "A pair disagreed; a fresh pair from remixed meal was run later, and both pairs count.",
        [Expected("still-disagrees", "check", tubes[0])],
    )


def _set_aside(day: Day) -> Slip:
    tube = day.tubes(36)[1]
    tube.seconds, tube.set_aside_cause = "371", "hang-up"
    return Slip(
        "set-aside",
        "A stirrer hung up; its reading was set aside with the cause, and a fresh pair was run.",
        [Expected("set-aside", "note", tube)],
    )


def _mass_slip(day: Day) -> Slip:
    second = day.tubes(39)[1]
    second.mass_g = round(second.mass_g - 0.4, 2)
    return Slip(
        "mass-slip",
        "The balance had not settled: one tube holds 0.4 g too little.",
        [Expected("mass-off-portion", "stop", second)],
    )


def _low_ground_mass(day: Day) -> Slip:
    sample = day.sample(42)
    sample.ground_mass_g = 180
    return Slip(
        "low-ground-mass",
        "The probe sample was small, and only 180 g were ground.",
        [Expected("ground-mass-low", "check", sample)],
    )


def _as_is(day: Day) -> Slip:
    tubes = day.tubes(45)
    for tube in tubes:
        tube.moisture_pct, tube.mass_g = 12.1, 7.0
    return Slip(
        "as-is-portion",
        "Both tubes were weighed at 7.00 g as is, whatever the moisture.",
        [Expected("portion-as-is", "check", tubes[0])],
    )


def _moisture_on_grain(day: Day) -> Slip:
    sample = day.sample(48)
    assert sample.ground_at is not None  # noqa: S101 - every load is ground
    sample.moisture_method, sample.moisture_on, sample.moisture_at = (
        "grain meter",
        "grain",
        sample.received_at,
    )
    return Slip(
        "moisture-on-grain",
        "The grain meter's moisture was taken for the meal.",
        [Expected("moisture-on-grain", "check", sample)],
    )


def _one_tube(day: Day) -> Slip:
    first, second = day.tubes(51)
    day.readings.remove(second)
    return Slip(
        "one-tube",
        "In the rush one load was screened with a single tube.",
        [Expected("one-tube", "note", first)],
    )


def _sea_level_pressure(day: Day) -> Slip:
    run = day.tubes(53)[0].run
    tubes = [r for r in day.readings if r.run == run]
    for tube in tubes:
        tube.pressure_hpa = 1011.4
    return Slip(
        "sea-level-pressure",
        "For one run the pressure of the weather report was written down, which is reduced to sea level.",
        [Expected("pressure-looks-reduced", "check", tubes[0], run)],
    )


def _ambiguous_date(day: Day) -> Slip:
    sample = day.sample(55)
    sample.harvest_date = "09/08/2024"
    return Slip(
        "ambiguous-date",
        "A harvest date was copied from the grower's note: the 9th of August, or the 8th of September.",
        [Expected("field-date-ambiguous", "check", sample)],
    )


def _unreadable_seconds(day: Day) -> Slip:
    first, second = day.tubes(57)
    second.seconds = f"{second.seconds[0]}b{second.seconds[2]}"
    return Slip(
        "unreadable-seconds",
        "A slip of the keyboard: a letter among the digits.",
        [Expected("row-seconds-unreadable", "stop", second), Expected("one-tube", "note", first)],
    )


def _worn_stirrer(day: Day) -> Slip:
    """The wear is in the clean day already; here only what has to be found, at its last reading."""
    read = [r for r in day.readings if r.stirrer_id == "S6" and r.seconds.isdigit()]
    last = [r for r in read if int(r.seconds) > 62][-1]
    return Slip(
        "worn-stirrer",
        "One stirrer wears: it reads higher from hour to hour, in whatever bath it stands.",
        [Expected("place-drifts", "check", last)],
    )


SLIPS: Final[tuple[Callable[[Day], Slip], ...]] = (
    _swapped_tubes,
    _out_by_ten,
    _missing_moisture,
    _carry_over,
    _stopped_early,
    _at_floor,
    _disagrees_and_fresh_pair,
    _set_aside,
    _mass_slip,
    _low_ground_mass,
    _as_is,
    _moisture_on_grain,
    _one_tube,
    _sea_level_pressure,
    _ambiguous_date,
    _unreadable_seconds,
    _worn_stirrer,
)


def apply_slips(day: Day) -> list[Slip]:
    """Put every slip into the day, in the order above."""
    return [slip(day) for slip in SLIPS]
