"""Price against a factor, as a buyer states it: steps, slope, cliff, premium, window, table.

A schedule says how far the price moves; what that is in money for a lot is computed elsewhere. Discounts and
premiums are positive, and the name says which way they go.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Literal

from lodestarch.common.provenance import Provenance
from lodestarch.trade.money_unit import MoneyUnit

__all__ = [
    "Action",
    "Band",
    "Cliff",
    "Part",
    "Premium",
    "Schedule",
    "Side",
    "Slope",
    "Steps",
    "Table",
    "Window",
    "discount_starts",
]


class Side(StrEnum):
    """Which way a part runs from its start."""

    BELOW = "below"
    ABOVE = "above"


class Action(StrEnum):
    """What happens beyond a cliff or outside a window."""

    REJECT = "reject"
    DISCOUNT = "discount"
    PRICE = "price"


@dataclass(frozen=True, slots=True)
class Steps:
    """A discount for every step away from a start.

    Parameters
    ----------
    start : float
        Where it begins. [factor's unit]
    side : Side
    step : float
        Width. [factor's unit]  Above 0.
    discount : float
        For each step. [schedule's unit]
    end : float or None
        Where the part ends.
    most : float or None
        Largest discount. [schedule's unit]
    started : bool
        A step counts once it is started; otherwise once it is full.
    """

    start: float
    side: Side
    step: float
    discount: float
    end: float | None = None
    most: float | None = None
    started: bool = True


@dataclass(frozen=True, slots=True)
class Slope:
    """A discount in proportion to the distance from a start: ``discount`` for every ``per``."""

    start: float
    side: Side
    discount: float
    per: float = 1.0
    end: float | None = None
    most: float | None = None


@dataclass(frozen=True, slots=True)
class Cliff:
    """Turned away, a flat discount, or another price beyond a start."""

    start: float
    side: Side
    action: Action
    discount: float | None = None
    price: float | None = None


@dataclass(frozen=True, slots=True)
class Premium:
    """More beyond a start: flat, by ``step``, or in proportion for every ``per``."""

    start: float
    side: Side
    premium: float
    step: float | None = None
    per: float | None = None
    end: float | None = None
    most: float | None = None
    started: bool = True


@dataclass(frozen=True, slots=True)
class Window:
    """Bought between two values; outside them as beyond a cliff."""

    at_least: float
    at_most: float
    action: Action
    discount: float | None = None
    price: float | None = None


@dataclass(frozen=True, slots=True)
class Band:
    """One line of a table; an end that is not stated is open. ``reject`` where neither amount is stated."""

    low: float | None
    high: float | None
    discount: float | None = None
    premium: float | None = None

    @property
    def amount(self) -> float:
        """How far the band is from the plain price, whichever way; infinite where it rejects."""
        return next((a for a in (self.discount, self.premium) if a is not None), math.inf)


@dataclass(frozen=True, slots=True)
class Table:
    """Bands in one order, up or down."""

    bands: tuple[Band, ...]


Part = Steps | Slope | Cliff | Premium | Window | Table


@dataclass(frozen=True, slots=True)
class Schedule:
    """How the price moves with one factor.

    Parameters
    ----------
    id, name : str
    factor : str
        Key of ``factors.FACTORS``.
    unit : MoneyUnit or None
        Of every discount and premium; ``None``: shares of the price.
    on_boundary : str or None
        On which side a value exactly on a boundary falls; ``None``: not stated.
    stated_to : float
        Step in which ends of bands are stated; ends that differ by no more touch. [factor's unit]
    parts : tuple
    valid_from, valid_to : date or None
        Both ends belong to it; ``None`` is open.
    provenance : Provenance
    """

    id: str
    name: str
    factor: str
    unit: MoneyUnit | None
    on_boundary: Literal["better", "worse"] | None
    stated_to: float
    parts: tuple[Part, ...]
    valid_from: date | None
    valid_to: date | None
    provenance: Provenance


def discount_starts(part: Part) -> tuple[tuple[Side, float], ...]:
    """Return where a part leaves the plain price for a worse one, and on which side; empty for a premium."""
    if isinstance(part, Premium):
        return ()
    if isinstance(part, Window):
        return (Side.BELOW, part.at_least), (Side.ABOVE, part.at_most)
    if not isinstance(part, Table):
        return ((part.side, part.start),)
    worse = [b for b in part.bands if b.premium is None and b.amount > 0]
    if not worse:
        return ()
    lowest = min(worse, key=lambda b: -math.inf if b.low is None else b.low)
    highest = max(worse, key=lambda b: math.inf if b.high is None else b.high)
    if highest.amount < lowest.amount or lowest.low is None:
        return () if highest.high is None else ((Side.BELOW, highest.high),)
    return ((Side.ABOVE, lowest.low),)
