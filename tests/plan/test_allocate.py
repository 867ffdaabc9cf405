"""Plans: rules kept, the check that finds broken ones, odds, worth, relaxations, loading sheet."""

from __future__ import annotations

import math
from dataclasses import replace
from statistics import NormalDist

import numpy as np
import pytest

from lodestarch.common.findings import Severity
from lodestarch.method.blend import share_to_reach
from lodestarch.method.reading import Kind
from lodestarch.plan.allocate.answer import allocate
from lodestarch.plan.allocate.check_odds import simulate
from lodestarch.plan.allocate.check_plan import breaches, money_of
from lodestarch.plan.allocate.exclude import exclusions
from lodestarch.plan.allocate.loading import ratio_of
from lodestarch.plan.allocate.plan import PlanSettings, plan_for
from lodestarch.plan.allocate.problem import (
    DecidingLab,
    Excluded,
    FactorValue,
    Pin,
    PlanBin,
    PlanLayer,
    PlanOffer,
    PlanProblem,
    PriceBand,
)
from lodestarch.plan.allocate.relax import relaxations, relaxed
from lodestarch.plan.allocate.scale import ceilings
from lodestarch.plan.programme.outer import Ended
from lodestarch.trade.offer import Clause, Judged

AT_300 = (Clause("fn_s", Judged.COMPOSITE, 300.0, None),)
LAB = DecidingLab(8.0, -2.0, 3.0)
MILL = PlanOffer("mill", 230.0, most_t=500.0, clauses=AT_300, wanted_odds=0.95, lab=LAB)
FEED = PlanOffer("feed", 190.0, is_contract=False)
HIGH = PlanBin("high", 300.0, 360.0, fn_u_s=5.0)
LOW = PlanBin("low", 300.0, 250.0, fn_u_s=5.0)
TWO = PlanProblem((HIGH, LOW), (MILL, FEED), bench_u_s=3.0, law_u_s=2.0)


def tonnes_of(plan):
    return {(d.bin_id, d.offer_id): d.tonnes for d in plan.draws}


def answered(problem, **settings):
    return allocate(problem, np.random.default_rng(1), PlanSettings(**settings), trials=2000)


def with_bin(problem, name, **changes):
    return replace(problem, bins=tuple(replace(b, **changes) if b.id == name else b for b in problem.bins))


def with_offer(problem, name, **changes):
    return replace(
        problem, offers=tuple(replace(o, **changes) if o.id == name else o for o in problem.offers)
    )


def test_without_errors_the_share_is_that_of_the_pocket_calculation():
    plain = PlanProblem(
        (replace(HIGH, tonnes=1000.0), replace(LOW, tonnes=1000.0)),
        (replace(MILL, wanted_odds=None, lab=DecidingLab(), most_t=500.0), replace(FEED, price_per_t=1.0)),
    )
    plain = with_bin(plain, "high", keep_price_per_t=200.0)
    met = tonnes_of(plan_for(plain))
    wanted = share_to_reach(300.0, 360.0, 250.0).share_low
    assert met["low", "mill"] / 500.0 == pytest.approx(wanted, rel=1e-6)


def test_the_limit_holds_with_the_wanted_odds_at_the_other_lab_and_the_simulation_says_so_too():
    got = answered(TWO)
    limit = got.blends[0].limits[0]
    assert limit.binds
    assert limit.odds == pytest.approx(0.95, abs=1e-5)
    # First order against nothing linearised: 2000 trials have a standard error of 0.005.
    assert got.odds.offers[0].passes == pytest.approx(0.95, abs=0.02)
    assert got.blends[0].fn_s == pytest.approx(limit.aim, abs=0.01)
    assert limit.even == pytest.approx(302.0)
    assert got.breaches == ()
    assert got.money_checked == pytest.approx(got.plan.objective, rel=1e-9)


