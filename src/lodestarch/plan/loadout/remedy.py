"""A sublot that is under: leave it, discharge it, or have it certified apart."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from lodestarch.common.errors import OutOfRange
from lodestarch.plan.loadout.cargo import Cargo
from lodestarch.plan.loadout.forecast import forecast, rest_of

__all__ = ["Remedy", "Step", "remedies"]


class Step(StrEnum):
    """What can be done."""

    LEAVE = "leave"
    DISCHARGE = "discharge"
    CERTIFY_APART = "certify-apart"


@dataclass(frozen=True, slots=True)
class Remedy:
    """One way out and what it is expected to bring.

    Parameters
    ----------
    step : Step
    odds : float
        That what goes under the clause makes it.
    error : float
        Standard error of the odds.
    expected : float
        Expected money for the cargo: made, missed, apart, and the cost of the step. [money]
    cost : float
        Certain cost of the step, with the grain that is swapped. [money]
    """

    step: Step
    odds: float
    error: float
    expected: float
    cost: float


def remedies(
    cargo: Cargo,
    number: int,
    rest: Mapping[str, float],
    made_t: float,
    missed_t: float,
    apart_t: float,
    back_t: float,
    discharge_cost: float,
    apart_cost: float,
    rng: np.random.Generator,
) -> tuple[Remedy, ...]:
    """Return the ways out, the best first.

    Parameters
    ----------
    cargo : Cargo
    number : int
        The sublot.
    rest : mapping of str to float
        Recipe for what is still to load, and for what replaces a discharged sublot.
    made_t, missed_t : float
        Price of the cargo where it makes the clause and where it misses it. [money/t]
    apart_t : float
        Price of a sublot certified apart. [money/t]
    back_t : float
        What the discharged grain brings elsewhere. [money/t]  What replaces it is charged at its bins' worth.
    discharge_cost, apart_cost : float
        Of the step as a whole. [money]
    rng : numpy.random.Generator

    Raises
    ------
    OutOfRange
        A sublot that is not in the cargo.
    """
    one = next((s for s in cargo.sublots if s.number == number), None)
    if one is None:
        raise OutOfRange("number", number, 1, len(cargo.sublots), "1")
    without = tuple(s for s in cargo.sublots if s.number != number)
    total = cargo.asked.tonnes
    seed = int(rng.integers(2**63))

    def odds(part: Cargo) -> tuple[float, float]:
        found = forecast(part, rest_of(part, rest), np.random.default_rng(seed))
        return found.odds, found.error

    def worth(p: float, tonnes: float) -> float:
        return tonnes * (p * made_t + (1 - p) * missed_t)

    spends = sum(rest.get(s.name, 0.0) * s.worth_t for s in cargo.sources)
    swap = discharge_cost + one.tonnes * (spends - back_t)
    left, left_error = odds(cargo)
    swapped, swapped_error = odds(replace(cargo, sublots=without))
    apart, apart_error = odds(
        replace(cargo, sublots=without, asked=replace(cargo.asked, tonnes=max(total - one.tonnes, 1e-6)))
    )
    found = (
        Remedy(Step.LEAVE, left, left_error, worth(left, total), 0.0),
        Remedy(Step.DISCHARGE, swapped, swapped_error, worth(swapped, total) - swap, swap),
        Remedy(
            Step.CERTIFY_APART,
            apart,
            apart_error,
            worth(apart, total - one.tonnes) + one.tonnes * apart_t - apart_cost,
            apart_cost,
        ),
    )
    return tuple(sorted(found, key=lambda r: -r.expected))
