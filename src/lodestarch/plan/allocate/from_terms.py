"""Contracts and bids of a terms file as offers of a plan: schedules become bands, freight is taken off.

Every schedule is a list of straight pieces. A flat one is a band; a sloping one is taken in steps, each at
its worse end, so that the plan never counts on more than is paid. A limit on a factor that has a schedule is
no limit: the schedule says what is paid beyond it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise
from typing import Final

from lodestarch.common.errors import NoAnswer
from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.plan.allocate.problem import FN, DecidingLab, PlanOffer, PlanProblem, PriceBand
from lodestarch.trade.effect import Effect, Piece, Standing, effect_of
from lodestarch.trade.haul import haul_of
from lodestarch.trade.money_unit import MoneyUnit, amount_per_tonne, kg_in
from lodestarch.trade.offer import Bid, Clause, Contract, Mass
from lodestarch.trade.schedule import Schedule
from lodestarch.trade.schedule_check import schedule_troubles
from lodestarch.trade.terms import Terms

__all__ = ["OffersTaken", "Ranges", "offers_of_terms", "ranges_of", "with_terms"]

Ranges = Mapping[str, tuple[float, float]]
"""Lowest and highest value of each factor among the bins: no blend lies beyond them."""

_HALF: Final = 0.5
_STEPS: Final = 10
"""Steps in which a slope is taken. Ours."""


@dataclass(frozen=True, slots=True)
class OffersTaken:
    """Offers as the plan takes them, and what was left out or simplified."""

    offers: tuple[PlanOffer, ...]
    findings: tuple[Finding, ...]


def offers_of_terms(
    terms: Terms, on: date | None, ranges: Ranges, wanted_odds: float | None = None
) -> OffersTaken:
    """Take the contracts and bids that stand on a day.

    Parameters
    ----------
    terms : Terms
    on : date or None
        ``None``: all of them.
    ranges : mapping
        Of the bins, by factor.
    wanted_odds : float or None
        For every offer: terms do not state it. [1]

    Returns
    -------
    OffersTaken
        An offer whose price cannot be put by tonne is left out with a finding.
    """
    offers: list[PlanOffer] = []
    findings: list[Finding] = []
    every: tuple[Contract | Bid, ...] = (*terms.contracts, *terms.bids)
    for offer in every:
        if on is not None and not offer.stands_on(on):
            continue
        try:
            taken, told = _offer(terms, offer, ranges, wanted_odds)
        except NoAnswer as why:
            # A contract that cannot be put stops the plan: without it, it would be another.
            how = Severity.STOP if isinstance(offer, Contract) else Severity.CHECK
            findings += [
                Finding(why.code, Where(field=f"offer {offer.id}"), how, dict(why.values)),
                _told("plan-terms-left-out", offer.id, how, {}),
            ]
            continue
        offers.append(taken)
        findings += told
    return OffersTaken(tuple(offers), tuple(findings))


def _offer(
    terms: Terms, offer: Contract | Bid, ranges: Ranges, wanted_odds: float | None
) -> tuple[PlanOffer, list[Finding]]:
    if offer.price is None or offer.price.value is None:
        raise NoAnswer("price-missing", offer=offer.id)
    price = _per_t(offer, offer.price.value, offer.price.unit)
    used = [s for name in offer.schedule_ids if (s := terms.schedule(name)) is not None]
    if len(used) < len(offer.schedule_ids) or any(schedule_troubles(s) for s in used):
        raise NoAnswer("plan-terms-schedule", offer=offer.id)
    if len(used) > 1 and offer.combine is None:
        raise NoAnswer("price-combine-missing", offer=offer.id)
    findings: list[Finding] = []
    bands: list[PriceBand] = []
    for schedule in used:
        made, told = _bands(offer, schedule, price, ranges)
        bands += made
        findings += told
    if sum(s.unit is None for s in used) > 0 and len(used) > 1 and offer.combine == "additive":
        findings.append(_told("plan-terms-share", offer.id, Severity.NOTE, {}))
    point = terms.delivery_point(offer.delivery_point_id)
    haul = None if point is None else haul_of(point, offer.material)
    if haul is None:
        findings.append(_told("plan-terms-haul", offer.id, Severity.CHECK, {}))
    buyer = terms.buyer(offer.buyer_id)
    contract = isinstance(offer, Contract)
    mass = (offer.balance or offer.quantity) if isinstance(offer, Contract) else offer.quantity
    most_t = None if mass is None else _tonnes(offer, mass)
    return PlanOffer(
        id=offer.id,
        price_per_t=price - (0.0 if haul is None else haul.per_t),
        least_t=(most_t or 0.0) if contract else 0.0,
        most_t=most_t,
        is_contract=contract,
        clauses=tuple(_clauses(offer, {s.factor for s in used})),
        bands=tuple(_counted(offer, b) for b in bands),
        wanted_odds=wanted_odds,
        lab=DecidingLab()
        if buyer is None
        else DecidingLab(buyer.lab_sd_s, buyer.lab_bias_s, buyer.lab_bias_u_s),
        material=offer.material,
        grain_class=offer.grain_class,
        load_t=None if point is None else point.load_t,
        worst_only=offer.combine == "worst-only",
        use="feed" if buyer is not None and buyer.use == "feed" else "food",
    ), findings


def _clauses(offer: Contract | Bid, priced: set[str]) -> Iterator[Clause]:
    for clause in offer.clauses:
        if clause.factor not in priced:
            yield clause
        elif clause.sublot_at_least is not None:
            yield replace(clause, at_least=None, at_most=None, counts_from=None, counts_to=None)


def _counted(offer: Contract | Bid, band: PriceBand) -> PriceBand:
    """A band as reports count: a limit half a unit down is a lab that rounds, and every end moves."""
    for clause in offer.clauses:
        if clause.factor != band.factor or clause.at_least is None or clause.counts_from is None:
            continue
        down = clause.at_least - clause.counts_from
        low, high = (
            end - down if end is not None and (down == _HALF or end == clause.at_least) else end
            for end in (band.low, band.high)
        )
        return replace(band, low=low, high=high)
    return band


def _told(code: str, offer_id: str, severity: Severity, more: Mapping[str, Value]) -> Finding:
    return Finding(code, Where(field=f"offer {offer_id}"), severity, {"id": offer_id, **more})


def _per_t(offer: Contract | Bid, amount: float, unit: MoneyUnit) -> float:
    per_t = amount_per_tonne(amount, unit, offer.material)
    if per_t is None:
        raise NoAnswer("price-unit-unknown", offer=offer.id, unit=str(unit))
    return per_t


def _tonnes(offer: Contract | Bid, mass: Mass) -> float:
    kg = kg_in(mass.unit, offer.material)
    if kg is None:
        raise NoAnswer("price-unit-unknown", offer=offer.id, unit=mass.unit)
    return mass.value * kg / 1000.0


def _bands(
    offer: Contract | Bid, schedule: Schedule, price: float, ranges: Ranges
) -> tuple[list[PriceBand], list[Finding]]:
    """Bands of one schedule, and what was simplified."""

    def money(amount: float) -> float:
        return amount if schedule.unit is None else _per_t(offer, amount, schedule.unit)

    def priced(amount: float) -> float:
        # A price in place of the offer's is stated in the offer's own unit.
        return amount if offer.price is None else _per_t(offer, amount, offer.price.unit)

    effect = effect_of(schedule, money, priced)
    findings: list[Finding] = []
    factor: dict[str, Value] = {"factor": schedule.factor}
    if any(p.standing is Standing.NOT_STATED for p in effect.pieces):
        findings.append(_told("plan-terms-unstated", offer.id, Severity.CHECK, factor))
    bands = [b for piece in effect.pieces for b in _of_piece(effect, piece, price, ranges)]
    if len(bands) > len(effect.pieces):
        findings.append(_told("plan-terms-slope", offer.id, Severity.NOTE, factor | {"count": _STEPS}))
    return bands, findings


def _of_piece(effect: Effect, piece: Piece, price: float, ranges: Ranges) -> Iterator[PriceBand]:
    low = None if math.isinf(piece.low) else piece.low
    high = None if math.isinf(piece.high) else piece.high
    if piece.standing is not Standing.PAID:
        yield PriceBand(effect.factor, low, high, None)
        return
    if piece.keep_slope == 0.0 and piece.add_slope == 0.0:
        yield PriceBand(effect.factor, low, high, piece.of(price, 0.0) - price)
        return
    least, most = ranges.get(effect.factor, (piece.low, piece.high))
    first, last = max(piece.low, least), min(piece.high, most)
    if not (math.isfinite(first) and math.isfinite(last)) or last <= first:
        first = last = piece.high if math.isinf(piece.low) else piece.low
    ends = [first + (last - first) * k / _STEPS for k in range(_STEPS + 1)] if last > first else [first]
    edges = [low, *(e for e in ends if piece.low < e < piece.high), high]
    for a, b in pairwise(edges):
        # No blend lies beyond the range of the bins: an open end is as good as the range's.
        at = [x if x is not None else (least if k == 0 else most) for k, x in enumerate((a, b))]
        change = min(piece.of(price, x) - price for x in at if math.isfinite(x))
        yield PriceBand(effect.factor, a, b, change)


def ranges_of(problem: PlanProblem) -> Ranges:
    """Lowest and highest value of each factor among the bins of a problem."""
    values: dict[str, list[float]] = {}
    for one in problem.bins:
        seconds = [y.fn_s for y in one.layers] if one.fn_s is None else [one.fn_s]
        values.setdefault(FN, []).extend(seconds)
        for factor, known in one.factors.items():
            values.setdefault(factor, []).append(known.value)
    return {factor: (min(v), max(v)) for factor, v in values.items() if v}


def with_terms(
    problem: PlanProblem, terms: Terms, on: date | None, wanted_odds: float | None = None
) -> tuple[PlanProblem, tuple[Finding, ...]]:
    """Add the offers of terms to those of a problem; its jurisdiction too, where the problem states none."""
    if terms.currency != problem.currency:
        values: dict[str, Value] = {"theirs": terms.currency, "ours": problem.currency}
        return problem, (Finding("plan-terms-currency", Where(field="currency"), Severity.STOP, values),)
    taken = offers_of_terms(terms, on, ranges_of(problem), wanted_odds)
    joined = replace(
        problem,
        offers=(*problem.offers, *taken.offers),
        jurisdiction=problem.jurisdiction or terms.jurisdiction,
    )
    return joined, taken.findings