def test_by_hand_the_aim_point_is_the_limit_less_bias_and_quantile_of_all_spreads():
    one = PlanProblem((replace(HIGH, fn_s=322.0),), (MILL,), bench_u_s=3.0, law_u_s=2.0)
    got = answered(one)
    limit = got.blends[0].limits[0]
    slope, goal = 6000.0 / 252.0**2, 6000.0 / 252.0
    own = 6000.0 / 272.0**2
    spread = math.hypot(own * 5.0, own * 3.0, slope * 8.0, slope * 3.0, slope * 2.0)
    ln = goal - NormalDist().inv_cdf(0.95) * spread
    assert limit.aim == pytest.approx(6000.0 / ln + 50.0, abs=1e-3)


@pytest.mark.parametrize(
    ("change", "what"),
    [
        ({("high", "mill"): 400.0}, "over-drawn"),
        ({("low", "mill"): 290.0}, "limit"),
        ({("high", "mill"): 300.0, ("low", "mill"): 250.0}, "over-contract"),
        ({("low", "feed"): -5.0}, "negative"),
    ],
)
def test_the_check_finds_plans_that_break_rules(change, what):
    tonnes = tonnes_of(plan_for(TWO))
    assert breaches(TWO, tonnes, []) == []
    assert what in {b.what for b in breaches(TWO, tonnes | change, [])}


def test_the_check_finds_rules_of_whole_numbers_broken():
    rules = with_bin(with_bin(TWO, "high", whole=True), "low", least_draw_t=20.0, gate_step_t=5.0)
    rules = replace(with_offer(rules, "mill", least_t=100.0, most_bins=1), pins=(Pin("low", "feed", 50.0),))
    bad = {("high", "mill"): 60.0, ("low", "mill"): 11.0, ("low", "feed"): 40.0}
    found = {b.what for b in breaches(rules, bad, [("low", "mill")])}
    assert found >= {"whole", "least-draw", "gate-step", "under-contract", "bins", "pin", "barred"}
    assert "bins-used" in {
        b.what for b in breaches(replace(TWO, most_bins_used=1), tonnes_of(plan_for(TWO)), [])
    }


def test_a_plan_keeps_every_rule_it_is_given():
    rules = replace(
        with_offer(
            with_bin(
                with_bin(TWO, "low", least_draw_t=30.0, gate_step_t=7.0, gate_error_t=2.0, reserve_t=40.0),
                "high", gate_step_t=5.0,
            ),
            "mill", least_t=200.0, most_bins=2,
        ),
        bins=(
            *with_bin(TWO, "low", least_draw_t=30.0, gate_step_t=7.0, gate_error_t=2.0, reserve_t=40.0).bins,
            PlanBin("whole", 120.0, 320.0, fn_u_s=4.0, whole=True),
        ),
        pins=(Pin("low", "feed", 33.0),),
    )  # fmt: skip
    plan = plan_for(rules)
    tonnes = tonnes_of(plan)
    assert plan.ended is Ended.OPTIMAL
    assert breaches(rules, tonnes, []) == []
    assert tonnes["low", "feed"] == pytest.approx(33.0)
    whole = sum(t for (b, _), t in tonnes.items() if b == "whole")
    assert min(abs(whole), abs(whole - 120.0)) < 1e-6


def test_unmixed_layers_and_gate_error_cost_money_and_turning_brings_it_back():
    layers = (PlanLayer(150.0, 390.0, 5.0), PlanLayer(150.0, 335.0, 5.0))
    layered = with_bin(TWO, "high", fn_s=None, fn_u_s=None, layers=layers, turned=False)
    turned = with_bin(layered, "high", turned=True)
    gates = with_bin(turned, "low", gate_error_t=10.0)
    money = [plan_for(p).objective for p in (turned, layered, gates)]
    assert money[1] < money[0] - 1.0
    assert money[2] < money[0] - 1.0
    # The draws are single layers in the simulation: the odds of the layered plan still hold.
    plan = plan_for(layered)
    odds = simulate(layered, tonnes_of(plan), np.random.default_rng(3), 4000)
    assert odds.offers[0].passes >= 0.93


