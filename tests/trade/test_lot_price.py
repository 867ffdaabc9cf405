from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from lodestarch.decide.deciding_lab import DecidingLab
from lodestarch.method.reading import Kind
from lodestarch.trade.law import LawLot
from lodestarch.trade.likely_function import USES, Level, likely_function
from lodestarch.trade.lot_price import Lot, price_lot
from lodestarch.trade.neutrality import paper_rules
from lodestarch.trade.outlets import LimitHere, Stands
from lodestarch.trade.price_points import like_reports
from lodestarch.trade.schedule import Action, Cliff, Side, Steps
from trade.made import curve, outlet

B, A = Side.BELOW, Side.ABOVE
STEPS = curve(Steps(300, B, 25, 9, end=250), Cliff(250, B, Action.REJECT))
MILL = outlet(STEPS, "mill", accepts_profiles=("meal-14",), use="cake")
FEED = outlet(
    curve(Cliff(60, B, Action.DISCOUNT, 1.0), price=150.0),
    "feed",
    haul=4.0,
    limit=None,
    is_contract=False,
    use="feed",
)
PLACES = (MILL, FEED)


def lot(seconds=310.0, kind=Kind.EXACT, u=5.0, **more):
    return Lot("8814", seconds, kind, u if kind is Kind.EXACT else None, 25.0, **more)


def test_the_best_stands_first_and_the_rest_by_net():
    got = price_lot(PLACES, lot())
    assert [r.outlet.offer_id for r in got.rows] == ["mill", "feed"]
    assert got.best.outlet is MILL
    assert got.best.break_even.ahead_per_t == pytest.approx(got.rows[0].net_per_t - got.rows[1].net_per_t)
    assert got.at_stake == pytest.approx(9.0 * 25.0)


def test_a_result_under_another_profile_is_not_comparable_and_has_no_price():
    got = price_lot(PLACES, lot(profile="meal-15@1"))
    mill = next(r for r in got.rows if r.outlet.offer_id == "mill")
    assert (mill.comparable, mill.net_per_t, mill.p_makes_it, mill.usable) == (False, None, None, False)
    assert price_lot(PLACES, lot(profile="meal-14@3")).best.outlet.offer_id == "mill"


def test_a_portion_weighed_as_is_counts_only_where_it_is_accepted_by_name():
    assert not price_lot([MILL], lot(profile="meal-14@1", as_is=True)).rows[0].comparable
    takes = replace(MILL, accepts_profiles=("meal-14", "meal-14-as-is"))
    assert price_lot([takes], lot(profile="meal-14@1", as_is=True)).rows[0].comparable
    blind = outlet(STEPS, accepts_profiles=None)
    assert not price_lot([blind], lot(profile="meal-14@1", as_is=True)).rows[0].comparable


def test_law_bars_before_price_and_a_near_miss_does_not():
    over = LawLot("8814", "wheat", {"aflatoxin_ug_kg": 20.5})
    got = price_lot(PLACES, lot(law=over), jurisdiction="US", on=date(2024, 8, 21))
    assert got.best.outlet is FEED
    mill = next(r for r in got.rows if r.outlet is MILL)
    assert [v.rule.id for v in mill.barred_by] == ["us-aflatoxin"]
    assert mill.net_per_t > got.best.net_per_t  # it pays more, and still is not the answer
    under = LawLot("8814", "wheat", {"aflatoxin_ug_kg": 19.5})
    assert price_lot(PLACES, lot(law=under), jurisdiction="US").best.outlet is MILL


def test_at_the_floor_every_price_is_that_of_the_floor():
    got = price_lot(PLACES, lot(62.0, Kind.AT_OR_BELOW))
    mill = next(r for r in got.rows if r.outlet.offer_id == "mill")
    assert (mill.p_makes_it, mill.p_turned_away) == (0.0, 1.0)
    assert got.best.outlet.offer_id == "feed"


def test_a_tube_stopped_below_the_limit_is_not_evaluated_and_one_above_it_makes_it():
    low, high = (price_lot([MILL], lot(s, Kind.ABOVE), turned_away_per_t=0.0) for s in (280.0, 400.0))
    assert (low.rows[0].p_makes_it, low.bound_only) == (None, True)
    assert (high.rows[0].p_makes_it, high.bound_only) == (1.0, False)


def test_too_high_for_a_window():
    window = outlet(
        curve(Cliff(290, A, Action.DISCOUNT, 15.0)), "window", limit=LimitHere(220.0, 290.0, None, None, None)
    )
    got = price_lot([window], lot(296.0)).rows[0]
    assert got.side == "over"
    assert got.p_makes_it < 0.4
    assert price_lot([window], lot(290.0)).rows[0].side == "within"


def test_contracts_come_before_bids():
    bid = outlet(curve(price=205.0), "bid", is_contract=False, limit=None)
    assert price_lot([MILL, bid], lot(330.0)).best.outlet is MILL  # it is met, though the bid pays more
    assert price_lot([MILL, bid], lot(280.0)).best.outlet is bid  # it is not


def test_an_offer_that_opens_later_is_shown_and_not_the_place_to_sell_now():
    later = outlet(curve(price=260.0), "later", stands=Stands.LATER, opens_on=date(2024, 9, 1))
    got = price_lot([*PLACES, later], lot())
    assert got.best.outlet is MILL
    assert got.best_later.outlet is later
    assert price_lot(PLACES, lot()).best_later is None


def test_without_an_uncertainty_the_odds_are_not_evaluated():
    assert price_lot([MILL], lot(u=None), turned_away_per_t=0.0).rows[0].p_makes_it is None


def test_fifty_reports_have_the_mean_and_spread_of_the_law():
    dots = like_reports(310.0, 15.0)
    assert len(dots) == 50
    assert sum(dots) / 50 == pytest.approx(310.0)
    assert sum(d < 300.0 for d in dots) == round(50 * 0.2525)
    assert like_reports(310.0, 0.0) == (310.0,) * 50


def test_statements_on_use_carry_a_source_and_what_the_number_cannot_tell():
    for use in USES:
        for level in Level:
            said = likely_function(use, level)
            assert said
            if use == "malting-barley":
                assert [s.code for s in said] == ["malting-no-verdict"]
            else:
                assert said[-1].code == "cause-unknown"
                assert all(s.source for s in said if not s.code.startswith("nothing"))


def test_a_neutral_paper_says_nothing_of_price_unless_the_customer_asked():
    plain = paper_rules(asked_by_customer=False, certificate=False)
    assert not any((plain.prices, plain.advice, plain.buyers, plain.retest_worth))
    asked = paper_rules(asked_by_customer=True, certificate=False)
    assert (asked.prices, asked.advice, asked.marked_as_opinion, asked.retest_worth) == (
        True,
        True,
        True,
        False,
    )
    assert paper_rules(asked_by_customer=True, certificate=False, both_sides=True).retest_worth
    assert not paper_rules(asked_by_customer=True, certificate=True).prices


def test_a_lab_that_is_not_known_is_taken_with_our_uncertainty_alone():
    blind = outlet(STEPS, lab=None)
    sharp = outlet(STEPS, lab=DecidingLab(0.0))
    a, b = (price_lot([o], lot(), turned_away_per_t=0.0).rows[0].net_per_t for o in (blind, sharp))
    assert a == pytest.approx(b)
