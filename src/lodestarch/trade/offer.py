"""Contracts and bids: limits with the clause that judges them, a price, whose number is final.

Fields that are ``None`` are not stated, and are asked for rather than assumed.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from typing import Literal

from lodestarch.common.provenance import Provenance
from lodestarch.trade.money_unit import MoneyUnit

__all__ = [
    "Bid",
    "Clause",
    "Contract",
    "Judged",
    "Mass",
    "Offer",
    "Price",
    "RetestRule",
    "Sampler",
    "StatedAs",
    "WhoseNumber",
]


class Judged(StrEnum):
    """How a limit is judged."""

    PER_LOAD = "per-load"
    COMPOSITE = "composite"
    WEIGHTED_AVERAGE = "weighted-average"
    AVERAGE_WITH_SUBLOT_MINIMUM = "average-with-sublot-minimum"
    EVERY_SUBLOT = "every-sublot"


class WhoseNumber(StrEnum):
    """Whose number is final."""

    ORIGIN = "origin"
    LOADING = "loading"
    DESTINATION = "destination"
    BUYER = "buyer"
    OFFICIAL = "official"


class Sampler(StrEnum):
    """Who draws the sample."""

    SELLER = "seller"
    BUYER = "buyer"
    OFFICIAL = "official"
    INDEPENDENT = "independent"


class RetestRule(StrEnum):
    """How retests combine."""

    ALL_COUNT = "all-count"
    OFFICIAL_APPEAL = "official-appeal"
    TWO_NEAREST = "two-nearest"
    MEDIAN = "median"
    THIRD_FINAL = "third-final"


@dataclass(frozen=True, slots=True)
class Mass:
    """A quantity as it was stated: tonnes (1000 kg) or bushels by mass."""

    value: float
    unit: Literal["t", "bu"]


@dataclass(frozen=True, slots=True)
class Price:
    """A flat price, or a basis against a futures price with its month and the day it was read."""

    unit: MoneyUnit
    flat: float | None = None
    basis: float | None = None
    futures: float | None = None
    futures_month: str | None = None
    futures_on: date | None = None

    @property
    def value(self) -> float | None:
        """The price in :attr:`unit`; ``None`` while the futures price of a basis is not stated."""
        if self.flat is not None or self.basis is None or self.futures is None:
            return self.flat
        return self.basis + self.futures


@dataclass(frozen=True, slots=True)
class Clause:
    """One limit and how it is judged.

    Parameters
    ----------
    factor : str
        Key of ``factors.FACTORS``.
    judged : Judged
    at_least, at_most : float or None
        Floor, ceiling; both: a window. [factor's unit]
    sublot_at_least : float or None
        Least of any one sublot. [factor's unit]
    counts_from, counts_to : float or None
        Smallest and largest report that count as reaching the limit; ``None``: the limit itself.
    sublot_t : float or None
        Size of a sublot. [t]
    wording : str or None
        The contract's own words.
    """

    factor: str
    judged: Judged
    at_least: float | None
    at_most: float | None
    sublot_at_least: float | None = None
    counts_from: float | None = None
    counts_to: float | None = None
    sublot_t: float | None = None
    wording: str | None = None


@dataclass(frozen=True, slots=True)
class StatedAs:
    """In which units and on which basis an offer takes the factors of grain, and which mass it pays.

    Parameters
    ----------
    protein_basis_pct : float or None
        Moisture on which it states protein. [%]
    test_weight_by : str or None
        Key of ``grain_units.TEST_WEIGHT``: how pounds by bushel become kilograms by hectolitre there.
    shrink_to_pct : float or None
        Wetter grain is paid for its mass at this moisture. [%]
    shrink_handling_pct : float
        Loss in handling on top, where grain is wetter. [%]
    """

    protein_basis_pct: float | None = None
    test_weight_by: str | None = None
    shrink_to_pct: float | None = None
    shrink_handling_pct: float = 0.0


@dataclass(frozen=True, slots=True)
class Offer:
    """What contracts and bids have in common; fields that are ``None`` are not stated."""

    id: str
    buyer_id: str
    delivery_point_id: str
    material: str | None
    grain_class: str | None
    quantity: Mass | None
    price: Price | None
    clauses: tuple[Clause, ...]
    schedule_ids: tuple[str, ...]
    combine: Literal["additive", "worst-only"] | None
    final: WhoseNumber | None
    sampled_by: Sampler | None
    appeal_days: int | None
    retest_rule: RetestRule | None
    test_paid_by: str | None
    accepts_profiles: tuple[str, ...] | None
    provenance: Provenance
    stated: StatedAs = field(default_factory=StatedAs, kw_only=True)


@dataclass(frozen=True, slots=True)
class Contract(Offer):
    """A balance to fill within a window of delivery."""

    number: str | None
    signed_on: date | None
    balance: Mass | None
    delivery_from: date | None
    delivery_to: date | None

    def stands_on(self, day: date) -> bool:
        """Return whether ``day`` lies in the window of delivery."""
        return _within(day, self.delivery_from, self.delivery_to)


@dataclass(frozen=True, slots=True)
class Bid(Offer):
    """A spot offer."""

    valid_from: date | None
    valid_to: date | None

    def stands_on(self, day: date) -> bool:
        """Return whether the offer stands on ``day``."""
        return _within(day, self.valid_from, self.valid_to)


def _within(day: date, first: date | None, last: date | None) -> bool:
    return (first is None or first <= day) and (last is None or day <= last)