def test_every_sublot_needs_more_than_the_composite():
    composite = ceilings(MILL, TWO, 500.0)[0]
    each = replace(MILL, clauses=(Clause("fn_s", Judged.EVERY_SUBLOT, 300.0, None, sublot_t=50.0),))
    assert ceilings(each, TWO, 500.0)[0].z == pytest.approx(NormalDist().inv_cdf(1 - 0.05 / 10))
    assert composite.z == pytest.approx(NormalDist().inv_cdf(0.95))


def test_bands_pay_for_what_the_blend_makes_and_a_hole_turns_it_away():
    bands = (
        PriceBand("fn_s", 320.0, None, 5.0),
        PriceBand("fn_s", 300.0, 320.0, 0.0),
        PriceBand("fn_s", None, 300.0, None),
    )
    offer = replace(MILL, clauses=(), bands=bands, wanted_odds=None, lab=DecidingLab())
    plain = PlanProblem((replace(HIGH, fn_s=330.0),), (offer,))
    assert plan_for(plain).price_per_t == {"mill": 235.0}
    assert plan_for(with_bin(plain, "high", fn_s=319.9)).price_per_t == {"mill": 230.0}
    assert plan_for(with_bin(plain, "high", fn_s=299.0)).draws == ()


def test_what_law_and_state_of_knowledge_exclude_is_left_out_and_named():
    bins = (
        HIGH,
        PlanBin("rye", 50.0, 300.0, material="rye"),
        PlanBin("floor", 50.0, 62.0, fn_says=Kind.AT_OR_BELOW),
        PlanBin("new", 50.0),
        PlanBin("bare", 50.0, 320.0),
        PlanBin("hot", 50.0, 320.0, factors={"don_mg_kg": FactorValue(3.0)}),
    )
    don = Clause("don_mg_kg", Judged.COMPOSITE, None, 1.0)
    mill = replace(MILL, material="wheat", clauses=(*AT_300, don))
    law = Excluded("hot", "mill", "law", "a rule against mixing")
    problem = PlanProblem(
        tuple(
            replace(b, factors={"don_mg_kg": FactorValue(0.2)}) if b.id in {"high", "rye"} else b
            for b in bins
        ),
        (mill, FEED),
        excluded=(law,),
    )
    rules = {(e.bin_id, e.offer_id): e.rule for e in exclusions(problem)}
    assert rules == {
        ("hot", "mill"): "law", ("rye", "mill"): "other-material", ("floor", "mill"): "at-floor",
        ("new", "mill"): "not-tested", ("bare", "mill"): "not-measured",
    }  # fmt: skip
    got = answered(problem)
    assert {d.bin_id for d in got.plan.draws if d.offer_id == "mill"} == {"high"}
    assert "plan-excluded-by-law" in {f.code for f in got.findings}


def test_worth_is_the_difference_that_the_change_makes():
    got = answered(TWO)
    worth = {w.id: w.money for w in got.tonne_more}
    more = plan_for(with_bin(TWO, "low", tonnes=301.0)).objective - got.plan.objective
    assert worth["low"] == pytest.approx(more, abs=1e-4)
    assert got.second[0].money > 0.0
    assert got.fewer.objective < got.plan.objective
    assert len({d.bin_id for d in got.fewer.draws}) == 1


def test_the_rule_of_thumb_is_beaten_and_its_own_plan_is_looked_at():
    got = answered(TWO)
    assert got.thumb.ahead > 0.0
    assert got.thumb.ahead == pytest.approx(got.plan.objective - got.thumb.money)
    assert money_of(TWO, got.thumb.tonnes) == pytest.approx(got.thumb.money)
    owed = with_offer(TWO, "mill", least_t=400.0)
    assert {b.what for b in answered(owed).thumb.breaches} == {"under-contract"}


def feasible(problem):
    return plan_for(problem).ended is Ended.OPTIMAL


