"""A day's prices as plain values; keys in ``docs/json.md``."""

from __future__ import annotations

from typing import Any

from lodestarch.plan.priced_loads import PricedLoad
from lodestarch.work.office.day_prices import DayPrices
from lodestarch.work.office.price_json import advice_as_dict, lot_as_dict

__all__ = ["day_prices_as_dict"]


def _load(one: PricedLoad) -> dict[str, Any]:
    lot = lot_as_dict(one.price)
    keys = ("seconds", "tonnes", "best", "net_per_t", "net", "at_stake")
    best = one.price.best
    return {
        "name": one.price.lot.name,
        **{k: lot[k] for k in keys},
        "buyer": None if best is None else best.outlet.buyer,
        "p_makes_it": None if best is None else best.p_makes_it,
        "advice": advice_as_dict(one.advice),
        "not_comparable": [r.outlet.offer_id for r in one.price.rows if not r.comparable],
        "barred_by": sorted({v.rule.id for r in one.price.rows for v in r.barred_by}),
        "too_high": [r.outlet.offer_id for r in one.price.rows if r.side == "over"],
        "full": list(one.full),
    }


def day_prices_as_dict(prices: DayPrices) -> dict[str, Any]:
    """Loads in the order in which they came, and the day's sums."""
    return {
        "currency": prices.place.currency,
        "on": None if prices.on is None else prices.on.isoformat(),
        "net": prices.day.net,
        "at_stake": prices.day.at_stake,
        "tonnes": prices.day.tonnes,
        "held": prices.held,
        "untested": prices.untested,
        "no_outlet": prices.no_outlet,
        "missing_factors": list(prices.missing),
        "room_t": [{"offer": k, "left_t": v} for k, v in prices.day.room_t.items()],
        "loads": [_load(one) for one in prices.day.loads],
    }
