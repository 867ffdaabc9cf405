"""The invented day in money: what the demonstration has to show."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from lodestarch.demo.run import demo_order
from lodestarch.plan.advice import Do, Why
from lodestarch.work.bench.day import run_day
from lodestarch.work.office.day_prices_json import day_prices_as_dict


@pytest.fixture(scope="module")
def prices():
    return run_day(demo_order(), records=None, person="t", at=datetime(2024, 8, 21, 18, tzinfo=UTC)).prices


def by_name(prices):
    return {one.price.lot.name: one for one in prices.day.loads}


def test_a_load_is_worth_more_at_the_farther_buyer(prices):
    got = by_name(prices)["8812"]
    best = got.price.best.outlet
    nearer = [r for r in got.price.rows if r.usable and r.outlet.haul.distance_km < best.haul.distance_km]
    assert best.buyer_id == "dunveth"
    assert nearer
    assert all(r.net_per_t < got.price.best.net_per_t for r in nearer)


def test_a_retest_pays_for_one_load_and_not_for_another_near_the_limit(prices):
    pays, not_ = by_name(prices)["8806"].advice, by_name(prices)["8812"].advice
    assert (pays.do, pays.why) == (Do.RETEST, Why.TEST_PAYS)
    assert pays.retest.net > 0.0
    assert not_.do is Do.SELL
    assert not_.retest.net < 0.0


def test_a_window_is_bought_from_below_and_a_load_is_too_high_for_it(prices):
    row = next(r for r in by_name(prices)["8841"].price.rows if r.outlet.buyer_id == "sallowbeck")
    assert row.side == "over"
    assert row.net_per_t < by_name(prices)["8841"].price.best.net_per_t


def test_law_keeps_one_load_from_food_and_one_is_not_comparable(prices):
    law, other = by_name(prices)["8832"].advice, by_name(prices)["8845"].advice
    assert (law.do, law.why, law.row.outlet.buyer_id) == (Do.FEED, Why.LAW, "pellanor")
    assert other.why is Why.NOT_COMPARABLE


def test_held_results_have_no_price(prices):
    assert not {"8809", "8810", "8814", "8839"} & set(by_name(prices))
    assert prices.held == 4


def test_the_day_adds_up(prices):
    body = day_prices_as_dict(prices)
    placed = [one for one in body["loads"] if one["net"] is not None]
    assert body["net"] == pytest.approx(sum(one["net"] for one in placed))
    assert body["at_stake"] == pytest.approx(sum(one["at_stake"] for one in placed))
    assert 0.0 < body["at_stake"] < 0.1 * body["net"]
    assert len(body["loads"]) + body["held"] == 60
    assert body["on"] == "2024-08-21"