@pytest.mark.parametrize(
    "problem",
    [
        with_offer(TWO, "mill", least_t=500.0, most_t=500.0, wanted_odds=0.95),
        replace(TWO, pins=(Pin("low", "mill", 250.0),)),
        with_offer(with_bin(TWO, "low", fn_s=285.0), "mill", least_t=500.0, wanted_odds=0.99),
    ],
)
def test_each_relaxation_makes_it_feasible_and_one_step_less_does_not(problem):
    assert plan_for(problem).ended is Ended.INFEASIBLE
    found = relaxations(problem)
    assert found
    for one in found:
        assert one.alone
        assert feasible(relaxed(problem, one)), one
        assert not feasible(relaxed(problem, one, one.steps - 1)), one
    assert [r.share for r in found] == sorted(r.share for r in found)


def test_contracts_that_only_give_way_together_are_named_together():
    other = replace(MILL, id="other", least_t=400.0, most_t=400.0, price_per_t=225.0)
    problem = replace(
        with_offer(TWO, "mill", least_t=400.0, most_t=400.0, wanted_odds=None, clauses=()),
        offers=(
            replace(MILL, least_t=700.0, most_t=None, clauses=()),
            replace(other, least_t=700.0, most_t=None),
        ),
    )
    found = relaxations(problem)
    assert {r.alone for r in found} == {False}
    every = problem
    for one in found:
        every = relaxed(every, one)
    assert feasible(every)
    for one in found:
        less = problem
        for r in found:
            less = relaxed(less, r, r.steps - (r is one))
        assert not feasible(less)


def test_a_time_limit_gives_the_best_plan_with_its_gap():
    rng = np.random.default_rng(5)
    bins = tuple(
        PlanBin(f"b{i}", float(rng.integers(80, 400)), float(rng.uniform(230, 380)), fn_u_s=6.0,
                least_draw_t=15.0, gate_step_t=3.0, keep_price_per_t=float(rng.uniform(150, 190)))
        for i in range(16)
    )  # fmt: skip
    offers = tuple(
        replace(MILL, id=f"o{k}", price_per_t=float(rng.uniform(190, 240)), most_t=500.0, most_bins=4)
        for k in range(6)
    )
    got = allocate(
        PlanProblem(bins, offers), np.random.default_rng(0), PlanSettings(1e-9, 0.4), trials=500, beside=False
    )
    assert got.plan.ended in {Ended.FEASIBLE, Ended.NOTHING}
    codes = {f.code: f for f in got.findings}
    if got.plan.ended is Ended.FEASIBLE:
        assert got.plan.bound >= got.plan.objective
        assert codes["plan-gap-open"].values["gap_pct"] == pytest.approx(100 * got.plan.gap)
        assert got.breaches == ()
    else:
        assert codes["plan-nothing-in-time"].severity is Severity.STOP


def test_the_loading_sheet_adds_up_and_its_ratio_keeps_the_aim():
    got = answered(TWO)
    sheet = got.sheets[0]
    assert sheet.lines[0].from_t == 0.0
    assert sheet.lines[-1].to_t == pytest.approx(sheet.tonnes)
    assert sum(v.share for v in sheet.lines) == pytest.approx(1.0)
    parts = [v.parts for v in sheet.lines]
    fn = {"high": 360.0, "low": 250.0}
    ln = sum(v.parts * 6000.0 / (fn[v.bin_id] - 50.0) for v in sheet.lines) / sum(parts)
    assert sheet.ratio_fn_s == pytest.approx(6000.0 / ln + 50.0, abs=1e-6)
    assert sheet.ratio_keeps
    assert sheet.ratio_fn_s >= sheet.aim_s - 0.05
    assert sheet.stop_s == pytest.approx(302.0)


def test_ratios_of_round_shares_are_those_shares():
    assert ratio_of([0.5, 0.3, 0.2]) == (5, 3, 2)


def test_findings_name_what_is_not_stated():
    bare = PlanProblem((PlanBin("a", 100.0, 320.0),), (PlanOffer("m", 200.0, clauses=AT_300),))
    codes = {f.code for f in answered(bare).findings}
    assert codes >= {
        "plan-odds-not-stated",
        "plan-lab-not-stated",
        "plan-u-not-stated",
        "plan-law-margin-none",
    }
