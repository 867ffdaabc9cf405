"""A day's loads priced one after the other: each takes the room that the ones before it left."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from lodestarch.common.findings import Finding
from lodestarch.plan.advice import Advice, Costs, advise
from lodestarch.trade.lot_price import Lot, LotPrice, price_lot
from lodestarch.trade.outlets import Grain, Outlet, outlets_of
from lodestarch.trade.terms import Terms

__all__ = ["LoadToPrice", "PricedDay", "PricedLoad", "price_loads"]


@dataclass(frozen=True, slots=True)
class LoadToPrice:
    """One load with what is known of its grain."""

    lot: Lot
    grain: Grain


@dataclass(frozen=True, slots=True)
class PricedLoad:
    """One load at every outlet that had room for it, with advice.

    ``full`` names the offers that would have taken it and had no room left.
    """

    price: LotPrice
    advice: Advice
    full: tuple[str, ...]

    @property
    def net(self) -> float | None:
        """What it is expected to bring where it goes. [money]"""
        best = self.price.best
        return None if best is None or best.net_per_t is None else best.net_per_t * self.price.lot.tonnes


@dataclass(frozen=True, slots=True)
class PricedDay:
    """All loads of a day.

    Parameters
    ----------
    loads : tuple of PricedLoad
        In the order given.
    net : float
        Expected, of the loads that go somewhere. [money]
    at_stake : float
        Sum of what the odds move at the outlet of each load. [money]
    tonnes : float
        Of the loads that go somewhere.
    room_t : mapping of str to float
        What is left of each offer with a stated quantity. [t]
    findings : tuple of Finding
        Each once, whatever the number of loads.
    """

    loads: tuple[PricedLoad, ...]
    net: float
    at_stake: float
    tonnes: float
    room_t: dict[str, float]
    findings: tuple[Finding, ...]


def price_loads(
    terms: Terms, loads: Sequence[LoadToPrice], costs: Costs, *, on: date | None = None
) -> PricedDay:
    """Price loads in the order in which they came.

    Parameters
    ----------
    terms : Terms
        With the jurisdiction whose law holds.
    loads : sequence of LoadToPrice
    costs : Costs
    on : date, optional
        Day of the offers; all stand without it.

    Notes
    -----
    Contracts first, bids second, nothing split, and no load kept back for a later one: a day's account, not
    its best plan. A retest or a wait that is advised does not change where the load is counted.
    """
    room: dict[str, float] = {}
    findings: dict[tuple[str, str], Finding] = {}
    known: dict[tuple[object, ...], tuple[Outlet, ...]] = {}
    out: list[PricedLoad] = []
    for load in loads:
        key = (load.grain.material, load.grain.grain_class, *sorted(load.grain.factors.items()))
        if key not in known:
            made = outlets_of(terms, load.grain, on)
            known[key] = made.outlets
            for f in made.findings:
                findings.setdefault((f.code, str(sorted(f.values.items()))), f)
        one = _price(known[key], load.lot, room, costs, terms.jurisdiction, on)
        best = one.price.best
        if best is not None:
            left = room.get(best.outlet.offer_id, best.outlet.room_t)
            room[best.outlet.offer_id] = left - load.lot.tonnes
        out.append(one)
    gone = [p for p in out if p.net is not None]
    return PricedDay(
        tuple(out),
        sum(p.net or 0.0 for p in gone),
        sum(p.price.at_stake or 0.0 for p in gone),
        sum(p.price.lot.tonnes for p in gone),
        room,
        tuple(findings.values()),
    )


def _price(
    outlets: Sequence[Outlet],
    lot: Lot,
    room: dict[str, float],
    costs: Costs,
    jurisdiction: str | None,
    on: date | None,
) -> PricedLoad:
    left = [replace(o, room_t=room.get(o.offer_id, o.room_t)) for o in outlets]
    able = [o for o in left if o.room_t >= lot.tonnes - 1e-9]
    price = price_lot(able, lot, jurisdiction=jurisdiction, on=on)
    full = tuple(o.offer_id for o in left if o.room_t < lot.tonnes - 1e-9)
    return PricedLoad(price, advise(price, costs, on=on), full)
