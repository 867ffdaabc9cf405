"""What it costs to get grain to a buyer and have it tested there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from lodestarch.trade.money_unit import BY_DISTANCE, BY_MASS, amount_per_tonne
from lodestarch.trade.offer import Offer
from lodestarch.trade.terms import Buyer, DeliveryPoint

__all__ = ["KM_PER_MILE", "Haul", "fee_of_test", "haul_of"]

KM_PER_MILE: Final = 1.609344
"""International mile. [km]  Exact by definition."""

_SELLERS_PART: Final = {"seller": 1.0, "buyer": 0.0, "shared": 0.5, "loser": 0.0}
"""Part of the fee for the ordinary test that the seller bears; who loses pays for the appeal, not for it."""


@dataclass(frozen=True, slots=True)
class Haul:
    """Freight to a delivery point.

    Parameters
    ----------
    per_t : float
        [money/t]
    per_t_km : float or None
        For a tonne and loaded kilometre, where freight goes by distance. [money/(t km)]
    distance_km : float or None
    """

    per_t: float
    per_t_km: float | None
    distance_km: float | None


def haul_of(point: DeliveryPoint, material: str | None) -> Haul | None:
    """Return the freight to a delivery point; ``None`` where the terms do not give it.

    Notes
    -----
    By loaded mile or kilometre: rate x distance / load. By load: rate / load. By mass: the rate. A rate of 0
    by mass says that the price is at the gate.

    Examples
    --------
    22 miles at 4.10 a loaded mile with 26 t:

    >>> from lodestarch.common.provenance import Provenance
    >>> from lodestarch.trade.money_unit import MoneyUnit
    >>> mile = MoneyUnit("USD", False, "mi")
    >>> mill = DeliveryPoint("m", "b", "Mill", 22 * KM_PER_MILE, 4.10, mile, 26.0, Provenance.INVENTED)
    >>> round(haul_of(mill, "wheat").per_t, 4)
    3.4692
    """
    unit, rate = point.freight_unit, point.freight
    if unit is None or rate is None:
        return None
    whole = rate * (0.01 if unit.hundredths else 1.0)
    if unit.per in BY_MASS:
        per_t = amount_per_tonne(rate, unit, material)
        return None if per_t is None else Haul(per_t, None, point.distance_km)
    if point.load_t is None or not point.load_t > 0:
        return None
    if unit.per == "load":
        return Haul(whole / point.load_t, None, point.distance_km)
    if unit.per not in BY_DISTANCE or point.distance_km is None:
        return None
    per_km = whole / (KM_PER_MILE if unit.per == "mi" else 1.0)
    per_t_km = per_km / point.load_t
    return Haul(per_t_km * point.distance_km, per_t_km, point.distance_km)


def fee_of_test(buyer: Buyer, offer: Offer) -> float | None:
    """Return the seller's part of the fee for one test there; ``None`` where the unit is no test. [money]

    Notes
    -----
    0 where no fee is stated. Where a fee is stated and not who pays it, the seller is taken to.
    """
    if buyer.test_fee is None:
        return 0.0
    unit = buyer.test_fee_unit
    if unit is None or unit.per != "test":
        return None
    whole = buyer.test_fee * (0.01 if unit.hundredths else 1.0)
    return whole * _SELLERS_PART[offer.test_paid_by or "seller"]
