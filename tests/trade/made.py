"""Terms made in a test, invented."""

from __future__ import annotations

from lodestarch.common.provenance import Provenance
from lodestarch.decide.deciding_lab import DecidingLab
from lodestarch.trade.haul import Haul
from lodestarch.trade.money_unit import MoneyUnit
from lodestarch.trade.offer import Contract, Offer, Price, WhoseNumber
from lodestarch.trade.outlets import LimitHere, Outlet, Stands
from lodestarch.trade.price_curve import price_curve
from lodestarch.trade.schedule import Schedule

USD_T = MoneyUnit("USD", False, "t")
INVENTED = Provenance.INVENTED
LAB = DecidingLab(11.0, 0.0, 5.0)


def schedule(*parts, factor="fn_s", unit=USD_T, boundary="better", stated_to=0.0, name="s"):
    return Schedule(name, name, factor, unit, boundary, stated_to, tuple(parts), None, None, INVENTED)


def offer(price=200.0, *, clauses=(), schedules=("s",), combine=None, unit=USD_T, material="wheat", **more):
    fields = {
        "id": "o", "buyer_id": "b", "delivery_point_id": "p", "material": material, "grain_class": None,
        "quantity": None, "price": None if price is None else Price(unit, price), "clauses": tuple(clauses),
        "schedule_ids": tuple(schedules), "combine": combine, "final": WhoseNumber.DESTINATION,
        "sampled_by": None, "appeal_days": None, "retest_rule": None, "test_paid_by": None,
        "accepts_profiles": None, "provenance": INVENTED,
    }  # fmt: skip
    return Offer(**{**fields, **more})


def contract(price=200.0, **more):
    plain = offer(price, **{k: v for k, v in more.items() if k not in CONTRACT_ONLY})
    own = {k: more.get(k) for k in CONTRACT_ONLY}
    return Contract(**{f: getattr(plain, f) for f in Offer.__slots__}, **own)


CONTRACT_ONLY = ("number", "signed_on", "balance", "delivery_from", "delivery_to")


def curve(*parts, price=200.0, factors=None, clauses=(), **more):
    """Price curve of one schedule of seconds."""
    return price_curve(offer(price, clauses=clauses), [schedule(*parts, **more)], factors or {}, "USD").curve


def outlet(made, name="o", *, haul=10.0, per_t_km=None, km=None, fee=0.0, lab=LAB, **more):
    fields = {
        "offer_id": name, "buyer_id": name, "buyer": name.title(), "place": name, "is_contract": True,
        "stands": Stands.NOW, "opens_on": None, "curve": made, "haul": Haul(haul, per_t_km, km), "fee": fee,
        "deciding": lab, "decides_here": False, "limit": LimitHere(300.0, None, None, None, None),
        "room_t": float("inf"), "accepts_profiles": None, "missing": (), "turned_away_by": (),
    }  # fmt: skip
    return Outlet(**{**fields, **more})
