from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from lodestarch.decide.deciding_lab import DecidingLab
from lodestarch.demo import terms as demo_terms
from lodestarch.method.reading import Kind
from lodestarch.plan.advice import Costs, Do, Why, advise
from lodestarch.plan.priced_loads import LoadToPrice, price_loads
from lodestarch.sheets.terms import read_terms
from lodestarch.trade.law import LawLot
from lodestarch.trade.lot_price import Lot, price_lot
from lodestarch.trade.outlets import Grain

TERMS = read_terms(demo_terms(), "terms.toml").terms
DAY = date(2024, 8, 21)
COSTS = Costs(retest=12.0, storage_per_t_month=1.1)


def load(seconds, tonnes=25.0, u=4.0, kind=Kind.EXACT, profile="meal-14@1", as_is=False, **factors):
    known = {"moisture_pct": 13.0, **factors}
    lot = Lot(
        "1",
        seconds,
        kind,
        u if kind is Kind.EXACT else None,
        tonnes,
        profile,
        as_is,
        LawLot("1", "wheat", known),
    )
    return LoadToPrice(lot, Grain("wheat", None, known))


def day(*loads, terms=TERMS, costs=COSTS):
    return price_loads(terms, loads, costs, on=DAY)


def advice(*args, **more):
    (one,) = day(load(*args, **more)).loads
    return one.advice


def test_sound_wheat_is_sold_to_the_mill():
    got = advice(340.0)
    assert (got.do, got.why, got.row.outlet.buyer_id) == (Do.SELL, Why.BEST_NET, "quillmere")
    assert got.ahead_per_t > 0.0


def test_a_retest_is_advised_where_it_is_worth_more_than_it_costs_and_not_where_it_is_not():
    near = advice(282.0, tonnes=26.6)
    assert (near.do, near.why) == (Do.RETEST, Why.TEST_PAYS)
    assert near.retest.net == pytest.approx(near.retest.worth - 12.0)
    far = advice(325.0)
    assert far.do is Do.SELL
    assert far.retest.net < 0.0
    assert (
        day(load(282.0, tonnes=26.6), costs=Costs()).loads[0].advice.do is Do.SELL
    )  # no cost stated, no advice


def test_the_worth_of_a_retest_grows_with_the_load():
    small, large = (advice(282.0, tonnes=t).retest.worth for t in (10.0, 20.0))
    assert large > small > 0.0


def test_what_no_mill_takes_is_feed():
    got = advice(62.0, kind=Kind.AT_OR_BELOW)
    assert (got.do, got.why) == (Do.FEED, Why.FEED_PAYS_MOST)


def test_law_is_named_where_it_is_why():
    got = advice(320.0, aflatoxin_ug_kg=25.0)
    assert (got.do, got.why, got.row.outlet.buyer_id) == (Do.FEED, Why.LAW, "pellanor")
    near = advice(320.0, aflatoxin_ug_kg=20.0)
    assert near.do is Do.SELL


def test_a_result_that_cannot_be_compared_wants_a_comparable_pair():
    got = advice(300.0, as_is=True)
    assert (got.do, got.why) == (Do.RETEST, Why.NOT_COMPARABLE)


def test_wet_grain_that_nobody_can_place_gets_no_buyer():
    got = advice(62.0, kind=Kind.AT_OR_BELOW, moisture_pct=16.0)
    assert (got.do, got.row) == (Do.NOTHING, None)


def test_keeping_is_a_scenario_from_250_seconds_up_only():
    assert advice(290.0).keeping.rises
    assert advice(290.0).keeping.high_per_t > advice(290.0).keeping.low_per_t
    low = advice(240.0).keeping
    assert not low.rises
    assert low.high_per_t == low.low_per_t


def test_a_later_offer_is_waited_for_only_where_keeping_is_stated_and_pays():
    text = (
        demo_terms()
        .decode()
        .replace(
            "delivery_from = 2024-08-15\ndelivery_to = 2024-11-30",
            "delivery_from = 2024-09-20\ndelivery_to = 2024-11-30",
        )
        .replace("price = 6.66", "price = 7.20")
    )
    later = read_terms(text.encode(), "t").terms
    got = day(load(340.0), terms=later).loads[0].advice
    assert (got.do, got.keeping.until, got.keeping.offer_id) == (Do.STORE, date(2024, 9, 20), "dunveth-24-11")
    assert day(load(340.0), terms=later, costs=Costs(12.0)).loads[0].advice.do is Do.SELL
    dear = day(load(340.0), terms=later, costs=Costs(12.0, 0.0, 40.0)).loads[0].advice
    assert dear.do is Do.SELL


def test_what_would_change_it_is_named():
    got = advice(282.0, tonnes=26.6)
    assert got.higher[0].shift_s > 0.0
    assert got.higher[1].buyer_id == "dunveth"
    assert got.lower[0].shift_s < 0.0


def test_contracts_fill_and_the_next_load_goes_elsewhere():
    full = day(*(load(340.0, tonnes=130.0) for _ in range(5)))
    to = [one.price.best.outlet.offer_id for one in full.loads]
    assert to[:4] == ["quillmere-24-3"] * 4
    assert to[4] == "dunveth-24-11"
    assert full.loads[4].full == ("quillmere-24-3",)
    assert full.room_t["quillmere-24-3"] == pytest.approx(0.0)
    assert full.net == pytest.approx(sum(one.net for one in full.loads))


def test_a_certain_number_has_nothing_at_stake():
    price = price_lot(
        [replace(o.outlet, deciding=DecidingLab(0.0)) for o in day(load(340.0)).loads[0].price.rows],
        replace(load(340.0).lot, u_s=1e-9),
    )
    assert price.at_stake == pytest.approx(0.0)
    assert advise(price, COSTS).retest.worth == pytest.approx(0.0, abs=1e-6)
