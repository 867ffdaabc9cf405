"""Contracts of a terms file in a plan: schedules become bands that never promise more than is paid."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from lodestarch import demo
from lodestarch.plan.allocate.cells import cells_of
from lodestarch.plan.allocate.check_odds import simulate
from lodestarch.plan.allocate.check_plan import breaches, money_of
from lodestarch.plan.allocate.from_terms import offers_of_terms, with_terms
from lodestarch.plan.allocate.own_blends import OwnBlends, with_own_blends
from lodestarch.plan.allocate.plan import plan_for
from lodestarch.plan.allocate.problem import FactorValue, PlanBin, PlanOffer, PlanProblem, PriceBand
from lodestarch.sheets.terms import read_terms
from lodestarch.trade.price_curve import price_curve

TERMS = read_terms(demo.terms(), demo.TERMS_NAME).terms
RANGES = {"fn_s": (200.0, 420.0)}
MILL = b"""
terms = 1
currency = "USD"
[[buyer]]
id = "m"
name = "Mill (invented)"
lab_sd_s = 10
lab_bias_s = 0
[[delivery_point]]
id = "p"
buyer = "m"
name = "Gate (invented)"
freight = 0
freight_unit = "USD/t"
"""


def a_contract(more):
    head = MILL + b'[[contract]]\nid = "c"\nbuyer = "m"\ndelivery_point = "p"\nmaterial = "wheat"\n'
    read = read_terms(head + more, "t.toml")
    assert read.terms.contracts, read.findings
    return read.terms


@pytest.mark.parametrize("offer", [*TERMS.contracts, *TERMS.bids], ids=lambda o: o.id)
def test_a_band_never_promises_more_than_the_price_curve_pays(offer):
    taken = offers_of_terms(TERMS, None, RANGES, 0.9)
    mine = next(o for o in taken.offers if o.id == offer.id)
    curve = price_curve(
        offer, [TERMS.schedule(s) for s in offer.schedule_ids], {"moisture_pct": 12.0}, "USD"
    ).curve
    off = (
        curve.money.at(400.0)
        - mine.price_per_t
        - next((b.change_per_t for b in mine.bands if b.high is None and b.change_per_t is not None), 0.0)
    )
    for at in np.arange(220.3, 400.0, 1.7):
        band = next((b for b in mine.bands if (b.low or 0) <= at < (b.high or 999)), None)
        if band is None:
            continue
        paid = not curve.standing_at(at)
        assert (band.change_per_t is not None) is bool(paid)
        if paid:
            promised = mine.price_per_t + band.change_per_t + off
            assert promised <= float(curve.money.at(at)) + 1e-9
            # A tenth of the slope at most is given away.
            assert promised >= float(curve.money.at(at)) - 1.6


def test_a_contract_without_a_price_stops_and_a_bid_without_one_is_left_out():
    no_price = a_contract(b"quantity_t = 100\n")
    told = offers_of_terms(no_price, None, RANGES)
    assert not told.offers
    assert [(f.code, f.severity.name) for f in told.findings] == [
        ("price-missing", "STOP"), ("plan-terms-left-out", "STOP"),
    ]  # fmt: skip


def test_what_stands_on_the_day_is_taken():
    on = {o.id for o in offers_of_terms(TERMS, TERMS.as_of, RANGES).offers}
    assert {c.id for c in TERMS.contracts if c.stands_on(TERMS.as_of)} <= on
    later = TERMS.as_of.replace(year=TERMS.as_of.year + 5)
    assert offers_of_terms(TERMS, later, RANGES).offers == ()


def test_terms_join_a_problem_of_bins():
    bins = tuple(
        PlanBin(f"b{i}", 900.0, fn, fn_u_s=5.0, material="wheat", factors={"moisture_pct": FactorValue(12.5)})
        for i, fn in enumerate((270.0, 330.0, 380.0))
    )
    problem, told = with_terms(PlanProblem(bins, (), currency="USD"), TERMS, TERMS.as_of, 0.9)
    assert problem.jurisdiction == TERMS.jurisdiction
    assert {f.code for f in told} <= {"plan-terms-slope", "plan-terms-haul"}
    plan = plan_for(problem)
    assert plan.stands
    tonnes = {(d.bin_id, d.offer_id): d.tonnes for d in plan.draws}
    assert breaches(problem, tonnes, [(e.bin_id, e.offer_id) for e in plan.excluded]) == []
    assert money_of(problem, tonnes) == pytest.approx(plan.objective, rel=1e-7)
    _, refused = with_terms(PlanProblem(bins, (), currency="EUR"), TERMS, None)
    assert [f.code for f in refused] == ["plan-terms-currency"]


def banded(*, worst_only):
    bands = (
        PriceBand("fn_s", 300.0, None, 0.0), PriceBand("fn_s", None, 300.0, -10.0),
        PriceBand("protein_pct", None, 11.0, 0.0), PriceBand("protein_pct", 11.0, None, -6.0),
    )  # fmt: skip
    one = PlanBin("b", 100.0, 250.0, factors={"protein_pct": FactorValue(12.0)})
    return PlanProblem((one,), (PlanOffer("o", 200.0, bands=bands, worst_only=worst_only),))


@pytest.mark.parametrize(("worst_only", "paid"), [(False, 184.0), (True, 190.0)])
def test_bands_add_up_or_only_the_worst_counts(worst_only, paid):
    problem = banded(worst_only=worst_only)
    plan = plan_for(problem)
    assert plan.objective == pytest.approx(100.0 * paid)
    assert money_of(problem, {("b", "o"): 100.0}) == pytest.approx(100.0 * paid)
    odds = simulate(problem, {("b", "o"): 100.0}, np.random.default_rng(0), 50)
    assert odds.money == pytest.approx(100.0 * paid)
    assert max(c.price_per_t for c in cells_of(problem.offers[0], problem, 100.0)) == 200.0


def test_own_blends_move_the_aim_by_spread_and_bias():
    offers = (replace(banded(worst_only=False).offers[0], wanted_odds=0.9),)
    problem = replace(banded(worst_only=False), offers=offers)
    exact = cells_of(problem.offers[0], problem, 100.0)[0].ceilings[0]
    taught, told = with_own_blends(problem, OwnBlends(12, 8.0, -6.0, 0.01))
    moved = cells_of(taught.offers[0], taught, 100.0)[0].ceilings[0]
    assert told[0].code == "plan-blends-used"
    assert moved.lab > exact.lab
    assert moved.limit == pytest.approx(6000.0 / 256.0)  # 300 s plus the 6 s by which blends come out low
    chance, _ = with_own_blends(problem, OwnBlends(12, 8.0, -2.0, 0.4))
    assert chance.law_bias_s == 0.0
    few, said = with_own_blends(problem, OwnBlends(4, None, None, None))
    assert few is problem
    assert said[0].code == "plan-blends-not-enough"
