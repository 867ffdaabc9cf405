"""Contracts and bids of a terms file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from typing import Any, Literal

from lodestarch.sheets.terms_entry import Entry, Known, Reporter
from lodestarch.sheets.terms_keys import BID, CLAUSE, CONTRACT
from lodestarch.trade.factors import FACTORS
from lodestarch.trade.money_unit import POUNDS_PER_BUSHEL
from lodestarch.trade.offer import (
    Bid,
    Clause,
    Contract,
    Judged,
    Mass,
    Offer,
    Price,
    RetestRule,
    Sampler,
    StatedAs,
    WhoseNumber,
)
from lodestarch.trade.schedule import Action, Cliff, Schedule, Window

__all__ = ["read_bid", "read_contract"]

Schedules = Mapping[str, Schedule]


def read_contract(
    raw: dict[str, object], label: str, report: Reporter, known: Known, schedules: Schedules
) -> Contract | None:
    """Return a contract, or ``None`` with findings that say what in it could not be read.

    Parameters
    ----------
    raw : dict
        One ``[[contract]]``.
    label : str
        Its id, or its number in the file where it has none.
    report : Reporter
    known : Known
        Ids of the other tables.
    schedules : mapping of str to Schedule
        Those that were taken.
    """
    entry = Entry(report, "contract", label).read(raw, CONTRACT)
    entry.period("delivery_from", "delivery_to")
    balance = _mass(entry, "balance")
    offer = _offer(entry, known, schedules)
    if offer is None:
        return None
    if balance and offer.quantity and balance.unit == offer.quantity.unit:
        total = offer.quantity.value
        if balance.value > total:
            entry.note("terms-balance-above", balance=balance.value, quantity=total, unit=balance.unit)
    return Contract(
        **_common(offer),
        number=entry.text("number"),
        signed_on=entry.day("signed_on"),
        balance=balance,
        delivery_from=entry.day("delivery_from"),
        delivery_to=entry.day("delivery_to"),
    )


def read_bid(
    raw: dict[str, object], label: str, report: Reporter, known: Known, schedules: Schedules
) -> Bid | None:
    """Return a bid, or ``None`` with findings that say what in it could not be read."""
    entry = Entry(report, "bid", label).read(raw, BID)
    entry.period("valid_from", "valid_to")
    offer = _offer(entry, known, schedules)
    if offer is None:
        return None
    return Bid(**_common(offer), valid_from=entry.day("valid_from"), valid_to=entry.day("valid_to"))


def _common(offer: Offer) -> dict[str, Any]:
    return {f.name: getattr(offer, f.name) for f in fields(Offer)}


def _offer(entry: Entry, known: Known, schedules: Schedules) -> Offer | None:
    """What contracts and bids have in common."""
    entry.refer("buyer", "buyer", known)
    entry.refer("delivery_point", "delivery_point", known)
    buyer, point = entry.text("buyer"), entry.text("delivery_point")
    owner = known.owners.get(point or "")
    if buyer in known.taken["buyer"] and owner is not None and owner != buyer:
        entry.refuse("terms-point-of-other", "delivery_point", value=str(point), owner=owner)
    quantity = _mass(entry, "quantity")
    names = _schedules(entry, known, schedules)
    used = [schedules[n] for n in names if n in schedules]
    price = _price(entry, used)
    clauses = [_clause(c, entry, i) for i, c in enumerate(entry.tables("clause"), 1)]
    _bushel(entry, price, quantity, used)
    if len(names) > 1:
        entry.needs("combine")
    if entry.number("shrink_handling_pct") is not None:
        entry.needs("shrink_to_pct")
    if not entry.sound or buyer is None or point is None:
        return None
    if price is None:
        entry.note("terms-price-missing")
    if not clauses:
        entry.note("terms-clause-missing")
    days = entry.number("appeal_days")
    final, sampler, rule = (entry.text(k) for k in ("final", "sampled_by", "retest_rule"))
    return Offer(
        id=entry.id,
        buyer_id=buyer,
        delivery_point_id=point,
        material=entry.text("material"),
        grain_class=entry.text("class"),
        quantity=quantity,
        price=price,
        clauses=tuple(c for c in clauses if c is not None),
        schedule_ids=names,
        combine=_combine(entry.text("combine")),
        final=None if final is None else WhoseNumber(final),
        sampled_by=None if sampler is None else Sampler(sampler),
        appeal_days=None if days is None else int(days),
        retest_rule=None if rule is None else RetestRule(rule),
        test_paid_by=entry.text("test_paid_by"),
        accepts_profiles=entry.texts("accepts_profiles"),
        provenance=entry.provenance(),
        stated=StatedAs(
            entry.number("protein_basis_pct"),
            entry.text("test_weight_by"),
            entry.number("shrink_to_pct"),
            entry.number("shrink_handling_pct") or 0.0,
        ),
    )


def _combine(text: str | None) -> Literal["additive", "worst-only"] | None:
    if text is None:
        return None
    return "additive" if text == "additive" else "worst-only"


def _mass(entry: Entry, what: str) -> Mass | None:
    key = entry.one_of(f"{what}_t", f"{what}_bu", required=False)
    value = None if key is None else entry.number(key)
    if key is None or value is None:
        return None
    return Mass(value, "bu" if key.endswith("_bu") else "t")


def _schedules(entry: Entry, known: Known, schedules: Schedules) -> tuple[str, ...]:
    names = entry.texts("schedules") or ()
    for name in names:
        if name not in known.stated["schedule"]:
            entry.refuse("terms-id-unknown", "schedules", value=name, wanted="schedule")
        elif name not in schedules:
            entry.note("terms-schedule-unread", "schedules", value=name)
    return names


def _price(entry: Entry, schedules: list[Schedule]) -> Price | None:
    entry.one_of("price", "basis", required=False)
    flat, basis, futures = (entry.number(k) for k in ("price", "basis", "futures_price"))
    if futures is not None:
        entry.needs("basis")
    ends = [p for s in schedules for p in s.parts if isinstance(p, (Cliff, Window))]
    if not (flat is None and basis is None) or any(p.action is Action.PRICE for p in ends):
        entry.needs("price_unit")
    unit = entry.money("price_unit")
    if unit is None or (flat is None and basis is None):
        return None
    if basis is not None and futures is None and entry.sound:
        entry.note("terms-futures-missing", "basis")
    month, day = entry.text("futures_month"), entry.day("futures_on")
    return Price(unit, flat, basis, futures, month, day)


def _bushel(entry: Entry, price: Price | None, quantity: Mass | None, schedules: list[Schedule]) -> None:
    """A bushel is a mass only for materials that have a legal weight."""
    by_bushel = (
        (price is not None and price.unit.per == "bu")
        or (quantity is not None and quantity.unit == "bu")
        or "balance_bu" in entry.values
        or any(s.unit is not None and s.unit.per == "bu" for s in schedules)
    )
    if not by_bushel:
        return
    entry.needs("material")
    material = entry.text("material")
    if material is not None and material not in POUNDS_PER_BUSHEL:
        entry.refuse("terms-bushel-unknown", "material", value=material, choices=", ".join(POUNDS_PER_BUSHEL))


def _clause(raw: dict[str, object], offer: Entry, number: int) -> Clause | None:
    entry = Entry(offer.report, offer.table, offer.id, f"clause[{number}].").read(raw, CLAUSE)
    factor = FACTORS.get(entry.text("factor") or "")
    low, high = entry.number("at_least"), entry.number("at_most")
    if factor is not None:
        entry.within(factor, ("at_least", "at_most", "sublot_at_least", "counts_from", "counts_to"))
    if entry.sound and low is None and high is None:
        entry.refuse("terms-one-of", "at_least / at_most", count=0)
    if low is not None and high is not None and low >= high:
        entry.refuse("terms-window-reversed", "at_most", low=low, high=high)
    judged = entry.text("judged")
    if judged == Judged.AVERAGE_WITH_SUBLOT_MINIMUM:
        entry.needs("sublot_at_least")
    for limit, counts in (("at_least", "counts_from"), ("at_most", "counts_to")):
        if counts in entry.values:
            entry.needs(limit)
    least = entry.number("sublot_at_least")
    if least is not None and low is not None and least > low:
        entry.note("terms-sublot-above", "sublot_at_least", sublot=least, limit=low)
    offer.sound &= entry.sound
    if factor is None or judged is None or not entry.sound:
        return None
    return Clause(
        factor=factor.key,
        judged=Judged(judged),
        at_least=low,
        at_most=high,
        sublot_at_least=least,
        counts_from=entry.number("counts_from"),
        counts_to=entry.number("counts_to"),
        sublot_t=entry.number("sublot_t"),
        wording=entry.text("wording"),
    )
