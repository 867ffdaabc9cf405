"""Random plans against solvers that share nothing with ours: Clarabel for cones, SCIP for whole numbers.

A fast part runs always; ``LODESTARCH_PLANS=300`` runs that many of each, the fast part among them.
"""

from __future__ import annotations

import os
from dataclasses import replace

import pytest

from lodestarch.plan.allocate.check_plan import breaches, money_of
from lodestarch.plan.allocate.plan import PlanSettings, plan_for
from lodestarch.plan.programme.outer import Ended
from plan.random_plans import by_clarabel, by_scip, draw_convex, draw_mixed

MANY = int(os.environ.get("LODESTARCH_PLANS", "0"))
CONVEX, MIXED = max(MANY, 60), max(MANY, 16)
GAP = 1e-6


def kept(problem, plan):
    tonnes = {(d.bin_id, d.offer_id): d.tonnes for d in plan.draws}
    assert breaches(problem, tonnes, [(e.bin_id, e.offer_id) for e in plan.excluded]) == []
    assert money_of(problem, tonnes) == pytest.approx(plan.objective, rel=1e-7)


@pytest.mark.parametrize("first", range(0, CONVEX, 20))
def test_plans_without_whole_numbers_meet_clarabel(first):
    feasible = 0
    for seed in range(first, first + 20):
        problem = draw_convex(seed)
        plan, known = plan_for(problem, PlanSettings(gap=GAP)), by_clarabel(problem)
        if known is None:
            assert plan.ended is Ended.INFEASIBLE, seed
            continue
        feasible += 1
        assert plan.ended is Ended.OPTIMAL, seed
        assert plan.objective == pytest.approx(known, rel=GAP), seed
        kept(problem, plan)
    assert feasible >= 5


@pytest.mark.parametrize("first", range(0, MIXED, 4))
def test_plans_with_whole_numbers_meet_scip(first):
    for seed in range(first, first + 4):
        problem = draw_mixed(seed)
        plan, known = plan_for(problem, PlanSettings(gap=GAP, time_s=300.0)), by_scip(problem, time_s=300.0)
        if known is None:
            assert plan.ended is Ended.INFEASIBLE, seed
            continue
        assert plan.ended is Ended.OPTIMAL, seed
        objective, bound = known
        assert plan.objective <= bound * (1 + GAP), seed
        assert plan.objective >= objective * (1 - 2 * GAP), seed
        assert plan.bound >= objective * (1 - GAP), seed
        kept(problem, plan)


@pytest.mark.parametrize("seed", range(6))
def test_more_grain_never_brings_less_and_a_stricter_limit_never_more(seed):
    problem = draw_convex(seed)
    plan = plan_for(problem)
    if not plan.stands:
        return
    more = replace(problem, bins=tuple(replace(b, tonnes=b.tonnes + 10) for b in problem.bins))
    kept_money = sum(10 * b.keep_price_per_t for b in problem.bins)
    assert plan_for(more).objective >= plan.objective + kept_money - 1e-3
    strict = replace(problem, offers=tuple(replace(o, wanted_odds=0.99, least_t=0.0) for o in problem.offers))
    loose = replace(problem, offers=tuple(replace(o, least_t=0.0) for o in problem.offers))
    assert plan_for(strict).objective <= plan_for(loose).objective + 1e-3


@pytest.mark.parametrize("seed", range(6))
def test_the_order_of_bins_does_not_change_what_a_plan_brings(seed):
    problem = draw_mixed(seed)
    plan, turned = plan_for(problem), plan_for(replace(problem, bins=problem.bins[::-1]))
    assert plan.ended is turned.ended
    if plan.stands:
        assert turned.objective == pytest.approx(plan.objective, rel=2 * GAP)
