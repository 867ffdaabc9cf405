"""Offers as money for one kind of grain: price by seconds, haul, fee, the lab that decides, room left."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

from lodestarch.common.errors import NoAnswer
from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.decide.deciding_lab import DecidingLab
from lodestarch.trade.haul import Haul, fee_of_test, haul_of
from lodestarch.trade.money_unit import kg_in
from lodestarch.trade.offer import (
    Bid,
    Clause,
    Contract,
    Judged,
    Mass,
    RetestRule,
    Sampler,
    WhoseNumber,
)
from lodestarch.trade.price_curve import FN, PriceCurve, price_curve
from lodestarch.trade.schedule import Side, discount_starts
from lodestarch.trade.stated_as import factors_there, paid_part, shrunk
from lodestarch.trade.terms import Terms

__all__ = ["Agreed", "Grain", "LimitHere", "Outlet", "Outlets", "Stands", "outlets_of"]


class Stands(StrEnum):
    """When an offer can be used."""

    NOW = "now"
    LATER = "later"
    """Its window of delivery opens on a later day."""


@dataclass(frozen=True, slots=True)
class Grain:
    """What is offered.

    Parameters
    ----------
    material, grain_class : str or None
        ``None``: not stated; every offer is then taken to be for it.
    factors : mapping
        Values of factors other than the falling number, by key.
    protein_basis_pct : float or None
        Moisture on which its protein is stated; ``None``: that of whoever looks at it. [%]
    """

    material: str | None
    grain_class: str | None
    factors: Mapping[str, float]
    protein_basis_pct: float | None = None


@dataclass(frozen=True, slots=True)
class LimitHere:
    """The falling number that an offer wants, and how it is judged. [s]

    ``counts_from_s`` and ``counts_to_s`` are the smallest and largest unrounded reports that count.
    ``judged`` is ``None`` for a limit read off a schedule.
    """

    at_least_s: float | None
    at_most_s: float | None
    counts_from_s: float | None
    counts_to_s: float | None
    judged: Judged | None

    @property
    def low_report_s(self) -> float:
        """Smallest unrounded report that counts, minus infinity without a floor. [s]"""
        low = self.counts_from_s if self.counts_from_s is not None else self.at_least_s
        return -math.inf if low is None else low

    @property
    def high_report_s(self) -> float:
        """Largest unrounded report that counts, infinity without a ceiling. [s]"""
        high = self.counts_to_s if self.counts_to_s is not None else self.at_most_s
        return math.inf if high is None else high


@dataclass(frozen=True, slots=True)
class Agreed:
    """What an offer says of number, sample and appeal; ``None``: not stated.

    Parameters
    ----------
    final : WhoseNumber or None
    sampled_by : Sampler or None
    appeal_days : int or None
    retest_rule : RetestRule or None
    test_paid_by : str or None
    """

    final: WhoseNumber | None = None
    sampled_by: Sampler | None = None
    appeal_days: int | None = None
    retest_rule: RetestRule | None = None
    test_paid_by: str | None = None


@dataclass(frozen=True, slots=True)
class Outlet:
    """One contract or bid as money for a tonne of this grain.

    Parameters
    ----------
    offer_id, buyer_id, buyer, place : str
    is_contract : bool
    stands : Stands
    opens_on : date or None
        For an offer that stands later.
    curve : PriceCurve
        At the delivery point. [money/t]
    haul : Haul
    fee : float
        Seller's part of the fee for one test there. [money]
    deciding : DecidingLab or None
        The lab whose number is final; ``None``: the terms do not say how it reads.
    decides_here : bool
        This bench's own number is final.
    limit : LimitHere or None
    room_t : float
        What the offer still takes, infinite where not stated. [t]
    accepts_profiles : tuple of str or None
    missing : tuple of str
        Factors that move the price and are not known.
    turned_away_by : tuple of str
        Factors for which this grain is turned away whatever its seconds.
    use : str or None
        What the buyer makes of it.
    agreed : Agreed
        Whose number is final, and what was agreed on sample and appeal.
    paid_part : float
        Part of the mass that is paid for: less than 1 where wetter grain is shrunk. [1]
    """

    offer_id: str
    buyer_id: str
    buyer: str
    place: str
    is_contract: bool
    stands: Stands
    opens_on: date | None
    curve: PriceCurve
    haul: Haul
    fee: float
    deciding: DecidingLab | None
    decides_here: bool
    limit: LimitHere | None
    room_t: float
    accepts_profiles: tuple[str, ...] | None
    missing: tuple[str, ...]
    turned_away_by: tuple[str, ...]
    use: str | None = None
    agreed: Agreed = field(default_factory=Agreed)
    paid_part: float = 1.0

    @property
    def is_feed(self) -> bool:
        """Return whether the grain is bought as feed."""
        return self.use == "feed"

    def accepts(self, profile: str, *, as_is: bool = False) -> bool:
        """Return whether a result under a profile (``meal-14`` or ``meal-14@2``) is compared here.

        A result weighed as is counts only where ``<profile>-as-is`` or ``as-is`` is accepted by name. Where
        neither limit nor price asks for the number, nothing is compared.
        """
        if self.limit is None and self.curve.money.breaks_s.size == 0:
            return True
        if self.accepts_profiles is None:
            return not as_is
        name = profile.partition("@")[0]
        if as_is:
            return bool({f"{name}-as-is", "as-is"} & set(self.accepts_profiles))
        return bool({profile, name} & set(self.accepts_profiles))


@dataclass(frozen=True, slots=True)
class Outlets:
    """Every offer that can be priced, contracts first, and why the others are not."""

    outlets: tuple[Outlet, ...]
    findings: tuple[Finding, ...]


def outlets_of(terms: Terms, grain: Grain, on: date | None = None) -> Outlets:
    """Turn terms into outlets for a grain.

    Parameters
    ----------
    terms : Terms
    grain : Grain
    on : date, optional
        Offers that have ended by that day are left out; those that begin later are marked. Without it every
        offer stands.

    Returns
    -------
    Outlets
        Findings: ``price-not-evaluated`` for an offer that could not be priced, with its reason;
        ``price-factor-missing`` for a factor that moves the price and is not known; ``price-lab-unknown``
        where the price moves with the number and nothing is stated of the lab that decides.
    """
    outlets: list[Outlet] = []
    findings: list[Finding] = []
    offers: tuple[Contract | Bid, ...] = (*terms.contracts, *terms.bids)
    for offer in offers:
        if not _for(offer, grain) or (on is not None and _ended(offer, on)):
            continue
        try:
            outlet = _outlet(offer, terms, grain, on)
        except NoAnswer as cause:
            values: dict[str, Value] = {"offer": offer.id, "reason": cause.code}
            findings.append(Finding("price-not-evaluated", Where(field=offer.id), Severity.CHECK, values))
            continue
        outlets.append(outlet)
        if outlet.deciding is None and not outlet.decides_here and outlet.curve.money.breaks_s.size:
            told: dict[str, Value] = {"offer": offer.id}
            findings.append(Finding("price-lab-unknown", Where(field=offer.id), Severity.CHECK, told))
        findings += [
            Finding(
                "price-factor-missing", Where(field=offer.id), Severity.NOTE, {"offer": offer.id, "factor": f}
            )
            for f in outlet.missing
        ]
    return Outlets(tuple(outlets), tuple(findings))


def _for(offer: Contract | Bid, grain: Grain) -> bool:
    """Another kind or class than the offer wants does not go there."""
    pairs = ((offer.material, grain.material), (offer.grain_class, grain.grain_class))
    return all(wanted is None or given is None or wanted == given for wanted, given in pairs)


def _ends(offer: Contract | Bid) -> tuple[date | None, date | None]:
    if isinstance(offer, Contract):
        return offer.delivery_from, offer.delivery_to
    return offer.valid_from, offer.valid_to


def _ended(offer: Contract | Bid, on: date) -> bool:
    last = _ends(offer)[1]
    return last is not None and last < on


def _outlet(offer: Contract | Bid, terms: Terms, grain: Grain, on: date | None) -> Outlet:
    buyer, point = terms.buyer(offer.buyer_id), terms.delivery_point(offer.delivery_point_id)
    if buyer is None or point is None:
        raise NoAnswer("price-point-unknown", offer=offer.id)
    schedules = [terms.schedule(s) for s in offer.schedule_ids]
    if None in schedules:
        raise NoAnswer("price-schedule-unread", offer=offer.id)
    used = [s for s in schedules if s is not None and _holds(s.valid_from, s.valid_to, on)]
    if len(used) < len(schedules):
        raise NoAnswer("price-schedule-out-of-date", offer=offer.id)
    haul = haul_of(point, offer.material or grain.material)
    if haul is None:
        raise NoAnswer("price-freight-missing", offer=offer.id)
    fee = fee_of_test(buyer, offer)
    if fee is None:
        raise NoAnswer("price-fee-unit", offer=offer.id)
    there = factors_there(grain.factors, offer.stated, grain.protein_basis_pct)
    made = price_curve(offer, used, there, terms.currency)
    part = paid_part(grain.factors, offer.stated)
    wanting = () if part is not None or "moisture_pct" in made.missing else ("moisture_pct",)
    first = _ends(offer)[0]
    later = on is not None and first is not None and first > on
    lab = None
    if buyer.lab_sd_s is not None:
        lab = DecidingLab(buyer.lab_sd_s, buyer.lab_bias_s or 0.0, buyer.lab_bias_u_s or 0.0)
    starts = [discount_starts(p) for s in used if s.factor == FN for p in s.parts]
    return Outlet(
        offer_id=offer.id,
        buyer_id=buyer.id,
        buyer=buyer.name,
        place=point.name,
        is_contract=isinstance(offer, Contract),
        stands=Stands.LATER if later else Stands.NOW,
        opens_on=first if later else None,
        curve=shrunk(made.curve, 1.0 if part is None else part),
        haul=haul,
        fee=fee,
        deciding=lab,
        decides_here=offer.final is WhoseNumber.ORIGIN,
        limit=_limit(offer.clauses, [s for part in starts for s in part]),
        room_t=_room(offer),
        accepts_profiles=offer.accepts_profiles
        if offer.accepts_profiles is not None
        else buyer.accepts_profiles,
        missing=(*made.missing, *wanting),
        turned_away_by=made.turned_away_by,
        use=buyer.use,
        agreed=Agreed(
            offer.final, offer.sampled_by, offer.appeal_days, offer.retest_rule, offer.test_paid_by
        ),
        paid_part=1.0 if part is None else part,
    )


def _holds(first: date | None, last: date | None, on: date | None) -> bool:
    # A schedule that begins later may belong to a window of delivery that opens later.
    del first
    return on is None or last is None or on <= last


def _room(offer: Contract | Bid) -> float:
    mass: Mass | None = offer.quantity
    if isinstance(offer, Contract):
        mass = offer.balance or offer.quantity
    if mass is None:
        return math.inf
    kg = kg_in(mass.unit, offer.material)
    return math.inf if kg is None else mass.value * kg / 1000.0


def _limit(clauses: tuple[Clause, ...], starts: list[tuple[Side, float]]) -> LimitHere | None:
    """Limits of the clauses, or else the numbers at which the schedules leave the plain price."""
    for c in clauses:
        if c.factor == FN:
            return LimitHere(c.at_least, c.at_most, c.counts_from, c.counts_to, c.judged)
    low = max((x for side, x in starts if side is Side.BELOW), default=None)
    high = min((x for side, x in starts if side is Side.ABOVE), default=None)
    return None if low is None and high is None else LimitHere(low, high, None, None, None)
