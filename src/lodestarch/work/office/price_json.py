"""A priced lot, an advice and a cargo as plain values; keys in ``docs/json.md``."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from lodestarch.plan.advice import Advice
from lodestarch.trade.clauses import ClauseReading
from lodestarch.trade.law import Verdict
from lodestarch.trade.likely_function import Level, likely_function
from lodestarch.trade.lot_price import LotPrice, Row
from lodestarch.words.money import PlaceUnit
from lodestarch.work.office.price import CargoAnswer, PriceAnswer

__all__ = ["advice_as_dict", "cargo_as_dict", "lot_as_dict", "price_as_dict"]

_KIND = ("exact", "at or below", "above")


def _verdicts(verdicts: Iterable[Verdict]) -> list[dict[str, Any]]:
    return [
        {
            "rule": v.rule.id,
            "effect": v.rule.effect.value,
            "source": v.rule.source,
            "provenance": v.rule.provenance.value,
            "value": v.value,
            "above": v.rule.above,
        }
        for v in verdicts
    ]


def _row(row: Row) -> dict[str, Any]:
    o = row.outlet
    even = row.break_even
    limit = o.limit
    return {
        "offer": o.offer_id,
        "buyer": o.buyer,
        "delivery_point": o.place,
        "kind": "contract" if o.is_contract else "bid",
        "stands": o.stands.value,
        "opens_on": None if o.opens_on is None else o.opens_on.isoformat(),
        "at_least_s": None if limit is None else limit.at_least_s,
        "at_most_s": None if limit is None else limit.at_most_s,
        "judged": None if limit is None or limit.judged is None else limit.judged.value,
        "comparable": row.comparable,
        "barred_by": _verdicts(row.barred_by),
        "warned_by": _verdicts(row.warned_by),
        "net_per_t": row.net_per_t,
        "at_mean_per_t": row.at_mean_per_t,
        "spread_per_t": row.spread_per_t,
        "low_per_t": row.low_per_t,
        "high_per_t": row.high_per_t,
        "haul_per_t": o.haul.per_t,
        "test_fee": o.fee,
        "final": None if o.agreed.final is None else o.agreed.final.value,
        "sampled_by": None if o.agreed.sampled_by is None else o.agreed.sampled_by.value,
        "appeal_days": o.agreed.appeal_days,
        "retest_rule": None if o.agreed.retest_rule is None else o.agreed.retest_rule.value,
        "test_paid_by": o.agreed.test_paid_by,
        "paid_part": o.paid_part,
        "p_makes_it": row.p_makes_it,
        "p_turned_away": row.p_turned_away,
        "p_not_stated": row.p_not_stated,
        "side": row.side or None,
        "ahead_per_t": None if even is None else even.ahead_per_t,
        "break_even_freight_per_t": None if even is None else even.freight_per_t,
        "break_even_km": None if even is None else even.distance_km,
        "missing_factors": list(o.missing),
        "turned_away_by": list(o.turned_away_by),
    }


def lot_as_dict(price: LotPrice) -> dict[str, Any]:
    """One lot at every buyer, the best net first."""
    best = price.best
    net = None if best is None else best.net_per_t
    return {
        "seconds": price.lot.seconds,
        "kind": _KIND[price.lot.kind.value],
        "u_s": price.lot.u_s,
        "tonnes": price.lot.tonnes,
        "best": None if best is None else best.outlet.offer_id,
        "net_per_t": net,
        "net": None if net is None else net * price.lot.tonnes,
        "at_stake": price.at_stake,
        "turned_away_per_t": price.turned_away_per_t,
        "bound_only": price.bound_only,
        "buyers": [_row(r) for r in price.rows],
    }


def advice_as_dict(advice: Advice) -> dict[str, Any]:
    """What to do, the figures that led to it, and what would change it."""
    retest, keep = advice.retest, advice.keeping
    return {
        "do": advice.do.value,
        "why": advice.why.value,
        "opinion": True,
        "ahead_per_t": advice.ahead_per_t,
        "retest_worth": None if retest is None else retest.worth,
        "retest_cost": None if retest is None else retest.cost,
        "retest_net": None if retest is None else retest.net,
        "retest_changes": None if retest is None else retest.changes,
        "keep_months": None if keep is None else keep.months,
        "keep_low_per_t": None if keep is None else keep.low_per_t,
        "keep_high_per_t": None if keep is None else keep.high_per_t,
        "keep_cost_per_t": None if keep is None else keep.cost_per_t,
        "keep_until": None if keep is None or keep.until is None else keep.until.isoformat(),
        "lower_s": None if advice.lower is None else advice.lower[0].shift_s,
        "lower_offer": None if advice.lower is None else advice.lower[1].offer_id,
        "higher_s": None if advice.higher is None else advice.higher[0].shift_s,
        "higher_offer": None if advice.higher is None else advice.higher[1].offer_id,
    }


def _function(price: LotPrice) -> list[dict[str, Any]]:
    best = price.best
    if best is None or best.outlet.use is None:
        return []
    level = {"under": Level.LOW, "over": Level.HIGH}.get(best.side, Level.WITHIN)
    level = Level.LOW if best.outlet.is_feed else level
    return [
        {"code": s.code, "source": s.source, "provenance": s.provenance.value}
        for s in likely_function(best.outlet.use, level)
    ]


def price_as_dict(answer: PriceAnswer, place: PlaceUnit) -> dict[str, Any]:
    """The answer of ``price`` for one lot."""
    price, advice = answer.price, answer.advice
    body: dict[str, Any] = {
        "currency": place.currency,
        "demonstration": False,
        "trades_per": place.per,
        "trades_per_kg": place.kg,
        "u_from_scatter": answer.u_from_scatter,
    }
    if price is None or advice is None:
        return body
    return {
        **body,
        **lot_as_dict(price),
        "advice": advice_as_dict(advice),
        "likely_function": _function(price),
    }


def _reading(reading: ClauseReading) -> dict[str, Any]:
    return {
        "judged": reading.judged.value,
        "value": reading.value,
        "within": reading.within,
        "under": reading.under,
        "over": reading.over,
        "sublots_outside": [i + 1 for i in reading.sublots_outside],
        "least_sublot": reading.least_sublot,
    }


def cargo_as_dict(answer: CargoAnswer) -> dict[str, Any]:
    """The answer of ``price`` for a cargo: every clause side by side."""
    return {
        "sublots": [{"seconds": s.value, "tonnes": s.tonnes} for s in answer.sublots],
        "agreed": None if answer.agreed is None else answer.agreed.value,
        "clauses": [_reading(r) for r in answer.readings],
    }
