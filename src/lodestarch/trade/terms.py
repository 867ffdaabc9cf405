"""Terms as values: buyers, delivery points, contracts, bids, bins, joined by id.

``docs/terms.md`` gives the schema of the file they come from. Nothing here is a default of the trade: what a
contract does not state is ``None`` and is asked for.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

from lodestarch.common.provenance import Provenance
from lodestarch.trade.limits import Limit
from lodestarch.trade.money_unit import MoneyUnit
from lodestarch.trade.offer import Bid, Contract
from lodestarch.trade.schedule import Part, Schedule, Side, discount_starts

__all__ = [
    "Bin",
    "Buyer",
    "DeliveryPoint",
    "Layer",
    "Terms",
    "limits_of",
]


@dataclass(frozen=True, slots=True)
class Buyer:
    """Who takes grain, and what is known of the lab that decides for him.

    Parameters
    ----------
    id, name : str
    accepts_profiles : tuple of str or None
        Method profiles whose results he compares with the limit; ``None``: not stated.
    lab_sd_s : float or None
        Standard deviation between two results of that lab, at the limit. [s]
    lab_bias_s, lab_bias_u_s : float or None
        What it reads above this bench, and how sure that is. [s]
    test_fee : float or None
    test_fee_unit : MoneyUnit or None
    provenance : Provenance
    use : str or None
        What he makes of it, one of ``likely_function.USES``; law and likely function go by it.
    """

    id: str
    name: str
    accepts_profiles: tuple[str, ...] | None
    lab_sd_s: float | None
    lab_bias_s: float | None
    lab_bias_u_s: float | None
    test_fee: float | None
    test_fee_unit: MoneyUnit | None
    provenance: Provenance
    use: str | None = None


@dataclass(frozen=True, slots=True)
class DeliveryPoint:
    """Where a buyer takes grain.

    Parameters
    ----------
    id, buyer_id, name : str
    distance_km : float or None
        Loaded, one way. [km]
    freight : float or None
    freight_unit : MoneyUnit or None
    load_t : float or None
        What one load carries. [t]
    provenance : Provenance
    """

    id: str
    buyer_id: str
    name: str
    distance_km: float | None
    freight: float | None
    freight_unit: MoneyUnit | None
    load_t: float | None
    provenance: Provenance


@dataclass(frozen=True, slots=True)
class Layer:
    """One filling of a bin: tonnes, its falling number with what it says, and other factors by key."""

    tonnes: float
    filled_on: date | None = None
    ticket: str | None = None
    sample: str | None = None
    fn_u_s: float | None = None
    fn_says: Literal["exact", "at-or-below", "above"] | None = None
    factors: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Bin:
    """One place of keeping; layers from the bottom up, layers until turned.

    Parameters
    ----------
    id, name : str
    material, grain_class : str or None
    capacity_t, tonnes : float or None
        Room, and what lies in it where its layers are not stated. [t]
    turned_on : date or None
    least_draw_t, gate_error_t : float or None
        Smallest draw that makes sense; standard uncertainty of a draw. [t]
    layers : tuple of Layer
    provenance : Provenance
    """

    id: str
    name: str
    material: str | None
    grain_class: str | None
    capacity_t: float | None
    tonnes: float | None
    turned_on: date | None
    least_draw_t: float | None
    gate_error_t: float | None
    layers: tuple[Layer, ...]
    provenance: Provenance


@dataclass(frozen=True, slots=True)
class Terms:
    """One file of terms; every ``buyer_id`` and ``delivery_point_id`` in it is there.

    A contract may name a schedule that could not be read; :meth:`schedule` returns ``None`` for it, and its
    price is not evaluated.
    """

    currency: str
    title: str | None = None
    as_of: date | None = None
    jurisdiction: str | None = None
    buyers: tuple[Buyer, ...] = ()
    delivery_points: tuple[DeliveryPoint, ...] = ()
    schedules: tuple[Schedule, ...] = ()
    contracts: tuple[Contract, ...] = ()
    bids: tuple[Bid, ...] = ()
    bins: tuple[Bin, ...] = ()
    provenance: Provenance = Provenance.ENTERED_BY_LAB
    retest_cost: float | None = None
    """One more pair of tubes here, all in. [money]"""
    storage_cost: float | None = None
    """Keeping a tonne for a month. [money/(t month)]"""

    def buyer(self, buyer_id: str) -> Buyer | None:
        """Return the buyer of an id."""
        return next((b for b in self.buyers if b.id == buyer_id), None)

    def delivery_point(self, point_id: str) -> DeliveryPoint | None:
        """Return the delivery point of an id."""
        return next((p for p in self.delivery_points if p.id == point_id), None)

    def schedule(self, schedule_id: str) -> Schedule | None:
        """Return the schedule of an id."""
        return next((s for s in self.schedules if s.id == schedule_id), None)

    def bin(self, bin_id: str) -> Bin | None:
        """Return the bin of an id."""
        return next((b for b in self.bins if b.id == bin_id), None)


def limits_of(terms: Terms, on: date | None = None) -> tuple[Limit, ...]:
    """Return the falling-number floors and windows that terms state, contracts first.

    Parameters
    ----------
    terms : Terms
    on : date, optional
        Only what stands on that day.

    Notes
    -----
    An offer with clauses on the falling number has the limits of its clauses; one without has those at which
    its schedules leave the plain price.
    """
    offers: tuple[Contract | Bid, ...] = (*terms.contracts, *terms.bids)
    out: list[Limit] = []
    for offer in offers:
        if on is not None and not offer.stands_on(on):
            continue
        buyer = terms.buyer(offer.buyer_id)
        name = offer.buyer_id if buyer is None else buyer.name
        pairs = [(c.at_least, c.at_most) for c in offer.clauses if c.factor == "fn_s"]
        if not pairs:
            schedules = (terms.schedule(s) for s in offer.schedule_ids)
            pairs = [_leaves_price(s.parts) for s in schedules if s is not None and s.factor == "fn_s"]
        out += [
            Limit(offer.buyer_id, name, low, high, offer.id)
            for low, high in dict.fromkeys(pairs)
            if low is not None or high is not None
        ]
    return tuple(out)


def _leaves_price(parts: Iterable[Part]) -> tuple[float | None, float | None]:
    """Where discounts begin: below and above."""
    lows: list[float] = []
    highs: list[float] = []
    for part in parts:
        for side, start in discount_starts(part):
            (lows if side is Side.BELOW else highs).append(start)
    return max(lows, default=None), min(highs, default=None)
