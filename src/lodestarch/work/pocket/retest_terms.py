"""What a file of terms says of a retest: limit, rule, fee, and money at every outlet."""

from __future__ import annotations

import math
from dataclasses import dataclass

from lodestarch.common.errors import NoAnswer
from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.common.money import MoneyBySeconds
from lodestarch.decide.another_test import Outlet
from lodestarch.decide.combine import CombineRule
from lodestarch.decide.limits import Limits
from lodestarch.sheets.terms import read_terms
from lodestarch.trade.net_price import net_curve, worth_turned_away
from lodestarch.trade.offer import Bid, Contract, Judged
from lodestarch.trade.outlets import Grain, outlets_of
from lodestarch.trade.outlets import Outlet as TradeOutlet
from lodestarch.trade.terms import Terms

__all__ = ["FromTerms", "LeftOut", "from_terms"]

_SHARE = {"seller": 1.0, "buyer": 0.0, "shared": 0.5}


@dataclass(frozen=True, slots=True)
class LeftOut:
    """An offer that the worth of a test cannot be held against.

    Parameters
    ----------
    offer : str
    why : str
        ``own-number``: our own number is final there, so a further test changes what is paid and not what is
        known; ``lab-unknown``: nothing is stated of the lab that decides; ``turned-away``: what grain
        turned away is worth is not known; ``not-priced``.
    """

    offer: str
    why: str


@dataclass(frozen=True, slots=True)
class FromTerms:
    """One offer for a retest.

    Parameters
    ----------
    limits : Limits
    rule : CombineRule or None
        ``None``: the offer does not say.
    fee : float
        Of one test. [money]
    seller_share : float or None
        Of the fee; ``None``: whoever loses. [1]
    money : MoneyBySeconds
        Of the load at home, by the number that counts. [money]
    unit : str
        For a tonne.
    outlets : tuple of Outlet
        Every offer whose deciding lab is known, for the load.
    left_out : tuple of LeftOut
        The others.
    """

    limits: Limits
    rule: CombineRule | None
    fee: float
    seller_share: float | None
    money: MoneyBySeconds
    unit: str
    outlets: tuple[Outlet, ...]
    left_out: tuple[LeftOut, ...] = ()


def from_terms(
    file: tuple[str, bytes] | None, offer_id: str | None, turned_away: float | None, tonnes: float
) -> tuple[FromTerms | None, tuple[Finding, ...]]:
    """Read what the terms say of one offer.

    Parameters
    ----------
    file : tuple of str and bytes, or None
        Name and content.
    offer_id : str or None
    turned_away : float or None
        What a tonne is worth that is turned away; the best offer that takes any number where not given.
    tonnes : float
        Of the load. [t]
    """
    if file is None:
        return None, ()
    name, data = file
    where = Where(source=name)
    read = read_terms(data, name)
    terms = read.terms
    if terms is None:
        return None, read.findings
    made = outlets_of(terms, Grain(None, None, {}))
    known = {o.offer_id: o for o in made.outlets}
    offers: tuple[Contract | Bid, ...] = (*terms.contracts, *terms.bids)
    offer = next((o for o in offers if o.id == offer_id), None)
    if offer is None or offer.id not in known:
        values = {"offer": offer_id or "", "offers": ", ".join(known)}
        unknown = Finding("retest-offer-unknown", where, Severity.STOP, values)
        return None, (*(f for f in made.findings if f.where.field == offer_id), unknown)
    outlet = known[offer.id]
    if outlet.limit is None:
        return None, (Finding("retest-offer-no-limit", where, Severity.STOP, {"offer": offer.id}),)
    salvage = turned_away if turned_away is not None else worth_turned_away(made.outlets)
    if salvage is None and not outlet.curve.always_paid:
        return None, (Finding("retest-turned-away", where, Severity.STOP, {"offer": offer.id}),)
    return _one(terms, offer, outlet, made.outlets, salvage, tonnes, where)


def _one(
    terms: Terms, offer: Contract | Bid, outlet: TradeOutlet, outlets: tuple[TradeOutlet, ...],
    salvage: float | None, tonnes: float, where: Where,
) -> tuple[FromTerms | None, tuple[Finding, ...]]:  # fmt: skip
    found: list[Finding] = []
    if offer.retest_rule is None:
        found.append(Finding("retest-offer-no-rule", where, Severity.CHECK, {"offer": offer.id}))
    limit = outlet.limit
    if limit is not None and limit.judged not in {None, Judged.PER_LOAD}:
        found.append(Finding("retest-offer-not-per-load", where, Severity.CHECK, {"offer": offer.id}))
    buyer = terms.buyer(offer.buyer_id)
    fee = 0.0
    if buyer is not None and buyer.test_fee is not None:
        hundredths = buyer.test_fee_unit is not None and buyer.test_fee_unit.hundredths
        fee = buyer.test_fee * (0.01 if hundredths else 1.0)
    try:
        limits = Limits(
            limit.at_least_s if limit else None, limit.at_most_s if limit else None,
            limit.counts_from_s if limit else None, limit.counts_to_s if limit else None,
        )  # fmt: skip
    except NoAnswer as cause:
        return None, (Finding(cause.code, where, Severity.STOP, cause.values),)
    back = salvage if salvage is not None else math.nan

    def load_money(one: TradeOutlet) -> MoneyBySeconds:
        per_t = net_curve(one, tonnes, 0.0 if one.curve.always_paid else back)
        return per_t.times(tonnes, terms.currency)

    why = {o.offer_id: _why_not(o, salvage) for o in outlets}
    choices = tuple(
        Outlet(o.offer_id, load_money(o), o.deciding)
        for o in outlets
        if o.deciding is not None and why[o.offer_id] is None
    )
    priced = {o.offer_id for o in outlets}
    left = [LeftOut(name, reason) for name, reason in why.items() if reason is not None]
    left += [LeftOut(o.id, "not-priced") for o in (*terms.contracts, *terms.bids) if o.id not in priced]
    found += [
        Finding("retest-outlet-left-out", where, Severity.NOTE, {"offer": one.offer, "why_not": one.why})
        for one in left
    ]
    paid_by = offer.test_paid_by or "seller"
    share = None if paid_by == "loser" else _SHARE.get(paid_by, 1.0)
    rule = CombineRule(offer.retest_rule.value) if offer.retest_rule else None
    unit = f"{terms.currency}/t"
    made = FromTerms(limits, rule, fee, share, load_money(outlet), unit, choices, tuple(left))
    return made, tuple(found)


def _why_not(outlet: TradeOutlet, salvage: float | None) -> str | None:
    """Why the worth of a test cannot be held against an outlet; ``None`` where it can."""
    if outlet.decides_here:
        return "own-number"
    if outlet.deciding is None:
        return "lab-unknown"
    return None if outlet.curve.always_paid or salvage is not None else "turned-away"
